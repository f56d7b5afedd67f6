"""The strings of the code and templates, against the French catalogue. Neither GNU gettext nor a network is needed.

`python -m tests.translations` brings the catalogue up to date: new strings come in untranslated, strings that the code
no longer has go out, and the compiled file is written anew. Then translate what is empty and run it again.
"""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parent.parent
FRENCH = ROOT / "templates" / "locale" / "fr" / "LC_MESSAGES" / "django.po"
COMPILED = FRENCH.with_suffix(".mo")
# Function -> which of its arguments are the string, the string for more than one, and the context.
SPOKEN: dict[str, tuple[int, int | None, int | None]] = {
    **dict.fromkeys(("_", "_lazy", "_plain", "gettext", "gettext_lazy", "gettext_noop"), (0, None, None)),
    **dict.fromkeys(("ngettext", "ngettext_lazy", "say_many"), (0, 1, None)),
    **dict.fromkeys(("say", "mark"), (0, None, None)),
    **dict.fromkeys(("pgettext", "pgettext_lazy"), (1, None, 0)),
    "npgettext": (1, 2, 0),
}
PLACEHOLDER = re.compile(r"%\((\w+)\)[#0\- +]*\d*(?:\.\d+)?[a-zA-Z]|%%")


class Message(NamedTuple):
    """One string to translate."""

    text: str
    many: str | None = None
    context: str | None = None

    @property
    def key(self) -> str | tuple[str, str]:
        """As the catalogue names it."""
        return (self.text, self.many) if self.many else self.text


def messages() -> dict[Message, list[str]]:
    """Every string to translate, with the files that hold it."""
    found: dict[Message, list[str]] = {}
    for path, source in sources():
        where = str(path.relative_to(ROOT))
        for message in spoken(source):
            if where not in found.setdefault(message, []):
                found[message].append(where)
    return found


def sources() -> Iterator[tuple[Path, str]]:
    """Every module, and every template turned into calls by Django itself."""
    for folder in ("fleet", "service"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path, path.read_text(encoding="utf-8")
    for path in sorted((ROOT / "templates").rglob("*")):
        if path.suffix in (".html", ".txt", ".svg"):
            yield path, _calls(templatize(path.read_text(encoding="utf-8"), origin=str(path)))


def _calls(templatized: str) -> str:
    """The calls among what `templatize` blots out, one a line."""
    start = re.compile(r"\b(?:n?p?gettext|_)\(")
    calls, at = [], 0
    while match := start.search(templatized, at):
        end = _end_of_call(templatized, match.start())
        calls.append(" ".join(templatized[match.start() : end].split("\n")))
        at = end
    return "\n".join(calls)


def _end_of_call(text: str, start: int) -> int:
    """Where the shortest text from `start` ends that is one expression."""
    at = start
    while (at := text.find(")", at) + 1) > 0:
        try:
            ast.parse(text[start:at].strip(), mode="eval")
        except SyntaxError:
            continue
        return at
    raise ValueError(f"no end of the call at {text[start : start + 60]!r}")


def spoken(source: str) -> Iterator[Message]:
    """The strings of a module's calls."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in SPOKEN:
            text, many, context = (None if i is None else _literal(node, i) for i in SPOKEN[name])
            if text:
                yield Message(text, many, context)


def _literal(call: ast.Call, place: int) -> str | None:
    """The argument if it is a literal; patterns are handed on as well, and those were marked where they stand."""
    argument = call.args[place] if place < len(call.args) else None
    return argument.value if isinstance(argument, ast.Constant) and isinstance(argument.value, str) else None


def placeholders(text: str) -> set[str]:
    """What is put into a string, by name."""
    return {name for name in PLACEHOLDER.findall(text) if name}


def catalogue() -> Catalog:
    """The French catalogue as people edit it."""
    with FRENCH.open("rb") as file:
        return read_po(file, locale="fr")


def renewed(there: Catalog) -> Catalog:
    """The catalogue of today's strings, with the translations that are there."""
    fresh = Catalog(
        locale="fr", project="Bracebook", version="1", fuzzy=False, charset="utf-8", copyright_holder="Bracebook"
    )
    fresh.header_comment = "# French for Bracebook. One term, one word: the glossary stands in the words themselves."
    for message, files in sorted(messages().items(), key=lambda one: [part or "" for part in one[0]]):
        known = there.get(message.key, message.context)
        translated = known.string if known is not None else None
        flags = ("python-format",) if placeholders(message.text) else ()
        fresh.add(message.key, translated, [(name, None) for name in files], flags, context=message.context)
    return fresh


def write(kept: Catalog) -> None:
    """Write both files."""
    with FRENCH.open("wb") as file:
        write_po(file, kept, width=110, sort_output=True, omit_header=False)
    with COMPILED.open("wb") as file:
        write_mo(file, catalogue())


def untranslated(kept: Catalog) -> list[str]:
    """The strings without a translation."""
    return [str(message.id) for message in kept if message.id and not all(_strings(message.string))]


def _strings(string: str | tuple[str, ...]) -> tuple[str, ...]:
    return (string,) if isinstance(string, str) else tuple(string)


if __name__ == "__main__":
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    write(renewed(catalogue()))
    missing = untranslated(catalogue())
    sys.stdout.write("".join(f"{text}\n" for text in missing) + f"{len(missing)} strings are not translated\n")
