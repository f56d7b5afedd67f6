"""How dates and times are written where it differs from the language's own way, by language."""
