"""A picture's or film's bytes kept: what it is is seen from them, never from a name."""

import hashlib
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings

from saddlebench.exchange.films.cleaning import clean_film
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice.keeping.files import StoredFile, sniff, store, thumbnail_path
from saddlebench.practice.services import PhotoFacts
from saddlebench.web.photos.pictures import is_heif, read_picture


def keep(content: bytes, shot: str, zone: ZoneInfo) -> tuple[StoredFile, PhotoFacts]:
    """Store a picture or film as it is kept, and return it with what is known about it.

    Raises
    ------
    InputProblemsError
        If it is no picture or film that can be kept.
    """
    home = Path(settings.SADDLEBENCH_HOME)
    media_type = "image/heic" if is_heif(content) else sniff(content)
    if media_type.startswith("video/"):
        original = hashlib.sha256(content).hexdigest()
        return store(home, clean_film(content, media_type)), PhotoFacts(original_sha256=original, shot=shot)
    picture = read_picture(content, zone)
    stored = store(home, picture.content)
    write_whole(thumbnail_path(home, stored.sha256), picture.small)
    return stored, PhotoFacts(
        original_sha256=picture.original_sha256,
        shot=shot,
        width_px=picture.width_px,
        height_px=picture.height_px,
        taken_at=picture.taken_at,
        flaws=picture.flaws,
    )
