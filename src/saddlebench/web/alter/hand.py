"""What a person sets by hand: fields, their limits from the saddle's record, the alteration they make."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.catalogue import Field, Kind, read_value

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration
    from saddlebench.engine.saddle.alterable import Alterable
    from saddlebench.engine.saddle.record import SaddleRecord

SIDES = (("near", True), ("off", False))
ZONES = ("front", "waist", "seat", "rear")
HALVES = ("inner", "outer")
PADS = {
    "felt-10": "felt, 10 mm",
    "felt-15": "felt, 15 mm",
    "fleece-10": "fleece, 10 mm",
    "fleece-15": "fleece, 15 mm",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stepper:
    """One number that may be set, with its limits."""

    name: str
    words: str
    low: int
    high: int
    value: int
    why_not: str = ""
    """Why it may not be changed; empty where it may."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picker:
    """One of a few things that may be chosen."""

    name: str
    words: str
    choices: tuple[tuple[str, str], ...]
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandForm:
    """Everything that may be set on one saddle."""

    wool: tuple[tuple[str, tuple[Stepper, ...]], ...]
    """Zone by zone, near beside off."""
    arch: Stepper
    shims: tuple[Picker, ...]
    more: tuple[Picker, ...]
    """Straps and pad."""
    reasons: tuple[str, ...]
    """Why what may not be altered may not be."""
    halves: bool
    may_have_halves: bool


def form_of(record: "SaddleRecord", given: Mapping[str, str]) -> HandForm:
    """Return the form of a saddle with what was typed."""
    from saddlebench.engine.saddle.alterable import NotAlterable  # noqa: PLC0415

    given = _spread(given)
    allowed, halves = record.alterable, given.get("halves") == "1"
    fills = {True: allowed.fill_left, False: allowed.fill_right}
    apart = any(not isinstance(fill, NotAlterable) and any(fill.halves_apart) for fill in fills.values())
    wool = tuple(
        (zone, tuple(_wool(allowed, zone, number, given, halves=halves))) for number, zone in enumerate(ZONES)
    )
    return HandForm(
        wool=wool,
        arch=_arch(allowed, given),
        shims=tuple(_shims(record, given)),
        more=tuple(_more(allowed, given)),
        reasons=allowed.reasons,
        halves=halves,
        may_have_halves=apart,
    )


def _spread(given: Mapping[str, str]) -> Mapping[str, str]:
    """Return what was typed, the halves of a zone beginning from the whole of it."""
    if given.get("halves") != "1":
        return given
    names = [(f"{side}-{zone}", half) for side, _ in SIDES for zone in ZONES for half in HALVES]
    return {**{f"{name}-{half}": given[name] for name, half in names if name in given}, **given}


def _wool(
    allowed: "Alterable", zone: str, number: int, given: Mapping[str, str], *, halves: bool
) -> Iterator[Stepper]:
    from saddlebench.engine.saddle.alterable import NotAlterable  # noqa: PLC0415

    for side, on_left in SIDES:
        fill = allowed.fill_left if on_left else allowed.fill_right
        if isinstance(fill, NotAlterable):
            yield _fixed(f"{side}-{zone}", said(f"{side} {zone}"), fill.reason)
            continue
        names = [(f"{side}-{zone}", said(f"{side} {zone}"))]
        if halves and fill.halves_apart[number]:
            names = [(f"{side}-{zone}-{half}", said(f"{side} {zone}, {half} half")) for half in HALVES]
        for name, words in names:
            low, high = -int(fill.take_mm[number]), int(fill.add_mm[number])
            yield Stepper(name=name, words=words, low=low, high=high, value=_whole(given, name, low, high))


def _fixed(name: str, words: str, reason: str) -> Stepper:
    return Stepper(name=name, words=words, low=0, high=0, value=0, why_not=said(reason))


def _whole(given: Mapping[str, str], name: str, low: int, high: int) -> int:
    try:
        return min(max(round(float(given.get(name, "") or 0)), low), high)
    except (ValueError, OverflowError):
        return 0


