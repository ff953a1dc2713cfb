"""A back being measured as the views of this slice take it: its page, its instrument, its parts."""

import uuid as uuids
from dataclasses import dataclass

from django.http import Http404

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.back.readings import Section
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.back.topline import ToplineCurve, topline_curve
from saddlebench.engine.errors import InputProblemsError, NotMeasured
from saddlebench.exchange.instruments import instrument_from_text
from saddlebench.practice import queries
from saddlebench.practice.queries.captures import CapturePage
from saddlebench.practice.rules import Actor
from saddlebench.web.capture.asked import parts_of
from saddlebench.web.capture.judging import Outline, outlines
from saddlebench.web.capture.parts import Part
from saddlebench.web.capture.planned import Values
from saddlebench.web.capture.readings import Named, record_of_values, sections_of, topline_of

STATES = {"done": ("✓", "done"), "partly": ("≈", "partly"), "to do": ("○", "to do")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """Everything about one back being measured."""

    page: CapturePage
    instrument: Instrument
    parts: tuple[Part, ...]

    @property
    def values(self) -> Values:
        """The readings as they stand."""
        return self.page.values

    @property
    def sections(self) -> tuple[Section, ...]:
        """Every section that was read at all."""
        return sections_of(self.instrument, self.values)

    @property
    def drawn(self) -> tuple[Outline, ...]:
        """The same, as outlines."""
        return outlines(self.instrument, self.sections)

    @property
    def record(self) -> BackRecord:
        """The back record that the readings make so far."""
        named = Named(label=self.page.label, measured_on=self.page.measured_on)
        return record_of_values(named, self.instrument, self.values)

    @property
    def curve(self) -> ToplineCurve | None:
        """The topline as far as it was read."""
        topline = topline_of(self.instrument, self.values)
        if isinstance(topline, NotMeasured):
            return None
        try:
            return topline_curve(self.instrument, topline)
        except InputProblemsError:
            return None

    def part(self, key: str) -> Part:
        """Return a part by its key.

        Raises
        ------
        Http404
            If there is none.
        """
        found = next((one for one in self.parts if one.key == key), None)
        if found is None:
            raise Http404
        return found

    def state_of(self, part: Part) -> str:
        """Return how far a part is: done, partly, to do."""
        read = [one for one in part.asked if one.on_pad]
        filled = sum(one.name in self.values for one in read)
        if filled and (filled == len(read) or self.values.get(f"{part.key}/done") is True):
            return "done"
        return "partly" if filled else "to do"

    def after(self, part: Part) -> Part | None:
        """Return the part that comes next in the order of the work."""
        at = self.parts.index(part)
        return self.parts[at + 1] if at + 1 < len(self.parts) else None


def loaded(actor: Actor, uuid: uuids.UUID) -> Loaded:
    """Return a back being measured.

    Raises
    ------
    NotFoundError
        If the practice has none.
    """
    page = queries.capture_page(actor, uuid)
    instrument = instrument_from_text(page.instrument, page.label)
    return Loaded(page=page, instrument=instrument, parts=parts_of(instrument, page.values))
