"""Papers without marks as other programs state them: their corners, and what is known of their size."""

import uuid as uuids
from typing import Annotated

from pydantic import Field

from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.by_hand import framed
from saddlebench.exchange.tracings.sheet_read import Frame, KnownLength
from saddlebench.practice.queries.photos import PhotoShown
from saddlebench.web.base.interface import Given

Dots = Annotated[float, Field(ge=0.0, le=100_000.0)]
Side = Annotated[float, Field(ge=20.0, le=3000.0)]
Ruler = Annotated[float, Field(gt=0.0, le=500.0)]


class LengthKnown(Given):
    """Two places on the photo, in dots, and how far apart they truly are in mm."""

    start: tuple[Dots, Dots]
    end: tuple[Dots, Dots]
    mm: Side


class PaperCorners(Given):
    """The four corners of a plain paper in dots of the photo, from the upper left one round.

    Its size, a length that is known on it, or both: then they are held against each other. `uuid` names the
    job.
    """

    uuid: uuids.UUID
    corners: Annotated[list[tuple[Dots, Dots]], Field(min_length=4, max_length=4)]
    width: Side | None = None
    height: Side | None = None
    length: LengthKnown | None = None
    middle: Annotated[float, Field(ge=0.0, le=3000.0)] | None = None

    def frame_on(self, shown: PhotoShown, kind: SheetKind) -> Frame:
        """Return the paper on a photo.

        Raises
        ------
        InputProblemsError
            If the corners are no paper seen by a camera, or its size is not known.
        """
        known = self.length
        frame = Frame(
            kind=kind,
            corners=tuple(self.corners),
            width_mm=self.width if self.height is not None else None,
            height_mm=self.height if self.width is not None else None,
            length=None if known is None else KnownLength(start=known.start, end=known.end, mm=known.mm),
            middle_mm=self.middle,
        )
        framed(frame, (shown.width_px or 1, shown.height_px or 1))
        return frame
