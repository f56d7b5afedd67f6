"""A process that goes on writing on a bow of its own until its input is closed:  python -m tests.faults.busy_writer WHO

Rounds of writes as `tests.faults.writer` does them (shots, a file, shots, an order to its release) and a check with a
photo. A line on the output acknowledges each write once it is committed.
"""

import os
import sys
import threading
from io import BytesIO
from itertools import count

import django

PHOTO = "photo"
PAUSE_S = 0.1
SIDE = 8


def check_with_photo(tag: str, number: int) -> None:
    """A check between guests in which all is well, and a picture that tells its number by its colour."""
    from django.core.files.base import ContentFile
    from PIL import Image

    from fleet import record
    from fleet.models import Bow, Person
    from tests.personas import NOW

    me = Person.objects.get(username="larkspur-counter")
    check = record.record_turnaround(
        by=me,
        bow=Bow.objects.get(tag=tag),
        at=NOW,
        answers={"limbs": {"ok": True}, "number": number},
        measurements=[],
        verdict="ready",
        key=f"busy-{number}",
    )
    picture = BytesIO()
    Image.new("RGB", (SIDE, SIDE), colour_of(number)).save(picture, "PNG")
    record.keep_check_photo(by=me, check=check, topic="limbs", image=ContentFile(picture.getvalue(), f"{number}.png"))


def colour_of(number: int) -> tuple[int, int, int]:
    """A colour for each number."""
    return number % 256, number // 256, 77


def main(who: int) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")
    django.setup()
    import time_machine

    from tests.faults import writer
    from tests.personas import NOW

    over = threading.Event()
    threading.Thread(target=lambda: (sys.stdin.read(), over.set()), daemon=True).start()
    kinds = len(writer.KINDS)
    with time_machine.travel(NOW):
        for turn in count():
            # So numbered, all writes of this process are on the bow K-WHO, and no other's are.
            first = (turn * writer.BOWS + who) * kinds
            for number in range(first, first + kinds):
                writer.write(number)
                print("written", writer.kind_of(number), flush=True)
                # People do not write without a breath, and a backup has to be made meanwhile on two cores.
                if over.wait(PAUSE_S):
                    return
            check_with_photo(f"K-{who}", first)
            print("written", PHOTO, flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]))
