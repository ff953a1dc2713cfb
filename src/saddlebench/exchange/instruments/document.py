"""The fields of an instrument's description, as a person writes them: lengths in mm, angles in degrees."""

import json
from dataclasses import asdict
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, RootModel

from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Placing,
    Scale,
    Scan,
    TapeAndHand,
    ToplineChain,
    TracedCurve,
)

Length = Annotated[float, Field(ge=-3000.0, le=3000.0)]
Size = Annotated[float, Field(gt=0.0, le=3000.0)]
Spread = Annotated[float, Field(ge=0.0, le=200.0)]
Angle = Annotated[float, Field(ge=-180.0, le=180.0)]
AngleSpread = Annotated[float, Field(ge=0.0, le=45.0)]
Name = Annotated[str, Field(min_length=1, max_length=120)]
Links = Annotated[list[Size], Field(min_length=1, max_length=1000)]


class _Fields(BaseModel):
    """Closed and finite: a field that is misspelt is refused, not passed over."""

    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, allow_inf_nan=False, use_attribute_docstrings=True
    )


class PlacingFields(_Fields):
    """How well the instrument is put on a back: standard deviations."""

    along_mm: Spread = 3.0
    """Of a station's place along the back."""
    midline_mm: Spread = 1.0
    """Of the instrument's middle beside the dorsal midline."""
    tilt_deg: AngleSpread = 1.0
    """Of leaning to one side, per station."""
    lean_deg: AngleSpread = 1.0
    """Of leaning forward or back, per station."""
    contact_mm: Spread = 1.0
    """Of how hard each point presses into coat and skin."""
    height_mm: Spread = 2.0
    """Of a height of the topline typed for a distance."""

    def placing(self) -> Placing:
        """Return the engine's own."""
        return Placing(**self.model_dump())


class ScaleFields(_Fields):
    """A dial or rule: how much one unit of a reading is, and which readings it can show."""

    per_division: Annotated[float, Field(ge=-1000.0, le=1000.0)] = 1.0
    """Degrees (a joint) or mm (a pin) in one unit of the reading; negative if it counts the other way."""
    lowest: float
    """Lowest reading, in its own unit."""
    highest: float
    """Highest reading, in its own unit."""
    step: Annotated[float, Field(gt=0.0)]
    """The smallest step that is read off, in the reading's own unit."""

    def scale(self) -> Scale:
        """Return the engine's own."""
        return Scale(**self.model_dump())


class ArmFields(_Fields):
    """Rigid links, joint to joint, outward from the midline (or back along the topline)."""

    link_mm: Links
    """Length of every link, joint to joint; joint 1 is the inner end of link 1."""
    scale: ScaleFields
    """Of a joint: degrees in one unit of the reading, range, step. Positive bends towards the back."""
    first_joint_out_mm: Length = 0.0
    """From the midline (or the start mark) to joint 1."""
    first_joint_up_mm: Length = 0.0
    """Joint 1 above the skin at the midline (or the start mark)."""
    pad_along_mm: list[Size] | None = None
    """Of every link: inner joint to the pad that touches the back; left out: at the link's outer end."""
    pad_below_mm: list[Length] | None = None
    """Of every link: its line to the pad's tip; left out: 0."""
    zero_deg: list[Angle] | None = None
    """Of every joint: its angle when the dial shows 0; left out: 0."""
    joint_sd_deg: AngleSpread | list[AngleSpread] = 0.5
    """Standard deviation of one reading beyond the rounding: one for all joints, or one for each."""
    zero_sd_deg: AngleSpread = 0.3
    """Standard deviation of every joint's zero, the same error at every station."""

    def arm(self) -> ChainArm:
        """Return the engine's own."""
        n = len(self.link_mm)
        sd = self.joint_sd_deg
        return ChainArm(
            link_mm=tuple(self.link_mm),
            first_joint_out_mm=self.first_joint_out_mm,
            first_joint_up_mm=self.first_joint_up_mm,
            pad_along_mm=tuple(self.link_mm if self.pad_along_mm is None else self.pad_along_mm),
            pad_below_mm=(0.0,) * n if self.pad_below_mm is None else tuple(self.pad_below_mm),
            zero_deg=(0.0,) * n if self.zero_deg is None else tuple(self.zero_deg),
            scale=self.scale.scale(),
            joint_sd_deg=tuple(sd) if isinstance(sd, list) else (sd,) * n,
            zero_sd_deg=self.zero_sd_deg,
        )


