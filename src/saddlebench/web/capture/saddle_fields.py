"""The numbers that describe a saddle, per family, in the order in which they are taken off it."""

from collections.abc import Sequence
from dataclasses import dataclass

from saddlebench.practice.enums import Family


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleField:
    """One number of a saddle."""

    path: str
    """Where it stands in a saddle file: `panel.channel.front`."""
    words: str
    unit: str = "mm"
    hint: str = ""
    letter: str = ""
    """Under which the drawing shows it; empty for what is seldom needed and not drawn."""
    required: bool = False


Fields = tuple[SaddleField, ...]


def _three(
    path: str, words: str, places: tuple[str, ...], letters: Sequence[str], unit: str = "mm"
) -> Fields:
    return tuple(
        SaddleField(path=f"{path}.{place}", words=f"{words}, {place}", unit=unit, letter=letter)
        for place, letter in zip(places, letters, strict=True)
    )


_FWR, _WR, _FMR, _FR = (
    ("front", "waist", "rear"),
    ("waist", "rear"),
    ("front", "middle", "rear"),
    ("front", "rear"),
)
_TREE: Fields = (
    SaddleField(
        path="tree.width",
        words="Width between the point ends, inside",
        letter="A",
        required=True,
    ),
    SaddleField(
        path="tree.depth",
        words="Depth of the point ends below the inside top of the arch",
        letter="B",
        required=True,
    ),
    SaddleField(
        path="tree.angle",
        words="Angle that the two points include",
        unit="°",
        letter="C",
        required=True,
    ),
    SaddleField(
        path="tree.rise",
        words="Inside top of the arch above a rod along the channel's roof at the waist",
        letter="D",
        required=True,
    ),
)
_PANEL: Fields = (
    SaddleField(path="panel.length", words="Length of the panels, straight", letter="E"),
    *_three("panel.channel", "Channel width", _FWR, "FGH"),
    *_three("panel.width", "Width of one panel along its face", _FWR, "IJK"),
    *_three("panel.angle", "Angle of the face below level", _WR, "LM", "°"),
    SaddleField(
        path="panel.rear_rise",
        words="Rise of the panel's inner edge at the rear above the waist, seat level",
        letter="N",
    ),
)
_FITTED: Fields = (
    SaddleField(path="seat.size", words="Seat size", unit="in"),
    SaddleField(path="seat.lowest_behind", words="Lowest point of the seat, behind the front edge"),
    SaddleField(path="stirrups.behind", words="Stirrup bars, behind the front edge"),
    SaddleField(path="stirrups.apart", words="Stirrup bars, apart"),
    SaddleField(path="stirrups.off_further_back", words="Off stirrup bar further back by"),
    SaddleField(path="mass.mass", words="Mass with leathers, irons and girth", unit="kg"),
)
_MORE: Fields = (
    SaddleField(path="tree.point", words="Length of the straight part of a point"),
    SaddleField(path="tree.hoop", words="Head: 0 a V, 1 a full hoop", unit=""),
    SaddleField(path="tree.behind", words="Points, behind the front edge of the panels"),
    SaddleField(path="tree.cover", words="Panel between a point and the horse"),
    *_three("panel.channel_depth", "Roof of the channel above the inner edges", _WR, ("", "")),
    SaddleField(path="panel.tail_sweep", words="Further rise over the last 80 mm"),
    SaddleField(path="panel.rounding", words="Middle of the face stands out beyond a straight edge by"),
    SaddleField(path="panel.gusset", words="Depth of a rear gusset"),
    SaddleField(path="off_side.point_out", words="Off point further out than the near by"),
    SaddleField(path="off_side.point_angle", words="Off point's angle more than the near by", unit="°"),
    SaddleField(path="off_side.panel_width", words="Off panel wider than the near by"),
    SaddleField(path="off_side.panel_drop", words="Off panel lower than the near by"),
    *_FITTED,
)
_CUT: Fields = (
    SaddleField(path="cut.depth", words="Cut, from the points back to its rear", letter="O"),
    SaddleField(path="cut.width", words="Cut, between its sides", letter="P"),
    SaddleField(path="cut.rear_lower", words="Rear of the cut lower than its sides by", letter="Q"),
)
_BARS: Fields = (
    SaddleField(path="bar.length", words="Length of the bars", letter="A"),
    *_three("bar.width", "Width of a bar", _FMR, "BCD"),
    *_three("bar.spread", "Spread between the bars", _FMR, "EFG"),
    *_three("bar.angle", "Angle of the bar's face below level", _FMR, "HIJ", "°"),
    *_three("bar.rocker", "Rocker: face above a level line, at the end", _FR, "KL"),
    SaddleField(path="fork.height", words="Inside top of the fork above the bars' face", letter="M"),
)
_BARS_MORE: Fields = (
    SaddleField(path="bar.crown", words="Middle of the face stands out beyond a straight edge by"),
    *_three("bar.flare", "Flare of the tip", _FR, ("", "")),
    SaddleField(path="bar.flare_length", words="Length of the flare"),
    SaddleField(path="fork.behind", words="Fork, behind the front of the bars"),
    *_three("skirts", "Skirts beyond the bars", _FR, ("", "")),
    SaddleField(path="off_bar.out", words="Off bar further out than the near by"),
    SaddleField(path="off_bar.front_drop", words="Off bar lower in front than the near by"),
    SaddleField(path="off_bar.rear_drop", words="Off bar lower at the rear than the near by"),
    *_FITTED,
)


