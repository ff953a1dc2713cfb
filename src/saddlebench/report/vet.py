"""The report for vet or therapist: what changed, near against off, how sure, what was noted on both days."""

import io
from dataclasses import dataclass
from typing import Any

from PIL import Image, ImageOps, UnidentifiedImageError

from saddlebench.engine.change.results import ChangeStudy, Comparison, RegionVolume, SideChange
from saddlebench.engine.errors import InputProblemsError, Where, input_problem
from saddlebench.exchange.change_words import (
    day,
    days,
    estimate_words,
    headline,
    least_told_words,
    least_wide_words,
    region_words,
    registration_words,
    sentences,
    step_words,
)
from saddlebench.exchange.drawings import PAGE_WIDTH_MM
from saddlebench.exchange.drawings.change_map import change_map
from saddlebench.exchange.drawings.change_numbers import change_numbers
from saddlebench.exchange.drawings.change_sections import change_sections
from saddlebench.exchange.drawings.ink import drawable, shortened
from saddlebench.exchange.readers import read_by
from saddlebench.exchange.vocabulary import said
from saddlebench.report.setting import (
    LONGEST_LABEL,
    Setting,
    drawn,
    pictures_in,
    shared_contents,
    shared_words,
)
from saddlebench.report.trend import Followed, trend_contents
from saddlebench.report.typeset import typeset_for_all

TEMPLATE = "vet.typ"
KEPT_SIDE_PX = 1400
MOST_PHOTO_BYTES = 40_000_000
ASYMMETRY_NOTE = (
    "How much more the near side changed than the off side, in the mean over each region. Bold: more than "
    "measuring error explains. It says nothing of how unequal the sides were on the first day."
)
NOTED_NOTE = "As the fitter wrote it down on each day; nothing here is computed or judged."


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """Something looked at or felt on both days: palpation, muscle, stance."""

    what: str
    """As people read it."""
    earlier: str
    later: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo of one of the two days, straightened, bounded, and with nothing in it but the picture."""

    content: bytes
    """JPEG, as `checked_photo` returns it."""
    words: str
    is_later: bool


def checked_photo(content: bytes, words: str, *, is_later: bool, file: str = "") -> Photo:
    """Return a photo ready for a report.

    Raises
    ------
    InputProblemsError
        If it cannot be read as JPEG, PNG or WebP, or is too large.
    """
    try:
        if len(content) > MOST_PHOTO_BYTES:
            raise _refused(file)
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG", "WEBP")) as opened:
            picture = ImageOps.exif_transpose(opened).convert("RGB")
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError) as error:
        raise _refused(file) from error
    picture.thumbnail((KEPT_SIDE_PX, KEPT_SIDE_PX))
    held = io.BytesIO()
    picture.save(held, format="JPEG", quality=85)
    return Photo(content=held.getvalue(), words=words, is_later=is_later)


def _refused(file: str) -> InputProblemsError:
    cure = "Take a JPEG, PNG or WebP picture of at most 40 MB."
    return input_problem("a photo cannot be read as a picture", cure, Where(file=file, field="photo"))


def vet_report(
    study: ChangeStudy,
    setting: Setting,
    *,
    noted: tuple[Noted, ...] = (),
    photos: tuple[Photo, ...] = (),
    followed: Followed | None = None,
) -> bytes:
    """Return the report for vet or therapist as PDF; equal input gives equal bytes.

    Parameters
    ----------
    study
        Two or more days of one back; where they cannot be compared, the report says why.
    setting
        For whom, on what paper.
    noted
        What was looked at and felt on the first and on the last of these days.
    photos
        Of those two days.
    followed
        The same back over all its visits.
    """
    with read_by(setting.reader):
        contents = _contents(study, setting, noted, photos)
        contents |= trend_contents(followed)
    pictures = {f"photo-{k}.jpg": photo.content for k, photo in enumerate(photos)}
    return typeset_for_all(TEMPLATE, [contents], pictures={**pictures_in(setting), **pictures})


def _contents(
    study: ChangeStudy, setting: Setting, noted: tuple[Noted, ...], photos: tuple[Photo, ...]
) -> dict[str, Any]:
    first, last = study.visits[0], study.visits[-1]
    horse = shortened(study.horse, LONGEST_LABEL)
    whole = study.whole if isinstance(study.whole, Comparison) else None
    own = () if whole is None else whole.cautions
    said_of_it = sentences(study)
    least = "" if whole is None else least_told_words(whole.map)
    wide = "" if whole is None else least_wide_words(whole.least_wide)
    return {
        **shared_contents(
            setting,
            f"{said('Change of the back')}: {horse}, {days(first, last)}",
            study.cautions,
            f"saddlebench {study.engine_version} · {horse}",
        ),
        "words": _words(day(first), day(last)),
        "answer": headline(study),
        "found": [drawable(line) for line in said_of_it[1:] if line not in (least, wide)],
        "least": f"{least} {wide}".rstrip(),
        "sides": [] if whole is None else [_side(one) for one in whole.sides],
        "volumes": [] if whole is None else [_volume(one) for one in whole.volumes],
        "between": [
            drawable(step_words(step, study.visits[step.later])) for step in study.steps[:-1] if study.steps
        ],
        "noted": [{"what": one.what, "earlier": one.earlier, "later": one.later} for one in noted],
        "photos": [
            {
                "file": f"photo-{k}.jpg",
                "alt": f"{day(last if photo.is_later else first)}: {photo.words}",
            }
            for k, photo in enumerate(photos)
        ],
        "how": [
            drawable(line)
            for line in (
                *((registration_words(whole.registration),) if whole else ()),
                *(said(caution) for caution in own),
                *(_made_with(study)),
            )
        ],
        "pictures": {}
        if whole is None
        else drawn(
            {
                "map": change_map(study, width_mm=PAGE_WIDTH_MM),
                "sections": change_sections(study, width_mm=PAGE_WIDTH_MM),
                "numbers": change_numbers(study, width_mm=PAGE_WIDTH_MM),
            }
        ),
    }


def _words(first: str, last: str) -> dict[str, Any]:
    words = {
        "asymmetry": "Near against off",
        "asymmetry_note": ASYMMETRY_NOTE,
        "volumes": "Volumes, region by region",
        "between": "Visits in between",
        "noted": "Noted on both days",
        "noted_note": NOTED_NOTE,
        "photos": "Photos of both days",
        "sections": "Sections of both days",
        "numbers": "Numbers",
        "how": "How this was compared",
    }
    return {
        **shared_words(),
        **{name: said(one) for name, one in words.items()},
        "side_columns": [said(one) for one in ("region", "near less off (95 % interval)", "told")],
        "volume_columns": [said(one) for one in ("region", "volume (95 % interval)", "told")],
        "noted_columns": ["", first, last],
    }


def _side(one: SideChange) -> dict[str, Any]:
    words = said(f"{one.along.value}, {one.across.value}")
    return _row(words, estimate_words(one.left_minus_right, 1), is_told=one.is_told)


def _volume(one: RegionVolume) -> dict[str, Any]:
    return _row(region_words(one), estimate_words(one.volume), is_told=one.is_told)


def _row(words: str, change: str, *, is_told: bool) -> dict[str, Any]:
    told = "changed" if is_told else "cannot be told"
    return {"told": is_told, "cells": [drawable(words), drawable(change), said(told)]}


def _made_with(study: ChangeStudy) -> list[str]:
    return [
        f"{day(visit)}: {shortened(visit.instrument, 40)}, "
        + said(f"{visit.n_stations} stations, coat {visit.coat.value}")
        for visit in study.visits
    ]
