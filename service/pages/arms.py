"""The arms measured on one bow: what counts for each, whence, and entering one."""

from dataclasses import dataclass
from datetime import UTC, datetime

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Bow, MeasuringTool
from fleet.record.arms import ARM_RANGES
from fleet.refusal import Refused
from fleet.vocabulary import Arm, CamEnd, Role, ToolKind
from service.bow_geometry import ArmInUse, arms_in_use
from service.pages.access import Here, bow_page
from service.pages.boxes import Box, read_within
from service.units import Dimension, Units, format_length


@dataclass
class ArmLine:
    """One arm: what counts now, and the field for a measurement (m; empty takes the bow's own back)."""

    use: ArmInUse
    name: str
    shown: str
    box: Box
    value_m: float | None = None

    @property
    def reference(self) -> str:
        """Where entering it by taps starts from: what counts now."""
        return self.shown


@bow_page(Role.TECHNICIAN)
def arms(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Show the arms of a bow, or record those that were typed."""
    data = request.POST if request.method == "POST" else None
    lines = [_line(use, Units(bow.site.units), data) for use in arms_in_use(bow)]
    slips = [line.box for line in lines if line.box.error]
    tools = MeasuringTool.objects.filter(site=bow.site, kind=ToolKind.RULE)
    if data is not None and not slips:
        try:
            count = _record(bow, here, lines, tools.filter(code=data.get("tool", "")).first())
        except Refused as problem:
            messages.error(request, str(problem), extra_tags="stop")
        else:
            said = _("%(count)d arms of %(tag)s are on record as measured.") % {"count": count, "tag": bow.tag}
            messages.success(request, said, extra_tags="good")
            return redirect("arms", tag=bow.tag)
    content = {"bow": bow, "lines": lines, "slips": slips, "tools": tools, "chosen": data and data.get("tool", "")}
    return render(request, "bench/arms.html", content, status=422 if slips else 200)


def _line(use: ArmInUse, system: Units, data: QueryDict | None) -> ArmLine:
    name = f"{Arm(use.arm).label}, {CamEnd(use.end).label}"
    own = use.own.value_m if use.own else None
    text = "" if own is None else format_length(own, system)
    box = Box(f"{use.end}-{use.arm}", name, text, kept=own, kept_text=text)
    if data is not None:
        box.text = data.get(box.name, "")
    line = ArmLine(use, name, format_length(use.value_m, system), box)
    line.value_m = read_within(box, Dimension.LENGTH, ARM_RANGES[use.arm], system)
    return line


def _record(bow: Bow, here: Here, lines: list[ArmLine], tool: MeasuringTool | None) -> int:
    """Record what was typed anew, all or nothing; the count of arms that are the bow's own then."""
    now = datetime.now(UTC)
    with transaction.atomic():
        for line in lines:
            if line.value_m != line.box.kept:
                record.measure_arm(
                    by=here.person,
                    bow=bow,
                    end=line.use.end,
                    arm=line.use.arm,
                    value_m=line.value_m,
                    at=now,
                    now=now,
                    tool=tool if line.value_m is not None else None,
                )
    return sum(line.value_m is not None for line in lines)
