"""Reads of the register, and what a person may see of it."""

from datetime import datetime
from typing import Any

from django.db.models import Case, CharField, Exists, Max, OuterRef, Q, QuerySet, Sum, Value, When

from fleet.models import (
    AuditEntry,
    BenchVisit,
    Bow,
    CordSpec,
    Fitting,
    Hire,
    Hold,
    Person,
    Post,
    ReferenceSet,
    Retirement,
    SetUp,
    Site,
    StockMovement,
)
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowState, Role

ROLE_ORDER = (Role.COUNTER, Role.TECHNICIAN, Role.MANAGER, Role.OWNER)


# What puts a bow into a state; the first that is there decides, and a bow without any is ready.
STATE_EVENTS: tuple[tuple[BowState, QuerySet[Any]], ...] = (
    (BowState.RETIRED, Retirement.objects.all()),
    (BowState.OUT, Hire.objects.filter(back_at=None)),
    (BowState.ON_BENCH, BenchVisit.objects.filter(until=None)),
    (BowState.HELD, Hold.objects.filter(released=None)),
)


def with_state(bows: QuerySet[Bow]) -> QuerySet[Any]:
    """Bows annotated with `state`, as their events alone say: retired, out, held, on the bench or ready.

    A bow out with a guest that is then held (a recall) reads "out" until it is back: it is where it is.
    """
    mine = OuterRef("pk")
    return bows.annotate(
        state=Case(
            *(When(Exists(events.filter(bow=mine)), then=Value(state.value)) for state, events in STATE_EVENTS),
            default=Value(BowState.READY.value),
            output_field=CharField(),
        )
    )


def happening() -> Q:
    """Bows that are in any state but ready, as far as anything open says: few of a fleet."""
    return Q(*(("pk__in", events.values("bow")) for _state, events in STATE_EVENTS), _connector=Q.OR)


def in_state(rows: QuerySet[Any], wanted: str, bow: str = "pk") -> QuerySet[Any]:
    """Those of the bows that are in a state, as `with_state` tells it; few are anything but ready, so by their sets.

    `bow` is the way from other rows to the bow whose state counts.
    """
    for state, events in STATE_EVENTS:
        if state == wanted:
            return rows.filter(**{f"{bow}__in": events.values("bow")})
        rows = rows.exclude(**{f"{bow}__in": events.values("bow")})
    return rows


def state_of(bow: Bow) -> str:
    """The state of one bow by its events."""
    return str(with_state(Bow.objects.filter(pk=bow.pk)).get().state)


def open_holds(bow: Bow) -> list[Hold]:
    """What holds a bow now, oldest first."""
    return list(Hold.objects.filter(bow=bow, released=None).order_by("since"))


def fitted(bow: Bow) -> QuerySet[Fitting]:
    """The cords on a bow now."""
    return Fitting.objects.filter(bow=bow, removed_at=None).select_related("cord__spec").order_by("position")


def missing_positions(bow: Bow) -> list[str]:
    """Positions of a bow at which the book has no fitted cord: such a bow is not handed out."""
    there = set(Fitting.objects.filter(bow=bow, removed_at=None).values_list("position", flat=True))
    return [position for position in POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system] if position not in there]


def current_reference_set(bow: Bow) -> ReferenceSet | None:
    """The set of reference measurements that timing is reset to, if one was recorded."""
    return ReferenceSet.objects.filter(bow=bow, current=True).prefetch_related("measurements").first()


def set_up_at(bow: Bow, moment: datetime) -> SetUp | None:
    """The set-up in force at an instant, or the first one if none was recorded before it."""
    before = SetUp.objects.filter(bow=bow, since__lte=moment).order_by("-since").first()
    return before or SetUp.objects.filter(bow=bow).order_by("since").first()


def on_hand(site: Site, spec: CordSpec, at: datetime | None = None) -> int:
    """Cords of a spec on the shelf now, or at an instant: the sum of its movements until then."""
    movements = StockMovement.objects.filter(site=site, cord_spec=spec)
    if at is not None:
        movements = movements.filter(at__lte=at)
    return movements.aggregate(total=Sum("quantity"))["total"] or 0


def shelf_counts(site: Site) -> dict[int, int]:
    """Cords on the shelf now, by the key of their spec; a spec without a movement is left out."""
    moved = StockMovement.objects.filter(site=site).order_by().values_list("cord_spec")
    return dict(moved.annotate(total=Sum("quantity")))


def role_at(person: Person, site: Site) -> str | None:
    """What a person may do at a site: the greater of the post there and the post everywhere."""
    roles = Post.objects.filter(Q(site=site) | Q(site=None), person=person).values_list("role", flat=True)
    return max(roles, key=ROLE_ORDER.index, default=None)


def sites_of(person: Person, least: str = Role.COUNTER) -> QuerySet[Site]:
    """The sites at which a person has at least this role."""
    enough = ROLE_ORDER[ROLE_ORDER.index(Role(least)) :]
    posts = Post.objects.filter(person=person, role__in=enough)
    if posts.filter(site=None).exists():
        return Site.objects.all()
    return Site.objects.filter(pk__in=posts.values("site"))


def last_fact() -> int:
    """The number of the last fact of the whole book; 0 without any."""
    return AuditEntry.objects.aggregate(last=Max("pk"))["last"] or 0
