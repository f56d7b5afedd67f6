"""The demo's sixty bows: which make, where, who shoots them, and what the story has in store for a few of them."""

from dataclasses import dataclass
from enum import StrEnum

from service.demo.sites import CAMP_CODE, RANGE_CODE


class Use(StrEnum):
    """Who shoots a bow, and so how its shots fall."""

    RENTAL = "rental"
    SCHOOL = "school"
    STAFF = "staff"
    CAMP = "camp"


@dataclass(frozen=True)
class BowPlan:
    """One bow; draw length in inches (true), peak weight in pounds."""

    tag: str
    number: int
    make_code: str
    site_code: str
    use: Use
    hand: str
    draw_in: float
    weight_lb: float

    @property
    def serial(self) -> str:
        """The maker's serial: letters of the maker, then a running number."""
        return f"{self.make_code[:2]}{40_100 + 37 * self.number}"


@dataclass(frozen=True)
class Group:
    """Bows of one make for one use; each third or so is left-handed where `left_every` says."""

    site_code: str
    make_code: str
    use: Use
    count: int
    draws_in: tuple[float, ...]
    weights_lb: tuple[float, ...]
    left_every: int = 4


GROUPS = (
    Group(RANGE_CODE, "OV-MEDLAR-31", Use.RENTAL, 9, (26.0, 27.0, 28.0), (38, 42, 46)),
    Group(RANGE_CODE, "KM-QUINCE-33", Use.RENTAL, 9, (27.0, 28.0, 29.0), (42, 46, 50)),
    Group(RANGE_CODE, "PW-TEASEL-32", Use.RENTAL, 5, (25.0, 26.0), (30, 34)),
    Group(RANGE_CODE, "PW-BURDOCK-66", Use.SCHOOL, 9, (25.0, 26.0, 27.0), (18, 20, 24), 3),
    Group(RANGE_CODE, "TM-YARROW-34", Use.RENTAL, 2, (28.0, 29.0), (46, 50), 2),
    Group(RANGE_CODE, "OV-SORREL-35", Use.STAFF, 2, (28.5, 29.5), (55, 55), 2),
    Group(RANGE_CODE, "TM-TANSY-64", Use.RENTAL, 2, (27.0, 28.0), (32, 38), 2),
    Group(CAMP_CODE, "KM-QUINCE-33", Use.CAMP, 5, (27.0, 28.0, 29.0), (42, 48)),
    Group(CAMP_CODE, "TM-YARROW-34", Use.CAMP, 4, (27.5, 28.5), (42, 48)),
    Group(CAMP_CODE, "OV-MEDLAR-31", Use.CAMP, 2, (26.0, 27.0), (38, 44), 2),
    Group(CAMP_CODE, "PW-TEASEL-32", Use.CAMP, 2, (25.0, 26.0), (30, 34), 2),
    Group(CAMP_CODE, "KM-COMFREY-68", Use.CAMP, 5, (27.0, 28.0), (24, 28), 3),
    Group(CAMP_CODE, "TM-TANSY-64", Use.CAMP, 4, (26.0, 27.0), (30, 36), 4),
)

# What the story has for single bows. Life used is the share of rated life that the present cords are meant to show;
# their months on the shelf add two to five hundredths.
OVERDUE = {"HW-02": 0.99, "HW-16": 0.985, "TC-04": 1.0}
DUE_SOON = {"HW-04": 0.925, "HW-11": 0.91, "HW-19": 0.94, "HW-33": 0.92, "TC-06": 0.935}
DRY_FIRED = "HW-12"  # two days ago; held
SENT_TO_TIMING = "HW-20"  # yesterday's turnaround check asked for a timing check; held
SETTLING_IN = "HW-07"  # a new set two days ago, forty shots so far
UNKNOWN_USE = "TC-13"  # bought second-hand twelve days ago
RETIRED = "HW-23"  # a limb delaminated two months ago
DROPPED = "HW-14"  # in spring; its set was changed because of it
DERAILED = "TC-01"  # in summer; likewise
LEFT_IN_VEHICLE = "TC-09"  # five hours in a parked car during the heat wave
NO_REASON = "TC-03"  # its last set came off without a reason on record
OUT_NOW = ("TC-02", "TC-07")  # on a three-day trip


def sixty_bows() -> list[BowPlan]:
    """Every bow of the demo, in the order of its tag."""
    bows: list[BowPlan] = []
    numbers = {RANGE_CODE: 0, CAMP_CODE: 0}
    for group in GROUPS:
        for i in range(group.count):
            numbers[group.site_code] += 1
            bows.append(
                BowPlan(
                    tag=f"{group.site_code}-{numbers[group.site_code]:02d}",
                    number=len(bows) + 1,
                    make_code=group.make_code,
                    site_code=group.site_code,
                    use=group.use,
                    hand="left" if i % group.left_every == group.left_every - 1 else "right",
                    draw_in=group.draws_in[i % len(group.draws_in)],
                    weight_lb=group.weights_lb[(i // 2) % len(group.weights_lb)],
                )
            )
    return bows
