"""Where on the bow each reference measurement is read. Common practice, no source."""

from django.utils.translation import gettext_lazy as _

from fleet.vocabulary import MeasurementKind

WHERE_TO_MEASURE = {
    MeasurementKind.AXLE_TO_AXLE: _("at brace, centre of the upper axle to centre of the lower"),
    MeasurementKind.BRACE_HEIGHT: _("at brace, string to the throat of the grip, square to the string"),
    MeasurementKind.DRAW_LENGTH: _("on the board at full draw, nocking point to the throat of the grip (true draw)"),
    MeasurementKind.PEAK_WEIGHT: _("on the board, highest reading of the scale during the draw"),
    MeasurementKind.HOLDING_WEIGHT: _("on the board, scale reading at full draw against the stops"),
    MeasurementKind.LET_OFF: _("100 x (1 - holding / peak)"),
    MeasurementKind.TILLER: _("upper less lower distance, limb at the riser to the string"),
    MeasurementKind.NOCKING_HEIGHT: _("nocking point above square, with a bow square on the string"),
    MeasurementKind.CENTRE_SHOT: _("arrow's centre from the riser's side, at the rest"),
    MeasurementKind.PEEP_HEIGHT: _("centre of the peep above the nocking point"),
    MeasurementKind.LIMB_BOLT_TURNS: _("turns out from bottomed, both bolts alike"),
    MeasurementKind.HOLE_DISTANCE_UPPER: _("upper cam: cable to the centre of its reference hole"),
    MeasurementKind.HOLE_DISTANCE_LOWER: _("lower cam: cable to the centre of its reference hole"),
    MeasurementKind.TIMING_MARK_UPPER: _("upper cam: mark to the limb edge, by rule"),
    MeasurementKind.TIMING_MARK_LOWER: _("lower cam: mark to the limb edge, by rule"),
    MeasurementKind.STOP_SYNC: _("on the board: gap left at the second stop when the first touches"),
    MeasurementKind.TWISTS: _("whole turns, counted from one end loop"),
}
