"""The demo's shelves: cords counted when the book began, used at the bench, ordered again when they run low."""

from datetime import date, datetime, timedelta
from functools import partial
from itertools import count

from fleet import lookups, record
from fleet.models import CordSpec, SupplierOrder
from fleet.vocabulary import MovementKind
from service.demo.diary import Diary
from service.demo.roster import sixty_bows
from service.demo.shop import Shop
from service.demo.sites import RANGE_CODE, Crew
from service.demo.weather import SEASON_DAYS

OVER_REORDER_POINT = 3  # on the shelf when the book began, above the reorder point
ORDERED_AT_ONCE = 6
ON_THE_WAY = "WX-MEDLAR-S"  # ordered nine days ago, expected in five
DAMAGED = "WX-QUINCE-CC"  # one cut by a box knife in summer
COUNTED = "WX-BURDOCK-S"  # counted last week: one fewer than the book had


class Shelf:
    """Both sites' shelves, kept as the season goes."""

    def __init__(self, shop: Shop, diary: Diary) -> None:
        self.shop = shop
        self.diary = diary
        self._orders = count(1)

    def note_season(self) -> None:
        """Note the first counts, and what befell single cords."""
        for code, crew in self.shop.crews.items():
            at = self.shop.at(crew, 0, 6)
            kept = {plan.make_code for plan in sixty_bows() if plan.site_code == code}
            for make_code in sorted(kept):
                for spec in self.shop.makes[make_code].cord_specs.values():
                    self.diary.note(at, partial(self._first_count, crew, spec, at))
            if code == RANGE_CODE:
                self._note_single_cords(crew)

    def _first_count(self, crew: Crew, spec: CordSpec, at: datetime) -> None:
        quantity = spec.reorder_point + OVER_REORDER_POINT
        self._move(crew, spec, MovementKind.COUNTED, quantity, at, f"first-{crew.site.code}-{spec.code}")

    def _note_single_cords(self, crew: Crew) -> None:
        specs = {spec.code: spec for make in self.shop.makes.values() for spec in make.cord_specs.values()}
        damaged, counted = self.shop.at(crew, 97, 12), self.shop.at(crew, SEASON_DAYS - 6, 18)
        self.diary.note(
            damaged,
            lambda: self._move(crew, specs[DAMAGED], MovementKind.SCRAPPED, 1, damaged, "cut by a box knife"),
        )
        self.diary.note(counted, lambda: self._count_one_fewer(crew, specs[COUNTED], counted))
        ordered = self.shop.at(crew, SEASON_DAYS - 9, 12)
        self.diary.note(
            ordered, lambda: self._order(crew, specs[ON_THE_WAY], ordered.date(), ordered.date() + timedelta(days=14))
        )

    def _count_one_fewer(self, crew: Crew, spec: CordSpec, at: datetime) -> None:
        there = lookups.on_hand(crew.site, spec)
        self._move(crew, spec, MovementKind.COUNTED, max(0, there - 1), at, "counted last week")

    def use(self, crew: Crew, spec: CordSpec, at: datetime, key: str, order_number: str) -> None:
        """Take one cord off the shelf for a paper order, and order more when few are left."""
        self._receive_due(crew, spec, at)
        self._move(crew, spec, MovementKind.USED, 1, at, key, order_number)
        waiting = SupplierOrder.objects.filter(site=crew.site, cord_spec=spec, received_at=None).exists()
        if not waiting and lookups.on_hand(crew.site, spec) <= spec.reorder_point:
            day = at.astimezone(crew.zone).date()
            self._order(crew, spec, day, day + timedelta(days=spec.lead_days))

    def receive_all_due(self) -> None:
        """Take in what was expected by today; the rest is on its way."""
        for order in SupplierOrder.objects.filter(received_at=None).select_related("site", "cord_spec"):
            crew = next(one for one in self.shop.crews.values() if one.site == order.site)
            if order.expected_on < crew.today(self.shop.now):
                self._receive(crew, order, self._arrival(crew, order.expected_on))

    def _receive_due(self, crew: Crew, spec: CordSpec, at: datetime) -> None:
        """What has arrived by now; where the shelf is bare, the supplier was asked to hurry."""
        order = SupplierOrder.objects.filter(site=crew.site, cord_spec=spec, received_at=None).first()
        if order is None:
            return
        arrival = self._arrival(crew, order.expected_on)
        if arrival < at:
            self._receive(crew, order, arrival)
        elif lookups.on_hand(crew.site, spec) == 0:
            self._receive(crew, order, at - timedelta(hours=1))

    def _arrival(self, crew: Crew, day: date) -> datetime:
        return datetime(day.year, day.month, day.day, 12, tzinfo=crew.zone)

    def _receive(self, crew: Crew, order: SupplierOrder, at: datetime) -> None:
        record.receive_order(by=crew.counter, order=order, at=at, now=self.shop.now)

    def _order(self, crew: Crew, spec: CordSpec, ordered: date, expected: date) -> None:
        record.put_supplier_order(
            by=crew.manager,
            site=crew.site,
            cord_spec=spec,
            reference=f"PO-{next(self._orders):03d}",
            quantity=ORDERED_AT_ONCE,
            ordered_on=ordered,
            expected_on=expected,
        )

    def _move(
        self, crew: Crew, spec: CordSpec, kind: str, quantity: int, at: datetime, key: str, order_number: str = ""
    ) -> None:
        record.move_stock(
            by=crew.counter if kind == MovementKind.COUNTED else crew.technicians[0],
            site=crew.site,
            cord_spec=spec,
            kind=kind,
            quantity=quantity,
            at=at,
            key=f"demo-{key}",
            now=self.shop.now,
            order_number=order_number,
        )
