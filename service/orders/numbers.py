"""Order numbers: site, year, and a count that starts at 1 each year."""

from datetime import date

from fleet.models import Site
from service.models import WorkOrder


def next_number(site: Site, day: date) -> str:
    """The next free number; the unique constraint refuses a second taker, who then tries again."""
    prefix = f"{site.code.upper()}-{day:%Y}-"
    last = WorkOrder.objects.filter(number__startswith=prefix).order_by("-number").first()
    count = int(last.number.removeprefix(prefix)) if last is not None else 0
    return f"{prefix}{count + 1:04d}"
