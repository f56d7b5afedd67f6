"""An independent, non-linear bow: eccentric circular tracks, solved with scipy. It shares no code with
`service.timing` and knows no brace arms: it only adds up straight spans and wrapped arcs.

Axles on the y axis, lower at 0, upper at the axle-to-axle distance; +x is the archer's side. A track is a circle
fixed to a cam whose centre is off the axle. Rotations are positive when they wrap more string: counter-clockwise
at the upper cam, clockwise at the lower.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import root

ARCHER, RISER = +1, -1
"""The side of the axle on which a cord leaves its track: string and let-out, and take-up."""


@dataclass(frozen=True)
class Track:
    """A circle of a cam: radius (m), centre off the axle (m) at an angle from +x (rad) at brace."""

    radius: float
    eccentricity: float = 0.0
    phase: float = 0.0
    side: int = ARCHER


@dataclass(frozen=True)
class Hole:
    """A hole in the cam: distance from the axle (m) and angle from +x at brace (rad)."""

    distance: float
    phase: float


POINT = Track(0.0)
"""A yoke's end on the axle itself."""


def centre(track, axle, turned):
    angle = track.phase + turned
    return axle + track.eccentricity * np.array([np.cos(angle), np.sin(angle)])


def tangent(upper, lower, ata, turned_upper, turned_lower):
    """The line tangent to both tracks: unit normal, offset, and span between the contact points."""
    c_u = centre(upper, np.array([0.0, ata]), turned_upper)
    c_l = centre(lower, np.zeros(2), turned_lower)
    between = c_u - c_l
    distance = np.hypot(*between)
    normal_offset = lower.side * lower.radius - upper.side * upper.radius
    angle = np.arctan2(between[1], between[0]) - np.arccos(normal_offset / distance)
    normal = np.array([np.cos(angle), np.sin(angle)])
    return normal, angle, np.sqrt(distance**2 - normal_offset**2), c_u, c_l


def cord_length(upper, lower, ata, t_u, t_l):
    """Span plus wrapped arcs, up to a constant. Upper cams turn by +t_u, lower ones by -t_l."""
    _, angle, span, _, _ = tangent(upper, lower, ata, t_u, -t_l)
    wrapped_upper = upper.radius * upper.side * (t_u - angle)
    wrapped_lower = lower.radius * lower.side * (angle + t_l)
    return span + wrapped_upper + wrapped_lower


def arm(track, normal, cam_centre, axle):
    """Perpendicular distance from the axle to the cord's line."""
    return abs((cam_centre - axle) @ normal + track.side * track.radius)


@dataclass(frozen=True)
class Bow:
    """Tracks by name. `cables` are (upper track, lower track) in the order of the bow's cable positions."""

    ata: float
    string: tuple[Track, Track]
    cables: tuple[tuple[Track, Track], ...]
    holes: tuple[tuple[int, str, Hole], ...]
    string_return: Track | None = None
    idler_radius: float = 0.0

    def lengths(self, x):
        """Cord lengths at x = (t_u, t_l, a), up to constants; for a single cam x = (t, a)."""
        t_u, t_l, a = (0.0, *x) if self.string_return else x
        ata = self.ata + a
        string = cord_length(*self.string, ata, t_u, t_l)
        if self.string_return:
            idler_far = Track(self.idler_radius, side=RISER)
            back = cord_length(idler_far, self.string_return, ata, 0.0, t_l)
            string += back
        return np.array([string, *(cord_length(*cable, ata, t_u, t_l) for cable in self.cables)])

    def solve(self, stretch):
        """The x at which every cord is longer by `stretch` (m)."""
        target = self.lengths(np.zeros(len(stretch))) + stretch
        found = root(lambda x: (self.lengths(x) - target) * 1e3, np.zeros(len(stretch)), tol=1e-14)
        assert np.max(np.abs(self.lengths(found.x) - target)) < 1e-12
        return found.x

    def hole_distance(self, number, x):
        """Distance of a hole's centre from its cable's line (m)."""
        cable, end, hole = self.holes[number]
        t_u, t_l, a = (0.0, *x) if self.string_return else x
        upper, lower = self.cables[cable]
        normal, _, _, c_u, _ = tangent(upper, lower, self.ata + a, t_u, -t_l)
        on_line = c_u @ normal + upper.side * upper.radius
        axle, turned = (np.array([0.0, self.ata + a]), t_u) if end == "upper" else (np.zeros(2), -t_l)
        place = axle + hole.distance * np.array([np.cos(hole.phase + turned), np.sin(hole.phase + turned)])
        return abs(place @ normal - on_line)

    def arms_at_brace(self):
        """What a rule would read at brace: the arms of (string_u, string_l, cable arms...) as pairs (u, l)."""
        pairs = []
        for upper, lower in (self.string, *self.cables):
            normal, _, _, c_u, c_l = tangent(upper, lower, self.ata, 0.0, 0.0)
            pairs.append((arm(upper, normal, c_u, np.array([0.0, self.ata])), arm(lower, normal, c_l, np.zeros(2))))
        return pairs

    def return_arm_at_brace(self):
        idler_far = Track(self.idler_radius, side=RISER)
        normal, _, _, _, c_l = tangent(idler_far, self.string_return, self.ata, 0.0, 0.0)
        return arm(self.string_return, normal, c_l, np.zeros(2))

    def hole_travel_at_brace(self, number):
        """q: the signed distance along the cable from its contact point to the hole's foot, less the share of the
        line's own turn, (dc/dtheta)/span; all from lengths that can be read at brace."""
        cable, end, hole = self.holes[number]
        upper, lower = self.cables[cable]
        normal, _, span, c_u, c_l = tangent(upper, lower, self.ata, 0.0, 0.0)
        along = np.array([-normal[1], normal[0]])
        axle, track, cam = (np.array([0.0, self.ata]), upper, c_u) if end == "upper" else (np.zeros(2), lower, c_l)
        contact = cam + track.side * track.radius * normal
        place = axle + hole.distance * np.array([np.cos(hole.phase), np.sin(hole.phase)])
        turn = 1.0 if end == "upper" else -1.0
        # The hole and the contact point both turn with the cam; the line itself turns a little as its end moves
        # sideways by d(n.c)/dtheta = -(c - axle).along on the eccentric track.
        sideways = -(cam - axle) @ along * turn
        line_turn = -sideways / span if end == "upper" else sideways / span
        foot = (place - contact) @ along
        signed = (place - contact) @ normal
        travel = -foot * (turn - line_turn)
        return travel * np.sign(signed)


def eccentric(arm_m, eccentricity, lean_rad, side, end, radius=None):
    """A track whose arm at brace is about `arm_m`: centre off the axle toward the cord, leaning by `lean_rad`."""
    return Track(
        radius if radius is not None else arm_m - eccentricity * np.cos(lean_rad),
        eccentricity,
        (0.0 if side == ARCHER else np.pi) + lean_rad * (1 if end == "upper" else -1),
        side,
    )
