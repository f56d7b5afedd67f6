#!/usr/bin/env python
"""Bracebook's command line: `python manage.py COMMAND`."""

import os
import sys


def main() -> None:
    """Run one management command."""
    # Whatever a command makes (the book, a copy of it, a key) is its user's alone, in whatever folder it is told to.
    os.umask(0o077)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
