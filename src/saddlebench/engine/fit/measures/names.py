"""What can be read off a settled saddle: names, units, and the place and state each belongs to.

Pressures have names of their own, apart from every other measure: a limit that can answer "not right" takes a
`MeasureKey`, and a pressure has none.
"""

from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.fit.loads import State
from saddlebench.engine.units import QUANTITIES, Unit


class Side(StrEnum):
    """Which side of the horse; near is its left, off its right."""

    BOTH = ""
    NEAR = "near"
    OFF = "off"

    @property
    def mirrored(self) -> "Side":
        """The side this one becomes in a mirror."""
        return {Side.NEAR: Side.OFF, Side.OFF: Side.NEAR}.get(self, self)


class Part(StrEnum):
    """Which part of the bearing length, in thirds from the front."""

    WHOLE = ""
    FRONT = "front"
    MIDDLE = "middle"
    REAR = "rear"


THIRDS = (Part.FRONT, Part.MIDDLE, Part.REAR)


class MeasureName(StrEnum):
    """Measures of shape, load and balance."""

    WITHERS_TOP = "clearance over the withers"
    WITHERS_SIDE = "clearance beside the withers"
    WITHERS_DROP = "drop of the front when the rider mounts"
    SPINE_HEIGHT = "height over the spine"
    CHANNEL_WIDTH = "narrowest channel width"
    SPINE_MARGIN = "channel edge beyond the spine strip"
    POINT_ANGLE = "tree point angle against the back"
    FACE_ANGLE = "panel face angle against the back"
    WIDTH_MISMATCH = "width against the back"
    BEHIND_SHOULDER = "distance behind the shoulder edge"
    TIP_FLARE = "flare of the front tip over the shoulder"
    REACH_AT_REST = "reach onto the shoulder blade at rest"
    REACH_FULL_STRIDE = "reach onto the shoulder blade at full stride"
    PAST_LAST_RIB = "bearing past the last-rib mark"
    LOAD_PAST_LAST_RIB = "load past the last-rib mark"
    BRIDGE_DEPTH = "depth of the bridge"
    BRIDGE_LENGTH = "length of the bridge"
    ROCKING = "cantle rise under 100 N on the pommel"
    PITCH_STIFFNESS_RATIO = "pitch stiffness against a panel bearing everywhere"
    SEAT_TILT = "seat tilt from design"
    SEAT_SHIFT = "lowest seat point from design"
    LEAN = "sideways lean"
    YAW = "yaw"
    OFF_LINE = "cantle off the midline"
    STRAPS_FROM_GROOVE = "girth straps ahead of the girth groove"
    LEFT_SHARE = "left share of the load"
    THIRD_SHARE = "share of the load"
    END_SHARE = "share of the load on the end 50 mm"
    EDGE_SHARE = "share of the load on the outer 15 mm"
    INNER_OUTER_EDGE_SHARE = "share of the load within 10 mm of an edge"
    CENTRE_OF_PRESSURE_ALONG = "centre of pressure behind the shoulder mark"
    CENTRE_OF_PRESSURE_ACROSS = "centre of pressure left of the midline"
    CONTACT_AREA = "contact area"
    SURFACE_USED = "share of the bearing surface used"
    PRESSURE_RATIO = "99th percentile of pressure over its mean"
    SLIP_TENDENCY = "share of the load where friction is used up"
    SADDLE_POINTS_UNEQUAL = "saddle's points, near against off"
    SADDLE_BARS_UNEQUAL = "saddle's stirrup bars, near against off"
    SADDLE_PANELS_UNEQUAL = "saddle's panels, near against off"
    RIDER_AND_TACK = "rider and tack over the horse's mass"


class PressureName(StrEnum):
    """Measures of pressure; they rank and show evenness."""

    PEAK = "peak pressure"
    MEAN = "mean pressure over the contact"
    P99 = "99th percentile of pressure"


_MM, _DEGREE, _SHARE = QUANTITIES["length"], QUANTITIES["angle"], QUANTITIES["share"]
_RATIO = Unit("×", 1.0, 1)
_UNITS = {
    MeasureName.POINT_ANGLE: _DEGREE,
    MeasureName.FACE_ANGLE: _DEGREE,
    MeasureName.SEAT_TILT: _DEGREE,
    MeasureName.LEAN: _DEGREE,
    MeasureName.YAW: _DEGREE,
    MeasureName.LOAD_PAST_LAST_RIB: _SHARE,
    MeasureName.LEFT_SHARE: _SHARE,
    MeasureName.THIRD_SHARE: _SHARE,
    MeasureName.END_SHARE: _SHARE,
    MeasureName.EDGE_SHARE: _SHARE,
    MeasureName.INNER_OUTER_EDGE_SHARE: _SHARE,
    MeasureName.SURFACE_USED: _SHARE,
    MeasureName.SLIP_TENDENCY: _SHARE,
    MeasureName.RIDER_AND_TACK: _SHARE,
    MeasureName.CONTACT_AREA: QUANTITIES["area"],
    MeasureName.PITCH_STIFFNESS_RATIO: _RATIO,
    MeasureName.PRESSURE_RATIO: _RATIO,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureKey:
    """One measure at one place in one state."""

    name: MeasureName
    state: State | None = None
    """None for what needs no settling."""
    side: Side = Side.BOTH
    part: Part = Part.WHOLE

    @property
    def unit(self) -> Unit:
        """The unit people see; values are held in the engine's own."""
        return _UNITS.get(self.name, _MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureKey:
    """One pressure at one place in one state."""

    name: PressureName
    state: State
    part: Part = Part.WHOLE

    @property
    def unit(self) -> Unit:
        """The unit people see; values are held in the engine's own."""
        return QUANTITIES["pressure"]


Key = MeasureKey | PressureKey
