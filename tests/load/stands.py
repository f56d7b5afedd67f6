"""What stands in the book after a crowd, as JSON on the last line:  python -m tests.load.stands SINCE

Keys of checks, of entries of shots and of readings since that instant, each as often as it stands; bows that wait for
their refresh; and as of when each bow's wear was computed (epoch s).
"""

import json
import os
import sys
from datetime import datetime
from typing import Any

import django


def main(since: datetime) -> dict[str, Any]:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")
    django.setup()
    from fleet.models import Shots, TemperatureReading, TurnaroundCheck
    from service.models import CordWear, StaleBow

    readings = TemperatureReading.objects.filter(at__gte=since).values_list("place__name", "at")
    wears = CordWear.objects.filter(fitting__removed_at=None)
    return {
        "checks": list(TurnaroundCheck.objects.values_list("key", flat=True)),
        "shots": list(Shots.objects.filter(entered_at__gte=since).values_list("key", flat=True)),
        "readings": [f"{place} {at.isoformat()}" for place, at in readings],
        "waiting": StaleBow.objects.count(),
        "as_of": {tag: at.timestamp() for tag, at in wears.values_list("fitting__bow__tag", "as_of")},
    }


if __name__ == "__main__":
    print(json.dumps(main(datetime.fromisoformat(sys.argv[1]))))