def _arch(allowed: "Alterable", given: Mapping[str, str]) -> Stepper:
    from saddlebench.engine.saddle.alterable import NotAlterable  # noqa: PLC0415

    if isinstance(allowed.arch, NotAlterable):
        return _fixed("arch", said("front arch"), allowed.arch.reason)
    low, high = -int(allowed.arch.narrower_mm), int(allowed.arch.wider_mm)
    return Stepper(
        name="arch",
        words=said("front arch, wider at the point ends"),
        low=low,
        high=high,
        value=_whole(given, "arch", low, high),
    )


def _shims(record: "SaddleRecord", given: Mapping[str, str]) -> Iterator[Picker]:
    from saddlebench.engine.saddle.alterable import NotAlterable  # noqa: PLC0415

    shims = record.alterable.shims
    if isinstance(shims, NotAlterable):
        return
    sizes = [one for one in sorted(shims.thicknesses_mm) if one <= shims.thickest_mm]
    choices = (("", gettext("none")), *((f"{one:g}", said(f"{one:g} mm")) for one in sizes))
    for zone in ZONES:
        for side, _ in SIDES:
            name = f"{side}-{zone}-shim"
            yield Picker(name=name, words=said(f"{side} {zone}"), choices=choices, value=given.get(name, ""))


def _more(allowed: "Alterable", given: Mapping[str, str]) -> Iterator[Picker]:
    from saddlebench.engine.saddle.alterable import NotAlterable  # noqa: PLC0415

    straps, pad = allowed.straps, allowed.pad
    if not isinstance(straps, NotAlterable) and len(straps.names) > 1:
        added = [one for one in straps.may_be_added if one not in straps.names]
        choices = [
            ("", gettext("as they are")),
            *((one, f"{one} {gettext('and')} {straps.names[-1]}") for one in added),
        ]
        yield Picker(
            name="straps", words=said("Girth straps"), choices=tuple(choices), value=given.get("straps", "")
        )
    if not isinstance(pad, NotAlterable):
        fits = [
            (name, said(words))
            for name, words in PADS.items()
            if float(name.split("-")[1]) <= pad.thickest_mm
        ]
        yield Picker(
            name="pad",
            words=gettext("A pad more"),
            choices=(("", gettext("none")), *fits),
            value=given.get("pad", ""),
        )


def alteration_of(record: "SaddleRecord", given: Mapping[str, str]) -> "Alteration":
    """Return the alteration that the fields make.

    Raises
    ------
    InputProblemsError
        With every field that is no number, or beyond what the saddle's record allows.
    """
    from saddlebench.engine.alter import Alteration, Shim, ShimPlace  # noqa: PLC0415
    from saddlebench.engine.saddle.alterable import NotAlterable  # noqa: PLC0415
    from saddlebench.engine.saddle.materials import FELT_PAD, FLEECE_PAD  # noqa: PLC0415
    from saddlebench.engine.saddle.model import Family, Zone  # noqa: PLC0415
    from saddlebench.engine.saddle.numbers import family_of  # noqa: PLC0415
    from saddlebench.engine.saddle.pads import pad_layer  # noqa: PLC0415
    from saddlebench.engine.saddle.zones import Filling  # noqa: PLC0415

    given = _spread(given)
    form = form_of(record, given)
    problems: list[Problem] = []
    values: dict[str, float] = {}
    for stepper in (*(one for _, row in form.wool for one in row), form.arch):
        text = given.get(stepper.name, "").strip()
        try:
            values[stepper.name] = _read(stepper, text) if text else 0.0
        except InputProblemsError as error:
            problems += error.problems
    pickers = {one.name: _picked(one, problems) for one in (*form.shims, *form.more)}
    if problems:
        raise InputProblemsError(problems)

    def filling(side: str) -> Filling:
        by = {
            half: [values.get(f"{side}-{z}", values.get(f"{side}-{z}-{half}", 0.0)) for z in ZONES]
            for half in HALVES
        }
        (a, b, c, d), (e, f, g, h) = by["inner"], by["outer"]
        return Filling(inner_mm=(a, b, c, d), outer_mm=(e, f, g, h))

    flocked = not isinstance(record.alterable.fill_left, NotAlterable)
    in_pad = flocked or family_of(record.numbers) is Family.BARS
    place = ShimPlace.IN_PAD if in_pad else ShimPlace.UNDER_TREE
    shims = tuple(
        Shim(on_left=on_left, zone=Zone[zone.upper()], thickness_mm=float(size), place=place)
        for side, on_left in SIDES
        for zone in ZONES
        if (size := pickers.get(f"{side}-{zone}-shim", ""))
    )
    stuff, _, thick = pickers.get("pad", "").partition("-")
    pad = pad_layer(FELT_PAD if stuff == "felt" else FLEECE_PAD, (float(thick),) * 4) if thick else None
    straps = record.alterable.straps
    added = pickers.get("straps", "")
    return Alteration(
        fill_left=filling("near"),
        fill_right=filling("off"),
        shims=shims,
        arch_mm=values["arch"],
        pad=pad,
        straps=(added, straps.names[-1]) if added else None,  # type: ignore[union-attr]
    )