class ToplineFields(ArmFields):
    """A chain laid back along the topline; its joint 1 is the level on which the first link is read."""

    level_step_deg: Annotated[float, Field(gt=0.0, le=10.0)] = 0.5
    """The smallest step read off the level."""


class JointedChainFields(_Fields):
    """Two arms of links that start beside the midline and are laid down over the ribs."""

    family: Literal["jointed chain"]
    name: Name
    left: ArmFields
    right: ArmFields | None = None
    """Left out: as the left."""
    topline: ToplineFields | None = None
    """Left out: heights of the topline are typed for distances."""
    placing: PlacingFields = PlacingFields()

    def instrument(self) -> JointedChain:
        """Return the engine's own."""
        topline = None
        if self.topline is not None:
            topline = ToplineChain(arm=self.topline.arm(), level_step_deg=self.topline.level_step_deg)
        return JointedChain(
            name=self.name,
            left=self.left.arm(),
            right=(self.right or self.left).arm(),
            topline=topline,
            placing=self.placing.placing(),
        )


class PinCombFields(_Fields):
    """A bar with sliding pins, held across the back; a reading is a pin's depth below the bar."""

    family: Literal["pin comb"]
    name: Name
    pitch_mm: Size
    """Between neighbouring pins."""
    n_pins: Annotated[int, Field(ge=3, le=1000)]
    """Number of pins, counted from 1 at the horse's left."""
    midline_pin: Annotated[float, Field(ge=1.0, le=1000.0, multiple_of=0.5)]
    """The pin over the midline; 12.5 when the midline lies halfway between pins 12 and 13."""
    scale: ScaleFields
    """Of a pin: mm in one unit of the reading, range, step."""
    pin_sd_mm: Spread = 0.5
    """Standard deviation of one reading beyond the rounding."""
    zero_sd_mm: Spread = 0.2
    """Standard deviation of every pin's zero, the same error at every station."""
    offset_mm: Length | None = None
    """The bar's zero above the midline's skin, if the comb has a foot; left out: from its own pin."""
    offset_sd_mm: Spread = 0.5
    """Standard deviation of that offset, per station."""
    placing: PlacingFields = PlacingFields()

    def instrument(self) -> PinComb:
        """Return the engine's own."""
        return PinComb(
            name=self.name,
            pitch_mm=self.pitch_mm,
            n_pins=self.n_pins,
            midline_pin=self.midline_pin,
            scale=self.scale.scale(),
            pin_sd_mm=self.pin_sd_mm,
            zero_sd_mm=self.zero_sd_mm,
            offset_mm=self.offset_mm,
            offset_sd_mm=self.offset_sd_mm,
            placing=self.placing.placing(),
        )


class TracedCurveFields(_Fields):
    """A flexible curve bent to the back, lifted, and traced on paper."""

    family: Literal["traced curve"]
    name: Name
    mm_per_unit: Annotated[float, Field(ge=0.001, le=1000.0)] = 1.0
    """Millimetres on the horse for one unit on the sheet."""
    scale_sd: Annotated[float, Field(ge=0.0, le=0.5)] = 0.0
    """Relative standard deviation of that scale, the same error at every station."""
    spring_back_sd_mm: Spread = 3.0
    """Standard deviation of how far each end springs when the curve is lifted."""
    point_sd_mm: Spread = 1.0
    """Standard deviation of pencil and rule, each point, beyond the rounding."""
    step: Annotated[float, Field(gt=0.0)] = 1.0
    """The smallest step read off the sheet, in its own unit."""
    placing: PlacingFields = PlacingFields()

    def instrument(self) -> TracedCurve:
        """Return the engine's own."""
        fields = self.model_dump(exclude={"family", "placing"})
        return TracedCurve(**fields, placing=self.placing.placing())


