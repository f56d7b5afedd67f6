"""Running a command as a shell would: what it prints, and what it is refused with."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command


def run(*words: str) -> str:
    """What a command prints."""
    out = StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


def refused(*words: str) -> str:
    """The text that a command fails with."""
    with pytest.raises(CommandError) as problem:
        call_command(*words, stdout=StringIO(), stderr=StringIO())
    return str(problem.value)
