"""Order numbers: site, year, and a count that starts at 1 each year."""

from datetime import date

from fleet.models import Site
from service.models import WorkOrder


def next_number(site: Site, day: date) -> str:
    """The next free number. Inside a transaction, which holds the site: a second taker waits for the first."""
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)
    prefix = f"{site.code.upper()}-{day:%Y}-"
    # The last one issued has the highest count; as text, 10000 would come before 9999.
    last = WorkOrder.objects.filter(site=site, number__startswith=prefix).order_by("-pk").first()
    count = int(last.number.removeprefix(prefix)) if last is not None else 0
    return f"{prefix}{count + 1:04d}"
