"""An invented shop on paper: a usual order, a recurve's, and one with everything long."""

from dataclasses import replace
from datetime import UTC, date, datetime

from service.printing.sheets import (
    BowFacts,
    CordRow,
    LifeUsed,
    MeasurementRow,
    PartLine,
    QueueCover,
    QueueLine,
    Reason,
    ReferenceOrigin,
    WorkOrderSheet,
)
from service.units import Dimension, Units, to_si

PRINTED_AT = datetime(2025, 7, 14, 6, 45, tzinfo=UTC)
DAY = date(2025, 7, 14)


def inches(value: float) -> float:
    return to_si(value, "in")


def pounds(value: float) -> float:
    return to_si(value, "lb")


def length(name: str, reference_in: float, tolerance_in: float, where: str, tool: str = "rule R-1") -> MeasurementRow:
    return MeasurementRow(
        name,
        Dimension.LENGTH,
        inches(reference_in),
        inches(tolerance_in),
        inches(tolerance_in / 2),
        where,
        tool,
    )


MEASUREMENTS = (
    length("Axle to axle", 33.25, 1 / 8, "between the axle centres, on the left side"),
    length("Brace height", 6.875, 1 / 8, "from the string to the throat of the grip, square to the string"),
    length("Reference hole distance, upper cam", 1.1875, 1 / 16, "buss cable to the centre of the hole"),
    length("Reference hole distance, lower cam", 1.15625, 1 / 16, "control cable to the centre of the hole"),
    length("Stop sync", 0.0, 1 / 16, "gap at the second stop when the first one touches", "draw board D-1"),
    length("Draw length", 26.25, 1 / 4, "on the draw board, to the throat of the grip", "draw board D-1"),
    MeasurementRow(
        "Peak weight",
        Dimension.FORCE,
        pounds(50.0),
        pounds(2.0),
        pounds(1.0),
        "highest reading on the draw board",
        "scale S-2",
    ),
)

CORDS = (
    CordRow(
        "string",
        "HMPE 24 strands, 58 1/4 in",
        "L-2231",
        date(2024, 8, 2),
        LifeUsed(0.58, 0.17, 0.11, "rated life assumed"),
        49,
        "24 1/2 turns",
        to_be_replaced=True,
    ),
    CordRow(
        "buss cable",
        "HMPE 24 strands, 34 1/8 in",
        "L-2232",
        date(2024, 8, 2),
        LifeUsed(0.58, 0.17, -0.02),
        38,
        "add 1 1/2",
        to_be_replaced=False,
    ),
    CordRow("control cable", "HMPE 24 strands, 36 in", "", None, None, None, "twist until the mark returns", False),
)

USUAL = WorkOrderSheet(
    number="2025-0412",
    shop="Fernhollow Range",
    site="Main hall",
    units=Units.IMPERIAL,
    planned_on=DAY,
    technician="Maren Ostby",
    minutes=55,
    bow=BowFacts(
        "FH-017",
        "K7-20931",
        "Kestrelwood Tarn 33",
        "right hand",
        "compound",
        "hybrid cam",
        inches(26.25),
        inches(28.0),
        pounds(50.0),
    ),
    reasons=(
        Reason(
            "Replace string",
            "string at 0.86 of rated life: shots 0.58, time 0.17, heat 0.11; cap 1.00 on 2 Aug",
        ),
        Reason("Timing check", "upper hole distance leaves 1/16 in about 20 July (9 July to 4 August)"),
    ),
    likely_cause="buss cable longer by 3/64 in (± 1/64 in); the string agrees with its reference",
    reference=ReferenceOrigin(3, "draw board", "Maren Ostby", date(2024, 8, 2)),
    measurements=MEASUREMENTS,
    cords=CORDS,
    steps=(
        "Read both timing marks and take every measurement above before anything is loosened.",
        "Relax the bow in a press that fits it.",
        "Take the old string off, fit the new one with 24 1/2 turns.",
        "Put 1 1/2 turns into the buss cable; both legs of the yoke alike.",
        "Let the press down slowly. Bring the lower hole to 1 5/32 in, then the upper to 1 3/16 in.",
        "On the draw board, make both stops touch together.",
        "Check draw length, then peak weight, then axle to axle.",
        "Fit peep and nocking point, shoot in 100 shots, measure again, mark the cams.",
    ),
    parts=(
        PartLine(1, "string HMPE 24 strands, 58 1/4 in", "drawer B3"),
        PartLine(1, "serving thread, 0.019 in"),
    ),
    warnings=(),
    assumed=("brace arms 45/30/15 mm", "rated life 5,000 shots / 12 months", "heat coefficient 118 kJ/mol"),
    second_person="",
    url="https://192.168.40.12:8443/orders/2025-0412/",
)

