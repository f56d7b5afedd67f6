"""Files of people: role, site, skills and bench minutes by weekday."""

from typing import Any

from fleet import record
from fleet.models import Person, Post, Site
from fleet.ranges import MINUTES
from fleet.vocabulary import Role, Skill
from service.intake.changes import Change, Status, compare
from service.intake.columns import may_be_emptied
from service.intake.desk import Desk
from service.intake.kind import Kind
from service.intake.numbers import whole
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.words import WEEKDAYS, choice, several, site_column, text, yes_no
from service.said import say

MINUTE_FIELDS = {f"bench_minutes_{day}": number for number, day in enumerate(WEEKDAYS)}
_SIGN_IN_NAME = r"[\w.@+-]+"

COLUMNS = (
    text(
        "username",
        150,
        say("sign-in name"),
        required=True,
        pattern=_SIGN_IN_NAME,
        pattern_name=say("letters, digits, . @ + -"),
    ),
    text("display_name", 80, say("name as shown"), required=True),
    choice("role", dict(Role.choices), say("what the person may do"), required=True),
    site_column(),
    yes_no("everywhere", say("the role holds at every site")),
    may_be_emptied(
        text("email", 254, say("address"), pattern=r"[^@\s]+@[^@\s]+", pattern_name=say("an e-mail address")), ""
    ),
    may_be_emptied(
        several("skills", dict(Skill.choices), say("what the person may do at the bench, separated by spaces")), ()
    ),
    *(whole(field, MINUTES, say("bench minutes on %(field)s", field=field[-3:])) for field in MINUTE_FIELDS),
)


def _take(row: Row, desk: Desk) -> Change:
    everywhere = row.get("everywhere", False)
    # Without a site the role would hold everywhere, so a row without one is refused unless it says so.
    site = desk.site_named(row.values) if everywhere else desk.site_of(row.values)
    person = Person.objects.filter(username=row["username"]).first()
    before = _as_known(person, None if everywhere else site) if person else None
    if before is not None and before["everywhere"] and row.get("everywhere") is False:
        raise CellError(
            say("this person's role holds at every site already"),
            allowed=say("yes or an empty cell"),
            fix=say("an owner takes the role away on the page of people"),
            column="everywhere",
        )
    change = compare(row, row["username"], before)
    if change.status is Status.UNCHANGED:
        return change
    written = record.put_person(
        by=desk.by,
        username=row["username"],
        display_name=row["display_name"],
        site=site if site is not None else (person.site if person else None),
        role=row["role"],
        role_everywhere=everywhere,
        email=row.get("email", person.email if person else ""),
    )
    if "skills" in row.values:
        record.set_skills(by=desk.by, person=written, skills=row["skills"])
    if minutes := row.given(*MINUTE_FIELDS):
        known: dict[int, int] = dict(written.bench_hours.values_list("weekday", "minutes"))
        given = {MINUTE_FIELDS[field]: value for field, value in minutes.items()}
        record.set_bench_hours(by=desk.by, person=written, minutes_by_weekday=known | given)
    return change


def _as_known(person: Person, post_site: Site | None) -> dict[str, Any]:
    post = Post.objects.filter(person=person, site=post_site).first()
    minutes: dict[int, int] = dict(person.bench_hours.values_list("weekday", "minutes"))
    return {
        "username": person.username,
        "display_name": person.display_name,
        "role": post.role if post else None,
        "site": person.site,
        "everywhere": Post.objects.filter(person=person, site=None).exists(),
        "email": person.email,
        "skills": tuple(sorted(person.skills.values_list("skill", flat=True))),
        **{field: minutes.get(day, 0) for field, day in MINUTE_FIELDS.items()},
    }


PEOPLE = Kind(
    "people", say("people with role, site, skills and bench minutes by weekday"), COLUMNS, ("username", "site"), _take
)
