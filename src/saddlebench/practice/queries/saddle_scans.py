"""Scans of saddles as pages show them."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from saddlebench.engine.units import Length
from saddlebench.practice.enums import Action
from saddlebench.practice.models import SaddleScan
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError

_MOST = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleScanKept:
    """One scan of a saddle."""

    uuid: uuids.UUID
    saddle: uuids.UUID
    name: str
    """As its file was called."""
    suffix: str
    sha256: str
    size_bytes: int
    unit: Length
    """As it was stated when the scan came."""
    made_at: datetime
    made_by: str

    @property
    def size_mb(self) -> float:
        """Size of its file [MB]."""
        return self.size_bytes / 1e6


def saddle_scans_of(actor: Actor | None, saddle: uuids.UUID) -> tuple[SaddleScanKept, ...]:
    """Return the scans of a saddle of the actor's practice, the newest first; the newest fifty."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = SaddleScan.objects.filter(saddle__practice_id=allowed.practice_id, saddle__uuid=saddle)
    return tuple(
        _kept(one) for one in rows.select_related("saddle", "made_by").order_by("-made_at", "-id")[:_MOST]
    )


def saddle_scan(actor: Actor | None, saddle: uuids.UUID, uuid: uuids.UUID) -> SaddleScanKept:
    """Return one scan of a saddle of the actor's practice.

    Raises
    ------
    NotFoundError
        If there is none of that name.
    """
    allowed = require(actor, Action.SEE_HORSES)
    rows = SaddleScan.objects.filter(saddle__practice_id=allowed.practice_id, saddle__uuid=saddle, uuid=uuid)
    row = rows.select_related("saddle", "made_by").first()
    if row is None:
        raise NotFoundError("scan of this saddle", uuid)
    return _kept(row)


def _kept(row: SaddleScan) -> SaddleScanKept:
    return SaddleScanKept(
        uuid=row.uuid,
        saddle=row.saddle.uuid,
        name=row.name,
        suffix=row.suffix,
        sha256=row.sha256,
        size_bytes=row.size_bytes,
        unit=Length(row.unit),
        made_at=row.made_at,
        made_by=row.made_by.label,
    )
