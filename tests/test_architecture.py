"""The house rules that no linter knows: what lies where, what imports what, how long a thing may get."""

import ast
import inspect
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

import fleet.record
import fleet.vocabulary
import service.timing.vocabulary
from tests.fleet_writes import writes

ROOT = Path(__file__).resolve().parent.parent
VISIBLE = {
    *("README.md", "DEVELOPERS.md", "pyproject.toml", "docker-compose.yml", "manage.py"),
    *("fleet", "service", "templates", "tests"),
}
HIDDEN = {".ci", ".gitignore", ".dockerignore"}
PURE = ("service.wear", "service.timing", "service.forecast", "service.plan")
MODULE_MAX_LINES = 400
FUNCTION_MAX_LINES = 40
# Long by what they list, not by what they do. May only get shorter.
LONGER_FUNCTIONS = {"tests/benchmarks/big_fleet.py:big_fleet": 68}


@cache
def files() -> tuple[Path, ...]:
    """Every file of the project, tracked or about to be."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return tuple(ROOT / name for name in sorted(set(listed.stdout.splitlines())) if (ROOT / name).is_file())


def modules(*folders: str) -> list[Path]:
    """The Python files under these folders, migrations left out."""
    wanted = [ROOT / folder for folder in folders]
    return [
        path
        for path in files()
        if path.suffix == ".py" and "migrations" not in path.parts and any(path.is_relative_to(top) for top in wanted)
    ]


def migrations() -> list[Path]:
    return [path for path in files() if path.parent.name == "migrations" and path.name != "__init__.py"]


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(), str(path))


def test_top_level_holds_what_the_design_names_and_nothing_else():
    assert {path.relative_to(ROOT).parts[0] for path in files()} - VISIBLE - HIDDEN == set()


def test_import_contracts_hold():
    program = Path(sys.executable).parent / "lint-imports"
    result = subprocess.run([str(program)], cwd=ROOT, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout + result.stderr
    assert " 0 broken" in result.stdout


IMPORT_ALL = """
import importlib, pkgutil, sys
package = importlib.import_module(sys.argv[1])
names = [module.name for module in pkgutil.walk_packages(package.__path__, package.__name__ + ".")]
for name in names:
    importlib.import_module(name)
print(len(names), *sorted({name.partition(".")[0] for name in sys.modules}))
"""


@pytest.mark.parametrize("package", PURE)
def test_pure_package_brings_in_no_framework_and_no_register(package):
    """In a process of its own: what pytest has imported already would hide it."""
    result = subprocess.run(
        [sys.executable, "-c", IMPORT_ALL, package], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stderr
    count, *brought_in = result.stdout.split()
    assert int(count) >= len([path for path in modules(package.replace(".", "/")) if path.name != "__init__.py"]) > 0
    # OR-Tools' model builder imports pandas itself; the planner must not, as the next test holds.
    forbidden = {"django", "celery", "fleet"} | (set() if "ortools" in brought_in else {"pandas"})
    assert forbidden & set(brought_in) == set()


@pytest.mark.parametrize("package", PURE)
def test_pure_package_names_no_framework_in_any_import(package):
    """Also those inside functions, which run later."""
    found = {
        (named(path), name)
        for path in modules(package.replace(".", "/"))
        for name in imported(path)
        if name.partition(".")[0] in {"django", "celery", "fleet", "pandas"}
    }
    assert found == set()


def imported(path: Path) -> set[str]:
    """Every module name in an import statement of the file, wherever it stands."""
    names = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add("." * node.level + (node.module or ""))
    return names


def test_service_package_is_empty():
    """An import of Celery there would reach every pure package."""
    assert (ROOT / "service" / "__init__.py").read_text() == ""


def test_no_module_is_too_long():
    lengths = {named(path): len(path.read_text().splitlines()) for path in modules("fleet", "service", "tests")}
    assert {name: lines for name, lines in lengths.items() if lines > MODULE_MAX_LINES} == {}


def test_no_function_is_too_long():
    lengths = {
        f"{named(path)}:{node.name}": body_lines(node)
        for path in modules("fleet", "service", "tests")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    longer = {name: lines for name, lines in lengths.items() if lines > FUNCTION_MAX_LINES}
    assert {name: lines for name, lines in longer.items() if lines > LONGER_FUNCTIONS.get(name, 0)} == {}
    assert LONGER_FUNCTIONS.keys() - longer.keys() == set(), "these are short now: take them off the list"


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of the body without its docstring."""
    statements = function.body[1:] if ast.get_docstring(function) else function.body
    return (function.end_lineno or 0) - statements[0].lineno + 1 if statements else 0


def test_migrations_have_names_and_import_no_project_code():
    assert migrations()
    for path in migrations():
        assert re.fullmatch(r"\d{4}_(?!auto_)[a-z0-9_]+", path.stem), f"{named(path)}: give it a name that says what"
        found = {name for name in imported(path) if name.partition(".")[0] in {"", "fleet", "service", "tests"}}
        assert found == set(), f"{named(path)} imports {found}: freeze what it needs in the migration"