def _side(side: str, letters: str) -> Fields:
    words = (
        ("half_width", f"{side.capitalize()} point end, from the middle", "mm"),
        ("depth", f"{side.capitalize()} point end below the inside top of the arch", "mm"),
        ("half_angle", f"{side.capitalize()} point from the vertical", "°"),
        ("point", f"{side.capitalize()} point's straight part", "mm"),
    )
    return tuple(
        SaddleField(path=f"{side}.{name}", words=said, unit=unit, letter=letter, required=True)
        for (name, said, unit), letter in zip(words, letters, strict=True)
    )


_SIDE_SADDLE: Fields = (
    *_side("near", "ABCD"),
    *_side("off", "EFGH"),
    SaddleField(
        path="rise",
        words="Inside top of the arch above a rod along the channel's roof at the waist",
        letter="I",
        required=True,
    ),
    SaddleField(path="near.panel.length", words="Length of the near panel, straight", letter="J"),
    SaddleField(path="off.panel.length", words="Length of the off panel, straight", letter="K"),
    SaddleField(path="off_waist_higher", words="Off panel's inner edge at the waist higher by", letter="L"),
)
_SOFT: Fields = (
    SaddleField(path="length", words="Length", letter="A", required=True),
    SaddleField(path="width", words="Width of one side", letter="B", required=True),
)
FAMILIES: dict[Family, str] = {
    Family.PANELLED: "panelled",
    Family.CUT_BACK: "cut-back",
    Family.BARS: "bars",
    Family.SIDE_SADDLE: "side-saddle",
    Family.TREELESS: "treeless",
    Family.FLEXIBLE_TREE: "flexible tree",
    Family.PAD_SADDLE: "treeless",
}
"""A saddle's family in the records, and as a saddle file calls it."""
MAIN: dict[str, Fields] = {
    "panelled": (*_TREE, *_PANEL),
    "cut-back": (*_TREE, *_PANEL, *_CUT),
    "bars": _BARS,
    "side-saddle": _SIDE_SADDLE,
    "treeless": (*_SOFT, SaddleField(path="channel", words="Channel width", letter="C")),
    "flexible tree": (*_SOFT, SaddleField(path="channel", words="Channel width", letter="C", required=True)),
}
MORE: dict[str, Fields] = {
    "panelled": _MORE,
    "cut-back": _MORE,
    "bars": _BARS_MORE,
    "side-saddle": (
        SaddleField(path="behind", words="Points, behind the front edge of the panels"),
        SaddleField(path="load_off", words="Rider's weight meant to enter off the middle by"),
        *_FITTED,
    ),
    "treeless": (
        SaddleField(path="strap_hang_behind", words="Straps hang, behind the front"),
        SaddleField(path="mass", words="Mass with leathers, irons and girth", unit="kg"),
    ),
    "flexible tree": (
        SaddleField(path="bends", words="Where and how it bends, in words", unit="", required=True),
        SaddleField(path="mass", words="Mass with leathers, irons and girth", unit="kg"),
    ),
}
FILLS = ("wool", "foam", "air", "felt")
ARCHES = ("not known", "bent steel", "exchangeable", "moulded", "cracked or riveted")
PAD_MATERIALS = ("felt", "fleece", "gel", "foam", "cotton")
N_PADS = 3
