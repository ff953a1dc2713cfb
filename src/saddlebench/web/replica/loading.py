"""Versions of backs as the engine's own surface, and what was worked out of them: kept while it is looked at.

Everything here is named by the hash of the document that it came from, so nothing kept can be out of date.
"""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from saddlebench.exchange.instruments import instrument_from_text
from saddlebench.practice.documents import Document
from saddlebench.practice.queries.rebuilds import CheckPage, RebuildSource
from saddlebench.web.base.checks.loading import Shelf

if TYPE_CHECKING:
    from saddlebench.engine.replica.proof import RebuildProof
    from saddlebench.engine.replica.settings import InstrumentSettings
    from saddlebench.exchange.back_job import MeasuredBack

_backs: "Shelf[MeasuredBack]" = Shelf(8)
_settings: "Shelf[InstrumentSettings]" = Shelf(16)
_proofs: "Shelf[RebuildProof]" = Shelf(16)
pictures: "Shelf[Any]" = Shelf(32)
"""Drawings of parts, by the version and everything that was chosen."""


def measured_source(source: RebuildSource) -> "MeasuredBack":
    """Return the version of a back that is rebuilt; its papers bear the horse's name.

    Raises
    ------
    InputProblemsError
        If its document cannot be read, or its readings make no surface.
    """
    return _measured(source.document, source.sha256, source.horse.label)


def settings_of(source: RebuildSource, instrument: str, tolerance_mm: float) -> "InstrumentSettings":
    """Return what to set on an instrument, described as a document, so that it shows a version of a back.

    Raises
    ------
    InputProblemsError
        If the instrument holds no shape, or the back makes no surface.
    """
    from saddlebench.engine.replica.settings import settings_for  # noqa: PLC0415

    def make() -> "InstrumentSettings":
        back = measured_source(source)
        tool = instrument_from_text(instrument, "instrument")
        return settings_for(back.estimated, tool, tolerance_mm=tolerance_mm)

    return _settings.get((source.sha256, instrument, tolerance_mm), make)


def proof_of(page: CheckPage) -> "RebuildProof":
    """Return a recorded check's rebuild laid on its original and judged.

    Raises
    ------
    InputProblemsError
        If either makes no surface, or the two are not the same back at all.
    """
    return proved(page.source, Document(text=page.document), page.tolerance_mm)


def proved(source: RebuildSource, rebuilt: Document, tolerance_mm: float) -> "RebuildProof":
    """Return a rebuild, a back record of it, laid on its original and judged.

    Raises
    ------
    InputProblemsError
        If either makes no surface, or the two are not the same back at all.
    """
    from saddlebench.engine.replica.proof import prove_rebuild  # noqa: PLC0415

    def make() -> "RebuildProof":
        original = measured_source(source)
        measured = _measured(rebuilt.text, rebuilt.sha256, source.horse.label)
        return prove_rebuild(original.estimated, measured.estimated, tolerance_mm=tolerance_mm)

    return _proofs.get((source.sha256, rebuilt.sha256, tolerance_mm), make)


def _measured(document: str, sha256: str, label: str) -> "MeasuredBack":
    # The engine's surface and its record files load numba: seconds that only these pages should cost.
    from saddlebench.exchange.back_job import measured  # noqa: PLC0415
    from saddlebench.exchange.records import BackDocument, parse_document  # noqa: PLC0415

    def read() -> "MeasuredBack":
        record = parse_document(BackDocument, document, label).record()
        return measured(replace(record, label=label))

    return _backs.get((sha256, label), read)
