"""What is held of a saddle's tracings until they are recorded: photos, curves, what was measured beside."""

import json
import uuid as uuids
import zipfile
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import Any

from django.conf import settings

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.instruments import instrument_from_text
from saddlebench.exchange.tracings.across_saddle import SectionsStated
from saddlebench.exchange.tracings.gathering import NamedSheet
from saddlebench.exchange.tracings.plain import plain_of_sheet, sheet_of_plain
from saddlebench.exchange.tracings.sheet_read import ReadSheet
from saddlebench.exchange.tracings.traced_saddle import TracedSaddle, saddle_from_tracings
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice.keeping.made import made_path
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.measured_saddle import measured_saddle
from saddlebench.web.tracing.held import HeldPhoto, UnreadPhoto

INSIDE = "tracings.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleTracings:
    """Photos of one saddle's tracings as they stand."""

    saddle: uuids.UUID
    instrument: str
    """The flexible curve's document."""
    stated: SectionsStated
    ruler_mm: tuple[float | None, float | None] = (None, None)
    photos: tuple[HeldPhoto, ...] = ()
    unread: tuple[UnreadPhoto, ...] = ()

    @property
    def next_number(self) -> int:
        """The number of the next photo."""
        return (
            max([*(one.number for one in self.photos), *(one.number for one in self.unread)], default=0) + 1
        )

    def photo(self, number: int) -> HeldPhoto:
        """Return a photo that was read.

        Raises
        ------
        NotFoundError
            If there is none of this number.
        """
        found = next((one for one in self.photos if one.number == number), None)
        if found is None:
            raise NotFoundError("photo of a tracing", str(number))
        return found

    def photo_uuid(self, number: int) -> uuids.UUID:
        """Return the picture of a photo, read or not.

        Raises
        ------
        NotFoundError
            If there is none of this number.
        """
        pictures = {one.number: one.photo for one in self.unread} | {
            one.number: one.photo for one in self.photos
        }
        if number not in pictures:
            raise NotFoundError("photo of a tracing", str(number))
        return pictures[number]

    def with_photo(self, changed: HeldPhoto) -> "SaddleTracings":
        """Return the same with one photo as it is now."""
        others = [one for one in self.photos if one.number != changed.number]
        unread = tuple(one for one in self.unread if one.number != changed.number)
        photos = tuple(sorted((*others, changed), key=lambda one: one.number))
        return replace(self, photos=photos, unread=unread)


def kept_tracings(actor: Actor, saddle: uuids.UUID, key: uuids.UUID) -> SaddleTracings:
    """Return the tracings of a saddle that are held under a key.

    Raises
    ------
    NotFoundError
        If there are none, or not of this saddle, or not any more.
    """
    path = made_path(Path(settings.SADDLEBENCH_HOME), actor.practice_id, key)
    if not path.is_file():
        raise NotFoundError("tracings", key)
    with zipfile.ZipFile(path) as archive:
        if INSIDE not in archive.namelist():
            raise NotFoundError("tracings", key)
        plain = json.loads(archive.read(INSIDE))
    if plain["saddle"] != str(saddle):
        raise NotFoundError("tracings", key)
    return _of_plain(plain)


def keep_tracings(actor: Actor, key: uuids.UUID, held: SaddleTracings) -> None:
    """Hold tracings under a key, in place of what was held there."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(INSIDE, json.dumps(_plain_of(held)))
    target = made_path(Path(settings.SADDLEBENCH_HOME), actor.practice_id, key)
    target.parent.mkdir(parents=True, exist_ok=True)
    write_whole(target, out.getvalue())
    target.chmod(0o600)


def curve_used(held: SaddleTracings) -> TracedCurve:
    """Return the flexible curve."""
    tool = instrument_from_text(held.instrument, "instrument")
    if not isinstance(tool, TracedCurve):
        raise input_problem("the instrument is no traced curve", "Choose one.", Where(field="instrument"))
    return tool


def made_of(actor: Actor, held: SaddleTracings) -> TracedSaddle:
    """Return the saddle that the curves make as they stand.

    Raises
    ------
    InputProblemsError
        With everything that is still wrong.
    """
    record = measured_saddle(actor, held.saddle)
    named = [NamedSheet(name=f"photo {one.number}", sheet=sheet_as_kept(one)) for one in held.photos]
    if not any(one.sheet.curves for one in named):
        raise input_problem("no photo was read yet", "Mark the corners of one, or bring another.")
    return saddle_from_tracings(record, named, held.stated, curve_used(held))


def sheet_as_kept(held: HeldPhoto) -> ReadSheet:
    """Return what was read with the curves that are not left out, each with its station."""
    pairs = [pair for pair in zip(held.sheet.curves, held.stations, strict=True) if pair[1] > 0]
    return replace(
        held.sheet,
        curves=tuple(curve for curve, _ in pairs),
        stations=tuple(station for _, station in pairs),
    )


def _plain_of(held: SaddleTracings) -> dict[str, Any]:
    stated = held.stated
    return {
        "saddle": str(held.saddle),
        "instrument": held.instrument,
        "ruler": list(held.ruler_mm),
        "stated": {
            "behind": list(stated.behind_mm),
            "leans": list(stated.leans_deg),
            "gaps": list(stated.gaps_mm),
            "channel": list(stated.channel_mm),
            "mirrored": stated.mirrored,
        },
        "photos": [
            {
                "number": one.number,
                "photo": str(one.photo),
                "sheet": plain_of_sheet(one.sheet),
                "stations": list(one.stations),
                "kept": one.is_kept,
            }
            for one in held.photos
        ],
        "unread": [
            {"number": one.number, "photo": str(one.photo), "reason": one.reason} for one in held.unread
        ],
    }


def _of_plain(plain: dict[str, Any]) -> SaddleTracings:
    stated = plain["stated"]
    across, down = plain["ruler"]
    return SaddleTracings(
        saddle=uuids.UUID(plain["saddle"]),
        instrument=plain["instrument"],
        ruler_mm=(across, down),
        stated=SectionsStated(
            behind_mm=tuple(stated["behind"]),
            leans_deg=tuple(stated["leans"]),
            gaps_mm=tuple(stated["gaps"]),
            channel_mm=tuple(stated["channel"]),
            mirrored=stated["mirrored"],
        ),
        photos=tuple(
            HeldPhoto(
                number=one["number"],
                photo=uuids.UUID(one["photo"]),
                sheet=sheet_of_plain(one["sheet"]),
                stations=tuple(one["stations"]),
                is_kept=one["kept"],
            )
            for one in plain["photos"]
        ),
        unread=tuple(
            UnreadPhoto(number=one["number"], photo=uuids.UUID(one["photo"]), reason=one["reason"])
            for one in plain["unread"]
        ),
    )