class ScanFields(_Fields):
    """A mesh or cloud of the back, cut into sections after gravity, heading and marks are set."""

    family: Literal["scan"]
    name: Name
    point_sd_mm: Spread = 1.0
    """Standard deviation of the surface's own noise."""
    smoothing_mm: Spread = 5.0
    """Width over which the scanner smooths."""
    registration_sd_mm: Spread = 1.0
    """Of each shift when the scan is set to the marks."""
    registration_sd_deg: AngleSpread = 0.5
    """Of each turn when the scan is set to gravity and heading."""
    scale_sd: Annotated[float, Field(ge=0.0, le=0.5)] = 0.0
    """Relative standard deviation of its size."""
    placing: PlacingFields = PlacingFields(
        along_mm=0.0, midline_mm=0.0, tilt_deg=0.0, lean_deg=0.0, contact_mm=0.0, height_mm=0.0
    )
    """Left out: none, the whole scan being set once."""

    def instrument(self) -> Scan:
        """Return the engine's own."""
        fields = self.model_dump(exclude={"family", "placing"})
        return Scan(**fields, placing=self.placing.placing())


class TapeAndHandFields(_Fields):
    """A tape and an angle: widths across the back at stated depths, and how steep each side falls."""

    family: Literal["tape and hand"]
    name: Name
    width_depths_mm: Annotated[list[Size], Field(min_length=1, max_length=12)] = [30.0, 150.0]
    """Below the skin at the midline, rising: at which a width is taken."""
    width: ScaleFields = ScaleFields(lowest=20.0, highest=900.0, step=5.0)
    """Of a width: mm in one unit of the reading, range, step."""
    width_sd_mm: Spread = 8.0
    """Standard deviation of one width beyond the rounding."""
    depth_sd_mm: Spread = 6.0
    """Standard deviation of the depth at which a hand lies, each side."""
    sides_sd_mm: Spread = 12.0
    """How far a width's middle may stand beside the midline, the same error at every station."""
    card_mm: Size = 100.0
    """Length of the card or phone, downwards along the side."""
    angle: ScaleFields = ScaleFields(lowest=0.0, highest=95.0, step=1.0)
    """Of the card's fall: degrees below level in one unit of the reading, range, step."""
    angle_sd_deg: AngleSpread = 5.0
    """Standard deviation of one angle beyond the rounding."""
    placing: PlacingFields = PlacingFields(
        along_mm=10.0, midline_mm=5.0, tilt_deg=2.0, lean_deg=2.0, contact_mm=4.0, height_mm=8.0
    )

    def instrument(self) -> TapeAndHand:
        """Return the engine's own."""
        fields = self.model_dump(exclude={"family", "placing", "width", "angle", "width_depths_mm"})
        return TapeAndHand(
            **fields,
            width_depths_mm=tuple(self.width_depths_mm),
            width=self.width.scale(),
            angle=self.angle.scale(),
            placing=self.placing.placing(),
        )


Family = JointedChainFields | PinCombFields | TracedCurveFields | ScanFields | TapeAndHandFields


class InstrumentDocument(RootModel[Annotated[Family, Field(discriminator="family")]]):
    """An instrument's description. Lengths in mm, angles in degrees."""


def instrument_schema() -> dict[str, Any]:
    """Return the published JSON Schema (draft 2020-12) of an instrument's description."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **InstrumentDocument.model_json_schema(),
    }


FAMILY_NAMES = {
    JointedChain: "jointed chain",
    PinComb: "pin comb",
    TracedCurve: "traced curve",
    Scan: "scan",
    TapeAndHand: "tape and hand",
}


def instrument_document(instrument: Instrument) -> InstrumentDocument:
    """Return the description of an instrument; its fields bear the engine's own names."""
    held = asdict(instrument) | {"family": FAMILY_NAMES[type(instrument)]}
    # How pieces of one scan were laid on each other is the record's own, not the tool's.
    held.pop("joined", None)
    if held.get("topline") is not None:
        held["topline"] = held["topline"]["arm"] | {"level_step_deg": held["topline"]["level_step_deg"]}
    return InstrumentDocument.model_validate_json(json.dumps(held))
