"""`manage.py take_in`: exit codes, the list of bad cells, the dry run."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from fleet import record
from fleet.models import AuditEntry, Place, Site
from tests.intake.book import SAMPLES, owner, take_samples

pytestmark = pytest.mark.django_db


def _run(*arguments: str) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command("take_in", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def _fails(*arguments: str) -> tuple[CommandError, str]:
    err = StringIO()
    with pytest.raises(CommandError) as raised:
        call_command("take_in", *arguments, stdout=StringIO(), stderr=err)
    return raised.value, err.getvalue()


def test_it_takes_a_file_in_and_says_the_counts() -> None:
    owner()
    out, err = _run("sites", str(SAMPLES / "sites.csv"))
    assert "sites.csv (sites): 2 new, 0 changed, 0 unchanged, 0 bad cells." in out
    assert "Dry run" not in out and not err.strip()
    assert Site.objects.count() == 2
    assert AuditEntry.objects.filter(verb="put_site", person__username="wren").count() == 2


def test_a_dry_run_shows_the_changes_and_writes_nothing() -> None:
    owner()
    out, _ = _run("sites", str(SAMPLES / "sites.csv"), "--dry-run")
    assert "line 2, fenhollow: new" in out and "name: Fenhollow Range" in out and "Dry run" in out
    assert not Site.objects.exists()


def test_bad_rows_are_listed_and_the_exit_code_is_1(tmp_path: Path) -> None:
    take_samples("sites")
    path = tmp_path / "places.csv"
    path.write_text("site,name,temperature_source\nfenhollow,a,logger\nfenhollw,b,logger\nfenhollow,c,stove\n")
    for options in ((), ("--dry-run",)):
        failed, err = _fails("places", str(path), *options)
        assert failed.returncode == 1
        assert "line 3, site = 'fenhollw'" in err and "fenhollow" in err
        assert "line 4, temperature_source = 'stove'" in err
        assert "2 bad cells" in str(failed) and "Nothing was taken in" in str(failed)
    assert not Place.objects.exists()


def test_rows_without_a_site_are_of_the_site_asked_for(tmp_path: Path) -> None:
    take_samples("sites")
    path = tmp_path / "places.csv"
    path.write_text("name,temperature_source\na,logger\n")
    _run("places", str(path), "--site", "tarnside")
    assert Place.objects.get().site.code == "tarnside"


def test_the_acting_person_is_named_or_the_only_owner(tmp_path: Path) -> None:
    path = str(SAMPLES / "sites.csv")
    assert "no owner yet" in str(_fails("sites", path)[0])
    first = owner()
    assert "no person 'nobody'" in str(_fails("sites", path, "--by", "nobody")[0])
    record.put_person(by=first, username="second", display_name="S", site=None, role="owner", role_everywhere=True)
    assert "several owners" in str(_fails("sites", path)[0])
    _run("sites", path, "--by", "second")
    assert AuditEntry.objects.filter(verb="put_site", person__username="second").count() == 2


def test_files_and_sites_that_are_not_there() -> None:
    owner()
    assert "no file" in str(_fails("sites", "/nowhere/sites.csv")[0])
    assert "no site 'x'" in str(_fails("sites", str(SAMPLES / "sites.csv"), "--site", "x")[0])
    assert "cannot be read" in str(_fails("sites", "/tmp")[0])


def test_the_columns_of_a_kind_are_listed_with_units() -> None:
    out, _ = _run("references", "--columns")
    assert "brace_height_in or brace_height_mm" in out and "string_twists_half_turns" in out
