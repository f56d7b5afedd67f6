"""What docker-compose.yml copies into the image is a whole book: it migrates, serves and speaks each language.

No container is built: the files that the image definition names are laid out as it lays them out, and run from there.
"""

import os
import re
import shutil
import subprocess
import sys
from fnmatch import fnmatch
from pathlib import Path

import pytest
import yaml

from service import settings
from tests.machinery import REPOSITORY

LOOK = """
import django
django.setup()
from django.test import Client
from fleet import record
from service.celery import app
import service.settings
assert service.settings.__file__.startswith(IMAGE), service.settings.__file__
owner = record.found_book(username="owner", display_name="Odile", password="larkspur-bench-4")
record.put_site(by=owner, code="larkspur", name="Larkspur", time_zone="UTC", opening_weekdays=[0])
print(*(Client().get("/sign-in/", headers={"Accept-Language": language}).content.decode().count(word)
        for language, word in (("en", "Sign in"), ("fr", "Se connecter"))))
client = Client()
client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
for address in ("/bows/", "/take-in/", "/take-in/sample/shots.csv", "/turnaround/worker.js", "/static/bracebook.css"):
    assert client.get(address).status_code == 200, address
app.loader.import_default_modules()
assert "bracebook.give_back_lost" in app.tasks
"""


@pytest.fixture(scope="module")
def definition() -> str:
    compose = yaml.safe_load((REPOSITORY / "docker-compose.yml").read_text())
    return str(compose["x-program"]["build"]["dockerfile_inline"])


def taken(source: str) -> list[Path]:
    """The files of one COPY, from the checkout's top, without what the builder is told to leave out."""
    lines = (REPOSITORY / ".dockerignore").read_text().splitlines()
    left_out = [line.removeprefix("**/") for line in lines if line and not line.startswith("#")]
    at = REPOSITORY / source
    files = [at] if at.is_file() else [path for path in at.rglob("*") if path.is_file()]
    inside = [path.relative_to(REPOSITORY) for path in files]
    return [path for path in inside if not any(fnmatch(part, one) for part in path.parts for one in left_out)]


@pytest.fixture(scope="module")
def image(definition: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files that COPY lines take, where they put them below the working directory."""
    root = tmp_path_factory.mktemp("image")
    for line in re.findall(r"^COPY (.+)$", definition, re.MULTILINE):
        *sources, target = line.split()
        for source in sources:
            names = taken(source)
            assert names, f"COPY {source} finds nothing"
            for name in names:
                inside = Path(target) / name if target == "./" else Path(target) / name.relative_to(source)
                (root / inside).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(REPOSITORY / name, root / inside)
    return root


def test_it_serves_in_every_language(image: Path, tmp_path: Path) -> None:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
    env = {**clean, "BRACEBOOK_DATA_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "service.settings"}
    env |= {"BRACEBOOK_ALLOWED_HOSTS": "testserver", "BRACEBOOK_BROKER_URL": "memory://"}

    def run(*words: str) -> str:
        done = subprocess.run([sys.executable, *words], cwd=image, env=env, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr[-3000:]
        return done.stdout

    run("manage.py", "migrate", "--verbosity", "0")
    said = run("-c", LOOK.replace("IMAGE", repr(str(image)))).split()
    assert len(said) == len(settings.LANGUAGES)
    assert all(int(times) > 0 for times in said), said


def test_every_catalogue_is_compiled(image: Path) -> None:
    """The slim image has no gettext: what is not compiled in the checkout would be missing."""
    catalogues = list((image / "templates" / "locale").rglob("*.po"))
    assert {path.parts[-3] for path in catalogues} == {code for code, _ in settings.LANGUAGES if code != "en"}
    assert all(path.with_suffix(".mo").exists() for path in catalogues)


def test_installing_the_project_brings_its_libraries_and_no_second_copy_of_its_code(definition: str) -> None:
    """`pip install .` is told to take no packages: the code runs from where it is copied to, with its files beside."""
    assert "pip install --no-cache-dir -c .ci/constraints.txt ." in definition
    text = (REPOSITORY / "pyproject.toml").read_text()
    assert re.search(r"^\[tool\.setuptools\]\npackages = \[\]$", text, re.MULTILINE)
