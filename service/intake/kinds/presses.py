"""Files of bow presses."""

from fleet import record
from fleet.models import Press
from fleet.ranges import MINUTES
from service.intake.changes import Change, Status, compare
from service.intake.desk import Desk
from service.intake.kind import Kind
from service.intake.numbers import whole
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.words import site_column, text
from service.said import say

MINUTES_PER_DAY = "minutes_per_day"
COLUMNS = (
    text("name", 60, say("what the press is called at its site"), required=True),
    site_column(),
    whole(MINUTES_PER_DAY, MINUTES, say("minutes a day for which it can be used; 480 where the cell is empty")),
)


def _take(row: Row, desk: Desk) -> Change:
    site = desk.site_of(row.values)
    if row.get(MINUTES_PER_DAY) == 0:
        raise CellError(
            say("a press of no minutes is none"),
            allowed=say("1 to 1440 minutes a day"),
            fix=say("give its minutes"),
            column=MINUTES_PER_DAY,
        )
    press = Press.objects.filter(site=site, name=row["name"]).first()
    before = None if press is None else {
        "name": press.name, "site": press.site, MINUTES_PER_DAY: press.minutes_per_day,
    }  # fmt: skip
    change = compare(row, f"{row['name']} at {site.code}", before)
    if change.status is not Status.UNCHANGED:
        record.put_press(by=desk.by, site=site, name=row["name"], **row.given(MINUTES_PER_DAY))
    return change


PRESSES = Kind("presses", say("bow presses and their minutes a day"), COLUMNS, ("name", "site"), _take)
