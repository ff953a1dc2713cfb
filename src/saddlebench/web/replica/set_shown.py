"""A rebuild with its settings, as the bench shows them: what to set, what is set, how far off it is."""

import uuid as uuids
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.http import Http404

from saddlebench.exchange.readers import reader
from saddlebench.practice import queries
from saddlebench.practice.queries.rebuilds import RebuildPage
from saddlebench.web.base.access import PageRequest
from saddlebench.web.replica.bench import (
    BenchPart,
    Setting,
    as_entered,
    found_so_far,
    parts_of,
)
from saddlebench.web.replica.loading import measured_source, settings_of
from saddlebench.web.replica.pictures import station_picture

if TYPE_CHECKING:
    from saddlebench.engine.replica.set_check import StationSet
    from saddlebench.engine.replica.settings import InstrumentSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRow:
    """One thing to set, as the bench shows it."""

    name: str
    part: str
    asked: str
    """The reading to set."""
    is_ticked: bool
    typed: str
    up_name: str = ""
    typed_up: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundShown:
    """What is said of a part."""

    sign: str
    words: str
    is_good: bool
    moves: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A rebuild with its settings."""

    page: RebuildPage
    settings: "InstrumentSettings"
    parts: tuple[BenchPart, ...]
    found: "dict[str, StationSet]"

    def part(self, key: str) -> BenchPart:
        """Return a part by its key."""
        found = next((one for one in self.parts if one.key == key), None)
        if found is None:
            raise Http404
        return found


def bench_of(request: PageRequest, uuid: uuids.UUID) -> Bench:
    """Return a rebuild with its settings and what was found of them so far."""
    page = queries.rebuild_page(request.actor, uuid)
    settings = settings_of(page.source, page.instrument, page.tolerance_mm)
    back = measured_source(page.source)
    return Bench(
        page=page,
        settings=settings,
        parts=parts_of(settings),
        found=found_so_far(back.estimated, settings, page.as_set),
    )


def row_shown(bench: Bench, one: Setting, typed: Any) -> SetRow:
    """Return one setting as it stands in the form: as kept, or as it was typed."""
    from saddlebench.report.replica.words import length_words, number_words  # noqa: PLC0415

    as_set = bench.page.as_set
    asked = length_words(one.reading, 0) if one.is_length else number_words(one.reading)
    if one.up is not None:
        asked = f"{asked} out, {number_words(one.up)} up"

    def text(name: str) -> str:
        if typed is not None:
            return str(typed.get(f"as.{name}", ""))
        held = as_set.get(name)
        return "" if held is None or held is True else f"{held:g}"

    ticked = f"tick.{one.name}" in typed if typed is not None else as_set.get(one.name) is True
    return SetRow(
        name=one.name,
        part=one.part,
        asked=asked,
        is_ticked=ticked,
        typed=text(one.name),
        up_name=one.up_name,
        typed_up=text(one.up_name) if one.up_name else "",
    )


def found_shown(bench: Bench, part: BenchPart) -> FoundShown:
    """Return what is said of a part as it is set so far."""
    from saddlebench.report.replica.words import setting_move_words  # noqa: PLC0415

    said = bench.found.get(part.key)
    n_set = sum(name in bench.page.as_set for one in part.settings for name in one.names)
    if not n_set:
        return FoundShown(sign="○", words="Nothing is set yet.", is_good=False)
    if said is None:
        of = len(part.settings)
        sign = "✓" if n_set == of else "≈"
        return FoundShown(sign=sign, words=f"{n_set} of {of} set.", is_good=n_set == of)
    known = said.off_by_mm != float("inf")
    off = (
        f"Off by up to {millimetres(said.off_by_mm)}, {millimetres(said.allowed_mm)} allowed."
        if known
        else ""
    )
    moves = tuple(
        reader().quantities(f"{words[:1].upper()}{words[1:]}.")
        for words in map(setting_move_words, said.moves)
    )
    if said.good:
        return FoundShown(sign="✓", words=f"Near enough. {off}", is_good=True, moves=moves)
    if said.not_set and not moves:
        return FoundShown(sign="≈", words=f"{len(said.not_set)} still to set. {off}", is_good=False)
    return FoundShown(sign="✕", words=f"Not yet. {off}", is_good=False, moves=moves)


def millimetres(length: float) -> str:
    """Return a small length as the bench's reader has it."""
    return reader().quantities(f"{length:.1f} mm")


def picture_of(bench: Bench, part: BenchPart) -> object:
    """Return the drawing of a part as it is set; nothing for one that is only ticked."""
    if not part.can_be_typed:
        return ""
    back = measured_source(bench.page.source)
    entered = as_entered(bench.settings, bench.page.as_set)
    return station_picture(back.estimated, bench.settings, int(part.key[1:]), entered)
