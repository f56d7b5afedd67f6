"""Makes a shop that is open now, in a book of its own:  python -m tests.faults.shop_now HOW_MANY_BOWS

Recurves K-0, K-1, ... on the rack, and a counter's device. The last line on the output is the device's secret.
"""

import os
import sys
from datetime import UTC, datetime, timedelta

import django


def main(bows: int) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")
    django.setup()
    from fleet import record
    from service import decide
    from tests import personas

    personas.NOW = datetime.now(UTC) - timedelta(minutes=1)
    shop = personas.shop()
    for number in range(bows):
        personas.fitted_bow(shop, kind="recurve", tag=f"K-{number}", days_ago=10)
    decide.rebuild(personas.NOW)
    scopes = ["shots", "readings", "read"]
    print(record.make_device_token(by=shop.owner, site=shop.site, name="Lane 3", scopes=scopes, now=personas.NOW)[1])


if __name__ == "__main__":
    main(int(sys.argv[1]))
