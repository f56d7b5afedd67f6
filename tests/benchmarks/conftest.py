"""Benchmarks run when asked for by their folder (`pytest tests/benchmarks`), not with the other tests."""

import os
import shutil
from pathlib import Path

import pytest

HERE = Path(__file__).parent
PREPARED = os.environ.get("BRACEBOOK_BENCHMARK_BOOK", "")
"""A SQLite file with a book that takes minutes to make; the tests' database is a copy of it."""


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave the folder out unless the command line names it or something in it."""
    named = [Path(config.invocation_params.dir, argument.split("::")[0]).resolve() for argument in config.args]
    return None if any(path == HERE or HERE in path.parents for path in named) else True


@pytest.fixture(scope="session")
def django_db_keepdb(request: pytest.FixtureRequest) -> bool:
    """A prepared book is kept as it was copied, and only migrated."""
    return bool(PREPARED or request.config.getvalue("reuse_db"))


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> None:
    """Copy the prepared book to where the tests' database will be looked for."""
    if PREPARED:
        from django.conf import settings

        shutil.copyfile(PREPARED, settings.DATABASES["default"]["TEST"]["NAME"])
