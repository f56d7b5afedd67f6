"""`manage.py plan`: the draft in two formats, and what is wrong with a wrong call."""

import json

import pytest

from fleet import record
from service import decide
from service.models import Plan
from tests import personas
from tests.orders.bench import worn_bow
from tests.service.commands import refused, run

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("standing_clock")]


@pytest.fixture
def shop(db: None) -> personas.Shop:
    return personas.shop()


def test_each_job_on_a_line_and_each_need_without_a_day_with_its_limit(shop: personas.Shop) -> None:
    bow = worn_bow(shop)
    record.set_skills(by=shop.owner, person=shop.technician, skills=["inspection"])
    text = run("plan", "--site", "larkspur").splitlines()
    assert f'not placed: {bow.tag} replacement: no technician of the site has the skill "press".' in text
    assert any(line.startswith("2026-07-01  larkspur-technician") and "inspection" in line for line in text)


def test_json_is_the_saved_draft(shop: personas.Shop) -> None:
    worn_bow(shop)
    content = json.loads(run("plan", "--site", "larkspur", "--format", "json", "--from", "2026-07-02", "--days", "10"))
    plan = Plan.objects.get()
    assert (content["site"], content["first_day"], content["days"]) == ("larkspur", "2026-07-02", 10)
    assert len(content["jobs"]) == plan.jobs.count() >= 1
    assert {job["technician"] for job in content["jobs"]} == {"larkspur-technician"}
    assert all(job["minutes"] > 0 and job["needs"] and job["why"] for job in content["jobs"])
    assert all(entry["limit"] for entry in content["unplaced"])


def test_nothing_due_is_said(shop: personas.Shop) -> None:
    decide.rebuild(personas.NOW)
    assert run("plan", "--site", "larkspur").strip() == (
        "Nothing is due at Larkspur Range within 28 days from 2026-07-01."
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "the following arguments are required: --site"),
        (("--site", "nowhere"), "There is no site 'nowhere'; the book has: larkspur."),
        (("--site", "larkspur", "--days", "3"), "a plan of 3 days; allowed are 7 to 90 days"),
        (("--site", "larkspur", "--days", "0"), "a plan of 0 days; allowed are 7 to 90 days"),
        (("--site", "larkspur", "--days", "many"), "invalid int value: 'many'"),
        (("--site", "larkspur", "--from", "tomorrow"), "'tomorrow' is not a day: give it as YYYY-MM-DD"),
    ],
)
def test_a_wrong_call_says_what_is_right(shop: personas.Shop, words: tuple[str, ...], said: str) -> None:
    assert said in refused("plan", *words)