RECURVE = replace(
    USUAL,
    number="2025-0413",
    bow=BowFacts("FH-103", "", "Larkmoor Dell 66", "left hand", "recurve", "", None, inches(28.0), pounds(24.0)),
    reasons=(Reason("Inspection", "30 days since the last one; house maximum in rental use"),),
    likely_cause="",
    measurements=(
        length("Brace height", 8.5, 1 / 4, "from the string to the throat of the grip"),
        length("Tiller", 0.125, 1 / 16, "upper less lower, limb root to string"),
    ),
    cords=(CORDS[0],),
    parts=(),
    assumed=(),
    url="https://192.168.40.12:8443/orders/2025-0413/",
)

LONG = replace(
    USUAL,
    number="2025-0414-REWORK-2",
    technician="Bartholomäus Östergård-Wickenstein",
    bow=BowFacts(
        "WILDWATER-CAMP-00117",
        "SERIAL-ABCDEFGHIJKLMNOPQRSTUVWXYZ-0123456789-0123456789",
        "Kestrelwood Longford Half-Blackened Edition à poulies équilibrées, 33 ¼ in",
        "right hand",
        "compound",
        "binary cam",
        inches(26.25),
        inches(28.0),
        pounds(60.0),
    ),
    reasons=(
        *USUAL.reasons,
        Reason("Notice 2025-3", "cord lots L-2230 to L-2239: serving separated on two bows of another range " * 2),
        Reason(
            "Heat inspection",
            "72.4 °C in the vehicle on 2025-07-11 for 3.5 h; above 70 °C an inspection opens",
        ),
    ),
    measurements=tuple(
        replace(
            row,
            where=f"{row.where}; read twice and write down the mean of both readings, to the nearest 1/32 in",
        )
        for row in (*MEASUREMENTS, *MEASUREMENTS[:5])
    ),
    cords=tuple(
        replace(
            cord,
            spec=f"{cord.spec}, HMPE/LCP blend, colours as found on the bow, served ends and a served middle",
        )
        for cord in CORDS
    ),
    steps=tuple(
        f"{step} Write down what you see before you go on to the next step."
        for step in (*USUAL.steps, *USUAL.steps[:4])
    ),
    parts=tuple(
        PartLine(n, f"part number {n} of a set with a rather long description", "stock room, upper shelf")
        for n in range(1, 6)
    ),
    warnings=("The cord was at 72.4 °C on 2025-07-11: look for glazing before the bow is pressed.",),
    second_person="full set replaced: a different person checks timing and stops",
    url="https://bench.wildwater-camp.example:8443/orders/2025-0414-REWORK-2/",
)


def metric(sheet: WorkOrderSheet) -> WorkOrderSheet:
    return replace(sheet, units=Units.METRIC)


def queue(sheets: tuple[WorkOrderSheet, ...], technicians: tuple[str, ...] = ("Maren Ostby",)) -> QueueCover:
    """A cover that lists these sheets."""
    return QueueCover(
        shop="Fernhollow Range",
        site="Main hall",
        on=DAY,
        technicians=technicians,
        lines=tuple(
            QueueLine(
                sheet.number,
                sheet.bow.tag,
                sheet.bow.model,
                "rack 2",
                tuple(reason.need for reason in sheet.reasons),
                sheet.technician,
                sheet.minutes,
                "booked from 2025-07-15",
            )
            for sheet in sheets
        ),
        parts=tuple(part for sheet in sheets for part in sheet.parts),
        minutes_available=480,
        printed_at=PRINTED_AT,
    )


def a_day(orders: int) -> tuple[WorkOrderSheet, ...]:
    """So many different orders, of both kinds of bow."""
    return tuple(
        replace(
            RECURVE if order % 3 == 0 else USUAL,
            number=f"2025-{order:04d}",
            bow=replace((RECURVE if order % 3 == 0 else USUAL).bow, tag=f"FH-{order:03d}", serial=f"K7-{order:05d}"),
            likely_cause=f"buss cable longer by {order}/64 in (± 1/64 in)",
            url=f"https://192.168.40.12:8443/orders/2025-{order:04d}/",
        )
        for order in range(1, orders + 1)
    )