def _read(stepper: Stepper, text: str) -> float:
    if stepper.why_not:
        what, cure = f"{stepper.words} may not be altered: {stepper.why_not}", "Leave it at 0."
        if float(text or 0) == 0.0:
            return 0.0
        raise InputProblemsError([Problem(what=what, cure=cure, where=Where(field=stepper.words))])
    described = Field(
        name=stepper.name,
        words=stepper.words,
        kind=Kind.NUMBER,
        unit="mm",
        low=float(stepper.low),
        high=float(stepper.high),
    )
    value = read_value(described, text)
    return float(value) if isinstance(value, int | float) else 0.0


def _picked(picker: Picker, problems: list[Problem]) -> str:
    if picker.value in {value for value, _ in picker.choices}:
        return picker.value
    what = f"“{picker.value[:40]}” is not among the choices"
    problems.append(Problem(what=what, cure="Choose one of them.", where=Where(field=picker.words)))
    return ""


def fields_of(alteration: "Alteration") -> dict[str, str]:
    """Return what the fields hold for an alteration: a plan to begin from."""
    fields: dict[str, str] = {}
    for side, fill in (("near", alteration.fill_left), ("off", alteration.fill_right)):
        for zone, inner, outer in zip(ZONES, fill.inner_mm, fill.outer_mm, strict=True):
            if inner != outer:
                fields["halves"] = "1"
            fields |= {
                f"{side}-{zone}": f"{inner:g}",
                f"{side}-{zone}-inner": f"{inner:g}",
                f"{side}-{zone}-outer": f"{outer:g}",
            }
    if alteration.arch_mm:
        fields["arch"] = f"{alteration.arch_mm:g}"
    for shim in alteration.shims:
        side = "near" if shim.on_left else "off"
        fields[f"{side}-{shim.zone.name.lower()}-shim"] = f"{shim.thickness_mm:g}"
    if alteration.straps:
        fields["straps"] = alteration.straps[0]
    if alteration.pad is not None:
        name = "felt" if "felt" in alteration.pad.name else "fleece"
        fields["pad"] = f"{name}-{max(alteration.pad.thickness_mm):g}"
    return fields


def query_of(record: "SaddleRecord", given: Mapping[str, str]) -> dict[str, str]:
    """Return the fields that say something, as an address or a form passes them on."""
    given = _spread(given)
    form = form_of(record, given)
    names = [one.name for _, row in form.wool for one in row]
    names += ["arch", *(one.name for one in (*form.shims, *form.more))]
    held = {name: given[name] for name in names if given.get(name, "") not in ("", "0")}
    return held | ({"halves": "1"} if form.halves else {})
