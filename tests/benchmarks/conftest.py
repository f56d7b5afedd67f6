"""Benchmarks run when asked for by their folder (`pytest tests/benchmarks`), not with the other tests."""

from pathlib import Path

import pytest

HERE = Path(__file__).parent


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave the folder out unless the command line names it or something in it."""
    named = [Path(config.invocation_params.dir, argument.split("::")[0]).resolve() for argument in config.args]
    return None if any(path == HERE or HERE in path.parents for path in named) else True
