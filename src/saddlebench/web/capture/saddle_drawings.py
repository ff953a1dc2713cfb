"""What each number of a saddle means: a drawing per family, on which the number being entered stands out."""

from collections.abc import Iterable, Sequence

from django.utils.safestring import SafeString

from saddlebench.web.capture.pictures import picture, said
from saddlebench.web.capture.saddle_fields import MAIN

_ARCH = "M-120 130C-112 40 -70 0 0 0S112 40 120 130"
_NEAR = (
    "M-35 0C-60 -14 -110 -12 -130 18C-150 60 -128 130 -116 190"
    "C-110 250 -122 300 -104 352C-90 380 -54 384 -36 350Z"
)
_PLACES = {"front": 40.0, "waist": 180.0, "middle": 180.0, "rear": 318.0}
_PLAN_AT, _SIDE_AT, _SECTION_AT = (572.0, 20.0), (30.0, 290.0), (30.0, 420.0)


def _moved(at: tuple[float, float], parts: Iterable[str]) -> str:
    return f'<g transform="translate({at[0]:g} {at[1]:g})">{"".join(parts)}</g>'


def _length(path: str, letter: str, a: tuple[float, float], b: tuple[float, float]) -> str:
    """Return a dimension between two places, with its letter."""
    (x0, y0), (x1, y1) = a, b
    across = abs(x1 - x0) >= abs(y1 - y0)
    ends = (
        f"M{x0:g} {y0 - 7:g}v14M{x1:g} {y1 - 7:g}v14"
        if across
        else f"M{x0 - 7:g} {y0:g}h14M{x1 - 7:g} {y1:g}h14"
    )
    middle = ((x0 + x1) / 2 + (0 if across else 14), (y0 + y1) / 2 + (-6 if across else 6))
    return (
        f'<g class="dim" data-shows="{path}"><path d="M{x0:g} {y0:g}L{x1:g} {y1:g}{ends}"/>'
        f"{said(middle[0], middle[1], letter, 'letter')}</g>"
    )


def _angle(path: str, letter: str, at: tuple[float, float], arc: str) -> str:
    return f'<g class="dim" data-shows="{path}"><path d="{arc}"/>{said(at[0], at[1], letter, "letter")}</g>'


def _plan_widths(path: str, letters: str, places: Sequence[str], half: float) -> list[str]:
    """Return widths across the middle of a plan."""
    return [
        _length(f"{path}.{place}", letter, (-half, _PLACES[place]), (half, _PLACES[place]))
        for place, letter in zip(places, letters, strict=True)
    ]


def _panel_widths(path: str, letters: str, places: Sequence[str]) -> list[str]:
    outer = {"front": 138.0, "waist": 116.0, "middle": 116.0, "rear": 112.0}
    return [
        _length(f"{path}.{place}", letter, (37.0, _PLACES[place] + 14), (outer[place], _PLACES[place] + 14))
        for place, letter in zip(places, letters, strict=True)
    ]


def _plan(length: tuple[str, str], dims: Iterable[str]) -> str:
    mirrored = f'<g transform="scale(-1 1)"><path class="part" d="{_NEAR}"/></g>'
    art = [f'<path class="part" d="{_NEAR}"/>', mirrored, said(0, -30, "from below, pommel up", "small")]
    return _moved(_PLAN_AT, [*art, _length(*length, (-158.0, -8.0), (-158.0, 372.0)), *dims])


def _arch(dims: Iterable[str]) -> str:
    art = [
        f'<path class="part open" d="{_ARCH}"/>',
        '<path class="thin" d="M-150 92h300"/>',
        said(0, -30, "front arch, from the front", "small"),
    ]
    return _moved((200.0, 70.0), [*art, *dims])


def _side(dims: Iterable[str]) -> str:
    art = [
        '<path class="part open" d="M0 26C60 60 110 66 160 64C230 62 280 44 320 26"/>',
        '<path class="thin" d="M0 64h340"/>',
        said(170, 100, "panel from the near side, front at the left", "small"),
    ]
    return _moved(_SIDE_AT, [*art, *dims])


def _section(dims: Iterable[str]) -> str:
    art = [
        '<path class="part open" d="M150 0C118 4 92 22 60 60M190 0C222 4 248 22 280 60"/>',
        '<path class="thin" d="M40 0h260"/>',
        said(170, 92, "panels at waist and rear, from behind", "small"),
    ]
    return _moved(_SECTION_AT, [*art, *dims])


