"""A fitter's own errors from files of “check me” exercises, for the records they measured."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.repeat.own import InUse, OwnErrors, own_errors
from saddlebench.engine.errors import Undetermined, Where, input_problem
from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.exchange.records.document import read_document
from saddlebench.exchange.records.repeat import CheckMeDocument
from saddlebench.exchange.vocabulary import said


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnHand:
    """What a hand's exercises with one instrument say."""

    instrument: str
    own: OwnErrors

    def of(self, record: BackRecord) -> ErrorsUsed | None:
        """Return the errors to go by for a record; None where its instrument's stated ones stay in use.

        Raises
        ------
        InputProblemsError
            If the record is of another instrument.
        """
        if record.instrument.name != self.instrument:
            msg = f"the exercises are with “{self.instrument}”, the back was measured with another instrument"
            cure = f"Give exercises with “{record.instrument.name}”, or leave them out."
            raise input_problem(msg, cure, Where(field="own errors"))
        return self.used

    @property
    def used(self) -> ErrorsUsed | None:
        """The errors to go by with this instrument; None where its stated ones stay in use."""
        if self.own.in_use is InUse.STATED:
            return None
        return ErrorsUsed(whose=self.instrument, times=round(self.own.applied, 6))


def read_own_hand(paths: Sequence[Path]) -> OwnHand:
    """Read the exercises of one hand with one instrument.

    Raises
    ------
    InputProblemsError
        With every fault of a file; also if they are with several instruments, or none says enough.
    OSError
        If a file cannot be opened.
    """
    found = [read_document(CheckMeDocument, path, lambda document: document) for path in paths]
    for path, one in zip(paths, found, strict=True):
        if one.instrument != found[0].instrument:
            msg = f"is an exercise with “{one.instrument}”, the first is with “{found[0].instrument}”"
            raise input_problem(msg, "Give the exercises of one instrument.", Where(file=str(path)))
    own = own_errors([one.found().ratio for one in found])
    if isinstance(own, Undetermined):
        raise input_problem(own.reason, "Name an exercise.", Where(field="own errors"))
    return OwnHand(instrument=found[0].instrument, own=own)


def errors_words(own: ErrorsUsed | None) -> str:
    """Return whose measuring errors a study goes by."""
    if own is None:
        return said("The measuring errors are those that the instrument states.")
    return said(
        f"The measuring errors come from own repeats, {own.whose}: {own.times:.2g} times those that the "
        "instrument states."
    )
