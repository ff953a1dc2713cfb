"""Packs for the tests: what an invented practice might hand over."""

import hashlib
import io
import uuid as uuids
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from PIL import Image

from exchange.studies import back_record, study
from saddlebench.demo.saddles import TOO_NARROW
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.films.cleaning import clean_film
from saddlebench.exchange.packs import KeyPair, PackDocument, VersionPart, made_keys
from saddlebench.exchange.packs.document import (
    BackPart,
    FilmPart,
    HorsePart,
    PhotoPart,
    SaddlePart,
    SaddleVersionPart,
    SenderPart,
    StudyPart,
)
from saddlebench.exchange.records import BackDocument, SaddleDocument, StudyDocument, as_json
from support.films import film

SENDER_UUID = "0d6a4c1e-0000-4000-8000-000000000001"
AT = "2026-05-14T10:00:00+00:00"


def named(words: str) -> str:
    return str(uuids.uuid5(uuids.NAMESPACE_URL, words))


@cache
def back_text() -> str:
    return as_json(BackDocument.of(back_record()))


@cache
def saddle_text() -> str:
    return as_json(
        SaddleDocument.of(
            SaddleRecord(
                label="a saddle (invented)", numbers=TOO_NARROW, alterable=usual_alterations(TOO_NARROW)
            )
        )
    )


@cache
def study_text() -> str:
    return as_json(StudyDocument.of(study()))


@cache
def picture(seed: int = 0, side: int = 64) -> bytes:
    dots = np.random.default_rng(seed).integers(0, 255, (side, side, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(dots).save(out, "JPEG")
    return out.getvalue()


@dataclass(frozen=True)
class Content:
    """A pack before it is made."""

    document: PackDocument
    files: dict[str, bytes] = field(default_factory=dict)


def version(file: str, content: bytes) -> VersionPart:
    return VersionPart(file=file, sha256=hashlib.sha256(content).hexdigest(), number=1, recorded_at=AT)


def content_of(
    keys: KeyPair, *, photos: int = 1, films: int = 0, with_study: bool = True, message: str = ""
) -> Content:
    """A horse with a back, a saddle, a fit check and photos; everything invented."""
    horse, saddle, back = named("horse"), named("saddle"), named("back")
    files = {
        f"records/backs/{back}.json": back_text().encode(),
        f"records/saddles/{saddle}.json": saddle_text().encode(),
    }
    versions = {name: version(name, content) for name, content in files.items()}
    back_version, saddle_version = versions.values()
    studies: tuple[StudyPart, ...] = ()
    if with_study:
        name = f"records/fit-checks/{named('study')}.json"
        files[name] = study_text().encode()
        studies = (
            StudyPart(
                uuid=named("study"),
                label="The brown one on Juniper",
                back=back,
                back_sha256=back_version.sha256,
                saddle=saddle,
                saddle_sha256=saddle_version.sha256,
                version=version(name, files[name]),
            ),
        )
    pictures = []
    for k in range(photos):
        file, content = f"photos/{k + 1:02d}.jpg", picture(k)
        files[file] = content
        pictures.append(
            PhotoPart(
                uuid=named(f"photo {k}"),
                file=file,
                sha256=version(file, content).sha256,
                media_type="image/jpeg",
                horse=horse,
                shot="side_on",
                day=back_record().measured_on,
            )
        )
    moving = []
    for k in range(films):
        file, content = f"films/{k + 1:03d}.mp4", clean_film(film(), "video/mp4")
        files[file] = content
        moving.append(
            FilmPart(
                uuid=named(f"film {k}"),
                file=file,
                sha256=version(file, content).sha256,
                media_type="video/mp4",
                horse=horse,
                shot="walk",
                day=back_record().measured_on,
            )
        )
    document = PackDocument(
        uuid=named("pack"),
        made_at=AT,
        program_version="0.0",
        sender=SenderPart(practice=SENDER_UUID, label="Gorse Saddlery (invented)", key=keys.public.line),
        message=message,
        horses=(HorsePart(uuid=horse, label="Juniper", microchip="985000123456789", born_in=2014),),
        saddles=(SaddlePart(uuid=saddle, label="The brown one", family="panelled"),),
        backs=(
            BackPart(
                uuid=back,
                horse=horse,
                label="3 May",
                measured_on=back_record().measured_on,
                version=back_version,
            ),
        ),
        saddle_records=(SaddleVersionPart(saddle=saddle, version=saddle_version),),
        studies=studies,
        photos=tuple(pictures),
        films=tuple(moving),
        cautions=("A screening aid, not a diagnosis.",),
    )
    return Content(document=document, files=dict(files))


__all__ = ["Content", "content_of", "made_keys", "named", "picture", "replace"]