def _panelled(*more: str) -> list[str]:
    arch = _arch(
        [
            _length("tree.width", "A", (-120, 146), (120, 146)),
            _length("tree.depth", "B", (-150, 0), (-150, 130)),
            _angle("tree.angle", "C", (0, 66), "M-100 46A110 110 0 0 1 100 46"),
            _length("tree.rise", "D", (158, 0), (158, 92)),
        ]
    )
    plan = _plan(
        ("panel.length", "E"),
        [
            *_plan_widths("panel.channel", "FGH", ("front", "waist", "rear"), 35.0),
            *_panel_widths("panel.width", "IJK", ("front", "waist", "rear")),
        ],
    )
    section = _section(
        [
            _angle("panel.angle.waist", "L", (100, 20), "M130 0A50 50 0 0 0 108 36"),
            _angle("panel.angle.rear", "M", (242, 20), "M210 0A50 50 0 0 1 232 36"),
        ]
    )
    side = _side([_length("panel.rear_rise", "N", (322, 26), (322, 64))])
    return [arch, plan, side, section, *more]


def _cut_back() -> list[str]:
    cut = [
        '<path class="thin" d="M-24 -6C-26 40 -18 66 0 70C18 66 26 40 24 -6"/>',
        _length("cut.depth", "O", (20, -6), (20, 70)),
        _length("cut.width", "P", (-24, 8), (24, 8)),
        _length("cut.rear_lower", "Q", (-14, 58), (-14, 84)),
    ]
    return _panelled(_moved(_PLAN_AT, cut))


def _bars() -> list[str]:
    front = _moved(
        (200.0, 70.0),
        [
            '<path class="part open" d="M-120 120L-52 78C-40 20 -26 0 0 0S40 20 52 78L120 120"/>',
            '<path class="thin" d="M-150 100h300"/>',
            said(0, -30, "bars and fork, from the front", "small"),
            _angle("bar.angle.front", "H", (-142, 132), "M-120 100A40 40 0 0 0 -104 112"),
            _angle("bar.angle.middle", "I", (0, 128), "M-30 100A30 18 0 0 0 30 100"),
            _angle("bar.angle.rear", "J", (142, 132), "M120 100A40 40 0 0 1 104 112"),
            _length("fork.height", "M", (160, 0), (160, 100)),
        ],
    )
    plan = _plan(
        ("bar.length", "A"),
        [
            *_panel_widths("bar.width", "BCD", ("front", "middle", "rear")),
            *_plan_widths("bar.spread", "EFG", ("front", "middle", "rear"), 35.0),
        ],
    )
    side = _side(
        [
            _length("bar.rocker.front", "K", (-6, 26), (-6, 64)),
            _length("bar.rocker.rear", "L", (322, 26), (322, 64)),
        ]
    )
    return [front, plan, side]


def _side_saddle() -> list[str]:
    arch = _moved(
        (200.0, 70.0),
        [
            '<path class="part open" d="M-134 158C-118 44 -70 0 0 0S108 40 114 122"/>',
            '<path class="thin" d="M0 -8V170M-150 92h300"/>',
            said(0, -30, "front arch, from behind: near at the left", "small"),
            _length("near.half_width", "A", (-134, 176), (0, 176)),
            _length("near.depth", "B", (-162, 0), (-162, 158)),
            _angle("near.half_angle", "C", (-44, 74), "M-30 60A60 60 0 0 1 -96 52"),
            _length("near.point", "D", (-104, 56), (-104, 150)),
            _length("off.half_width", "E", (0, 142), (114, 142)),
            _length("off.depth", "F", (146, 0), (146, 122)),
            _angle("off.half_angle", "G", (44, 74), "M30 60A60 60 0 0 0 92 46"),
            _length("off.point", "H", (84, 50), (84, 116)),
            _length("rise", "I", (186, 0), (186, 92)),
        ],
    )
    plan = _plan(
        ("near.panel.length", "J"),
        [_length("off.panel.length", "K", (158.0, -8.0), (158.0, 372.0))],
    )
    section = _section([_length("off_waist_higher", "L", (190, -18), (190, 0))])
    return [arch, plan, section]


def _soft() -> list[str]:
    return [
        _plan(
            ("length", "A"),
            [
                _length("width", "B", (37.0, 194.0), (116.0, 194.0)),
                _length("channel", "C", (-35.0, 60.0), (35.0, 60.0)),
            ],
        )
    ]


def saddle_drawing(family: str) -> SafeString:
    """Return the drawing that explains a family's numbers, each under its letter."""
    drawn = {"panelled": _panelled, "cut-back": _cut_back, "bars": _bars, "side-saddle": _side_saddle}
    parts = drawn.get(family, _soft)()
    named = "; ".join(f"{one.letter}: {one.words}" for one in MAIN[family] if one.letter)
    box = (0.0, 0.0, 740.0, 530.0) if family in drawn else (390.0, -30.0, 364.0, 460.0)
    return picture(box, f"Where each number is taken. {named}", parts, "saddle-drawing")
