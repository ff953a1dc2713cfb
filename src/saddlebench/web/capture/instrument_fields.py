"""The fields of an instrument's form, by family."""

from dataclasses import dataclass
from typing import Any

FAMILIES = ("jointed chain", "pin comb", "traced curve", "tape and hand")
FAMILY_HINTS = {
    "jointed chain": "Rigid links laid over the ribs from the midline; the angle of every joint is read.",
    "pin comb": "A bar across the back with sliding pins; the depth of every pin is read.",
    "traced curve": "A flexible curve bent to the back and traced on paper; points of the tracing are read.",
    "tape and hand": "A tape, two hands, an angle: widths at stated depths, and how steep each side falls. "
    "Coarse, and says so.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """One field of the form."""

    path: str
    """Where it stands in the description: `left.scale.step`."""
    words: str
    unit: str = ""
    hint: str = ""
    kind: str = "number"
    """number, whole, lengths, text."""
    group: str = ""
    can_be_blank: bool = False


def _scale(before: str, unit: str, part: str) -> tuple[FormField, ...]:
    group = "The scale"
    return (
        FormField(
            path=f"{before}scale.per_division",
            words="One division is",
            unit=unit,
            group=group,
            hint=f"1 where {part} is read in {'degrees' if unit == '°' else 'mm'} itself.",
        ),
        FormField(path=f"{before}scale.lowest", words="Lowest reading", group=group),
        FormField(path=f"{before}scale.highest", words="Highest reading", group=group),
        FormField(path=f"{before}scale.step", words="Smallest step that is read", group=group),
    )


def _tape_scale(what: str, group: str, unit: str, plain: str) -> tuple[FormField, ...]:
    return (
        FormField(
            path=f"{what}.per_division",
            words="One division is",
            unit=unit,
            group=group,
            hint=f"1 where {plain}; 10 for cm." if unit == "mm" else f"1 where {plain}.",
        ),
        FormField(path=f"{what}.lowest", words="Lowest reading", group=group),
        FormField(path=f"{what}.highest", words="Highest reading", group=group),
        FormField(path=f"{what}.step", words="Smallest step that is read", group=group),
    )


def _of_each_link(arm: str, group: str) -> tuple[FormField, ...]:
    """Return what may differ from link to link of an arm; blank where it does not."""
    described = (
        (
            "pad_along_mm",
            "Pads along their links, from the inner joint",
            "mm",
            "One for each link; blank: at the link's outer end.",
        ),
        (
            "pad_below_mm",
            "Pads below their links",
            "mm",
            "One for each link, or 8 x 6; blank: the joints themselves touch.",
        ),
        (
            "zero_deg",
            "Angle of each joint where its dial shows 0",
            "°",
            "One for each joint; blank: straight.",
        ),
    )
    return tuple(
        FormField(
            path=f"{arm}.{name}",
            words=words,
            unit=unit,
            hint=hint,
            kind="lengths",
            group=group,
            can_be_blank=True,
        )
        for name, words, unit, hint in described
    )


def _another_chain(arm: str, group: str, links: str, hint: str) -> tuple[FormField, ...]:
    """Return the fields of an arm that may be left out, in which case it is as `hint` says."""
    return (
        FormField(
            path=f"{arm}.link_mm",
            words=links,
            unit="mm",
            kind="lengths",
            group=group,
            hint=hint,
            can_be_blank=True,
        ),
        FormField(
            path=f"{arm}.first_joint_out_mm",
            words="Its first joint behind the start mark" if arm == "topline" else "Its first joint out",
            unit="mm",
            group=group,
            can_be_blank=True,
        ),
        FormField(
            path=f"{arm}.first_joint_up_mm",
            words="Its first joint above the skin",
            unit="mm",
            group=group,
            can_be_blank=True,
        ),
        *_of_each_link(arm, group),
    )


_NAME = FormField(path="name", words="What you call it", kind="text")
_ERRORS = "How far off a careful reading is (standard deviation)"
_ARM = "An arm: both, where the off one does not differ"
_OFF, _TOPLINE = "The off arm, where it differs", "A chain along the topline"
OPTIONAL_GROUPS = (_OFF, _TOPLINE)
_ALONG = FormField(
    path="placing.along_mm", words="A section's place along the back", unit="mm", group=_ERRORS
)
_CONTACT = FormField(path="placing.contact_mm", words="Pressing into coat and skin", unit="mm", group=_ERRORS)
FORM_FIELDS: dict[str, tuple[FormField, ...]] = {
    "jointed chain": (
        _NAME,
        FormField(
            path="left.link_mm",
            words="Lengths of the links, joint to joint",
            unit="mm",
            kind="lengths",
            group=_ARM,
            hint="From the midline outward, with blanks between: 30 30 30. Or 12 x 30.",
        ),
        FormField(
            path="left.first_joint_out_mm",
            words="First joint out from the midline",
            unit="mm",
            group=_ARM,
        ),
        FormField(path="left.first_joint_up_mm", words="First joint above the skin", unit="mm", group=_ARM),
        *_of_each_link("left", _ARM),
        *_scale("left.", "°", "a joint"),
        FormField(
            path="left.joint_sd_deg",
            words="A joint",
            unit="°",
            group=_ERRORS,
            hint="Blank: as it stands for each joint, or 0.5.",
            can_be_blank=True,
        ),
        FormField(path="left.zero_sd_deg", words="A joint's zero", unit="°", group=_ERRORS),
        _ALONG,
        _CONTACT,
        *_another_chain(
            "right",
            _OFF,
            "Lengths of its links",
            "Blank: the off arm is as the near one.",
        ),
        *_another_chain(
            "topline",
            _TOPLINE,
            "Lengths of its links, from the start mark back",
            "Blank: there is none, and heights of the topline are typed for distances.",
        ),
        FormField(
            path="topline.level_step_deg",
            words="Smallest step read off the level of its first link",
            unit="°",
            group=_TOPLINE,
            can_be_blank=True,
        ),
    ),
    "pin comb": (
        _NAME,
        FormField(path="n_pins", words="Number of pins", kind="whole", group="The comb"),
        FormField(path="pitch_mm", words="From pin to pin", unit="mm", group="The comb"),
        FormField(
            path="midline_pin",
            words="Pin over the midline",
            group="The comb",
            hint="Counted from the horse's left; 12.5 lies halfway between 12 and 13.",
        ),
        FormField(
            path="offset_mm",
            words="Height of its foot",
            unit="mm",
            group="The comb",
            hint="Blank where it has none, and its middle pin gives the height.",
            can_be_blank=True,
        ),
        *_scale("", "mm", "a pin"),
        FormField(path="pin_sd_mm", words="A pin", unit="mm", group=_ERRORS),
        FormField(path="zero_sd_mm", words="A pin's zero", unit="mm", group=_ERRORS),
        _ALONG,
        _CONTACT,
    ),
    "traced curve": (
        _NAME,
        FormField(
            path="mm_per_unit",
            words="One unit on the sheet is",
            unit="mm on the horse",
            group="The sheet",
            hint="1 for a tracing at full size read in mm.",
        ),
        FormField(path="step", words="Smallest step that is read", group="The sheet"),
        FormField(path="point_sd_mm", words="A point", unit="mm", group=_ERRORS),
        FormField(path="spring_back_sd_mm", words="The curve springs, when lifted", unit="mm", group=_ERRORS),
        _ALONG,
    ),
    "tape and hand": (
        _NAME,
        FormField(
            path="width_depths_mm",
            words="Depths at which a width is taken, below the midline",
            unit="mm",
            kind="lengths",
            group="Widths",
            hint="From the upper one down: 30 150.",
        ),
        *_tape_scale("width", "Widths", "mm", "a width is read in mm"),
        FormField(
            path="card_mm",
            words="Length of the card or phone",
            unit="mm",
            group="The angle",
            hint="Laid downwards on the side, its upper edge at the first depth.",
        ),
        *_tape_scale("angle", "The angle", "°", "it is read in degrees below level"),
        FormField(path="width_sd_mm", words="A width", unit="mm", group=_ERRORS),
        FormField(path="depth_sd_mm", words="The depth at which a hand lies", unit="mm", group=_ERRORS),
        FormField(
            path="sides_sd_mm",
            words="A width’s middle beside the midline",
            unit="mm",
            group=_ERRORS,
            hint="A width does not tell which side is the larger.",
        ),
        FormField(path="angle_sd_deg", words="An angle", unit="°", group=_ERRORS),
        _ALONG,
        _CONTACT,
        FormField(path="placing.height_mm", words="A height of the topline", unit="mm", group=_ERRORS),
    ),
}
DEFAULTS: dict[str, Any] = {
    "left.first_joint_out_mm": 0.0,
    "left.first_joint_up_mm": 0.0,
    "left.scale.per_division": 1.0,
    "left.joint_sd_deg": 0.5,
    "left.zero_sd_deg": 0.3,
    "scale.per_division": 1.0,
    "pin_sd_mm": 0.5,
    "zero_sd_mm": 0.2,
    "mm_per_unit": 1.0,
    "step": 1.0,
    "point_sd_mm": 1.0,
    "spring_back_sd_mm": 3.0,
    "placing.along_mm": 3.0,
    "placing.contact_mm": 1.0,
    "width.per_division": 1.0,
    "angle.per_division": 1.0,
}