def test_only_the_record_writes_to_the_register():
    found = {
        f"{named(path)}:{line}: {text}"
        for path in modules("fleet", "service")
        if not path.is_relative_to(ROOT / "fleet" / "record")
        for line, text in writes(tree(path))
    }
    assert found == set(), "write through a verb of fleet.record"


UNWANTED = {
    "the host of a package registry": r"pypi\.org|pythonhosted\.org|npmjs\.(org|com)|deb\.debian\.org|golang\.org",
    "a path of one machine": r"(?<![\w.)}])/(work|root|home|opt)/[a-z]",
    "an unfinished thought": r"\b(TO" + r"DO|FIX" + r"ME|X" + r"XX)\b",
    "how the project came to be": r"(?i)\bseed" + r"[ -]document|\btrans" + r"cripts?\b",
}


@pytest.mark.parametrize("what", UNWANTED)
def test_no_file_holds(what):
    found = {}
    for path in files():
        content = path.read_bytes()
        if b"\0" not in content and (match := re.search(UNWANTED[what], content.decode())):
            found[named(path)] = match.group()
    assert found == {}


SHARED_WORDS = ("BowKind", "CamSystem", "Position", "MeasurementKind")
# Twists are counted in the register; what they do is a matter of its own in the timing package.
REGISTER_ONLY = {"MeasurementKind": {"twists"}}


@pytest.mark.parametrize("name", SHARED_WORDS)
def test_register_and_timing_use_the_same_words(name):
    register = {word.name: str(word.value) for word in getattr(fleet.vocabulary, name)}
    timing = {word.name: str(word.value) for word in getattr(service.timing.vocabulary, name)}
    shared = {key: word for key, word in register.items() if word not in REGISTER_ONLY.get(name, set())}
    assert timing == shared


def test_register_and_timing_give_each_cam_system_the_same_cords():
    register = {str(key): [str(position) for position in found] for key, found in _positions(fleet.vocabulary)}
    timing = {str(key): [str(position) for position in found] for key, found in _positions(service.timing.vocabulary)}
    assert {key: register[key] for key in timing} == timing
    assert register.keys() - timing.keys() == {""}, "the bow without cams"


def _positions(vocabulary):
    return vocabulary.POSITIONS_BY_CAM_SYSTEM.items()


def verbs() -> list[str]:
    return [name for name in fleet.record.__all__ if inspect.isfunction(getattr(fleet.record, name))]


@pytest.mark.parametrize("name", verbs())
def test_verb_takes_the_acting_person_and_audits(name):
    parameters = inspect.signature(getattr(fleet.record, name)).parameters
    if name != "found_book":  # Nobody is there yet who could act.
        assert "by" in parameters and parameters["by"].default is inspect.Parameter.empty
        assert parameters["by"].kind is inspect.Parameter.KEYWORD_ONLY
    assert name in audited(), f"{name} neither calls audit() nor a function of fleet.record that does"


@cache
def audited() -> frozenset[str]:
    """Functions of fleet.record that write an audit row, themselves or through another of them."""
    calls: dict[str, set[str]] = {}
    for path in modules("fleet/record"):
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.FunctionDef):
                calls[node.name] = {
                    called.func.id if isinstance(called.func, ast.Name) else getattr(called.func, "attr", "")
                    for called in ast.walk(node)
                    if isinstance(called, ast.Call)
                }
    found = {"audit"}
    while grown := {name for name, called in calls.items() if called & found} - found:
        found |= grown
    return frozenset(found)


def test_locked_versions_agree_with_each_other_and_with_the_pins():
    exact = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", re.MULTILINE)
    locked = dict(exact.findall((ROOT / ".ci" / "requirements.txt").read_text()))
    assert dict(exact.findall((ROOT / ".ci" / "constraints.txt").read_text())) == locked
    pinned = re.compile(r'^    "([A-Za-z0-9._-]+)(?:\[\w+\])?==([^"]+)"', re.MULTILINE)
    pins = pinned.findall((ROOT / "pyproject.toml").read_text())
    assert len(pins) > 20
    stale = {name: version for name, version in pins if locked.get(name.lower()) != version}
    assert stale == {}, "make .ci/requirements.txt and .ci/constraints.txt anew"


@pytest.mark.parametrize(
    "line",
    [
        "Bow.objects.create(tag='7')",
        "Bow.objects.filter(tag='7').update(tag='8')",
        "Bow(tag='7').save()",
        "bow = Bow.objects.get(tag='7')\nbow.save()",
        "for one in Bow.objects.all():\n    one.delete()",
        "def change(bow: Bow | None) -> None:\n    bow.save()",
        "def change() -> None:\n    rows = Bow.objects.all()\n    rows.delete()",
    ],
)
def test_a_write_past_the_record_is_seen(line):
    """The check above can fail: each of these is a write that it must find."""
    assert list(writes(ast.parse(f"from fleet.models import Bow\n{line}")))


def test_a_write_of_a_computed_row_is_none_of_the_registers():
    source = "from fleet.models import Bow\nfrom service.models import Need\nNeed.objects.filter(bow=Bow()).delete()"
    assert list(writes(ast.parse(source))) == []
