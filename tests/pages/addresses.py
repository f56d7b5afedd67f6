"""Which addresses are lists or pages of one bow: what the page budget and the count of queries hold for.

Filled in with what a test's own book has: `{tag}`, `{find}` (part of a tag), `{lot}`, `{booking}`, `{notice}`,
`{action}` (bows held in one act), `{place}`, `{order}`, `{incident}`, `{coefficient}` (assumed by some cord).
"""

LISTS: dict[str, tuple[str, ...]] = {
    "due": (
        "/due/",
        "/due/?when=past",
        "/due/?when=soon",
        "/due/?kind=compound&state=ready",
        "/due/?find={find}",
        "/due/?place={place}",
        "/due/?rests=assumed",
        "/due/?rests=arms",
        "/due/?rests=known",
        "/due/?rests={coefficient}",
        "/due/?page=9999",
    ),
    "bows": ("/bows/", "/bows/?find={find}", "/bows/?state=ready", "/bows/?state=held", "/bows/?page=9999"),
    "timing-due": ("/due/timing/", "/due/timing/?page=9999"),
    "turnaround-fleet": ("/turnaround/", "/turnaround/?find={find}"),
    "next-guest": ("/next-guest/", "/next-guest/?hours=1&hand=right"),
    "guests": ("/guests/",),
    "walk-in": (
        "/guests/walk-in/",
        "/guests/walk-in/?hand=right&expected_shots=9&start=2026-07-02T10:00&end=2026-07-02T11:00"
        "&draw_length=&peak_weight_min=&peak_weight_max=",
    ),
    "booking": ("/guests/{booking}/",),
    "find": ("/find/?find={find}&all=1", "/find/?find={lot}"),
    "queue": ("/queue/", "/queue/?day=2026-06-30"),
    "order-list": (
        "/orders/",
        "/orders/?find={find}&status=issued",
        "/orders/?sites=all&from=2026-06-01&until=2026-07-31",
        "/orders/?technician=larkspur-technician",
        "/orders/?page=9999",
    ),
    "labels": ("/labels/", "/labels/?find={find}"),
    "notices": ("/notices/",),
    "notice": ("/notices/{notice}/",),
    "trace": ("/notices/trace/?lot={lot}", "/notices/trace/?incident={incident}"),
    "places": ("/places/",),
    "place": ("/places/{place}/",),
    "parts": ("/parts/",),
    "part": ("/parts/of/QW-string/",),
    "reorder": ("/parts/reorder/",),
    "hold-many": (
        "/hold/?list=lot&lot={lot}",
        "/hold/?list=due&query=when%3Dpast",
        "/hold/?list=bows&query=state%3Dready",
    ),
    "held-before": ("/held/",),
    "held-together": ("/held/{action}/",),
    "composition": ("/fleet/",),
    # With `?whole=1` it adds up every entry of shots there is: asked for by a button, and slow by its nature.
    "costs": ("/costs/",),
    "calibration": ("/calibration/",),
    "cord-specs": ("/cord-specs/",),
    "cord-spec": ("/cord-specs/QW-string/",),
    "spec-history": ("/cord-specs/QW-string/history/", "/cord-specs/QW-string/history/?years=1"),
    "house-coefficients": ("/coefficients/",),
    "house": ("/house/",),
    "first-steps": ("/first-steps/",),
    "devices": ("/devices/",),
    "feeds": ("/calendars/",),
    "nights": ("/nights/",),
    "status": ("/status/",),
    "outlook": ("/outlook/",),
}

OF_ONE_BOW: dict[str, tuple[str, ...]] = {
    "bow": ("/bows/{tag}/",),
    "bow-life": ("/bows/{tag}/life/",),
    "bow-move": ("/bows/{tag}/move/",),
    "bow-retire": ("/bows/{tag}/retire/",),
    "cord": ("/bows/{tag}/cords/string/",),
    "arms": ("/bows/{tag}/arms/",),
    "references": ("/bows/{tag}/references/",),
    "measured-history": ("/bows/{tag}/measurements/",),
    "turnaround": ("/turnaround/{tag}/",),
    "turnaround-answer": ("/turnaround/{tag}/answers/{check}/",),
    "order": ("/orders/{order}/",),
    "draw-board": ("/orders/{order}/draw-board/",),
}

# The other pages, and why they are neither: nothing on them grows with the fleet.
OTHERS: dict[str, str] = {
    "home": "sends on to the page of one's work",
    "sign-in": "a form",
    "sign-in-code": "a form",
    "first-site": "a form",
    "second-factor": "a form",
    "second-factor-reset": "a form",
    "password": "a form",
    "record-new": "a form",
    "record-change": "a form",
    "change-booking": "a form",
    "notice-new": "a form; whom it would match is shown when it is posted",
    "coefficient": "a form",
    "house-coefficient": "a form",
    "outlook-move": "a form; it prices one job against the plan",
    "outlook-what-if": "asks the solver for a second plan",
    "morning-mail": "a form",
    "take-in": "a form",
    "take-in-preview": "as long as the file that was sent",
    "how-to-measure": "a text",
    "no-line": "a text",
    "leaving": "a form",
}

# Files and answers to programs.
NO_PAGES = {
    "due-file", "costs-file", "parts-file", "order-list-file", "queue-pdf", "order-pdf", "bow-record-pdf",
    "bow-record-json",
    "bow-record-zip", "line",
    "reorder-csv", "reorder-pdf", "take-in-sample", "take-in-problems", "turnaround-photo", "turnaround-worker",
    "feed-ics", "feed-csv", "live", "ready", "metrics", "sign-out",
}  # fmt: skip

# Lists that rest on the plan's problem or on every bow that could serve a guest.
OF_THE_PLAN = {"outlook", "queue", "guests", "walk-in", "next-guest", "booking", "part", "parts", "reorder"}


def filled(addresses: dict[str, tuple[str, ...]], **known: object) -> dict[str, tuple[str, ...]]:
    """The addresses with a book's own values in place of the names in braces."""
    return {name: tuple(one.format(**known) for one in some) for name, some in addresses.items()}
