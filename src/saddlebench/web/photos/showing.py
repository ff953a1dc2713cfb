"""Photos on pages: one with its marks, a horse's by day, two side by side; and their bytes."""

import uuid as uuids
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import FileResponse, Http404, HttpResponse
from django.urls import reverse
from django.utils.cache import patch_cache_control

from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.files import stored_path, thumbnail_path
from saddlebench.practice.queries.photos import PhotoShown, photo, photos_of, shot_list
from saddlebench.practice.rules import may
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.days import short_day
from saddlebench.web.base.files import part_of
from saddlebench.web.base.render import show
from saddlebench.web.photos.measuring import drawn_shown
from saddlebench.web.photos.pictures import thumbnail_of

MORE_WORDS = "More photos or films"
_KEPT_S = 365 * 24 * 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotPhotos:
    """One shot with the photos taken of it."""

    name: str
    words: str
    photos: tuple[PhotoShown, ...]


@signed_in(Action.SEE_HORSES)
def one(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a photo or film, what is drawn on it, and the tools to draw."""
    page = photo(request.actor, uuid)
    shots = shot_list(request.actor)
    words = next((shot.words for shot in shots if shot.name == page.shot), "Photo")
    more: dict[str, Any] = {
        "drawn": drawn_shown(page.drawn, page.width_px, page.height_px),
        "shots": shots,
        "shot_words": "Film" if page.is_film else words,
        "stroke": max(page.width_px or 0, page.height_px or 0) / 300,
        "fresh": str(uuids.uuid4()),
    }
    title = f"{words}, {short_day(page.day)}"
    return show(request, "photos/photo.html", title, page, **more)


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """Whose photos a page shows: a horse's or a saddle's, and the addresses that go with it."""

    uuid: uuids.UUID
    label: str
    kind: str
    none_words: str
    may_add: bool = False

    @property
    def page_url(self) -> str:
        """The record's own page."""
        return reverse(f"records:{self.kind}", args=[self.uuid])

    @property
    def photos_url(self) -> str:
        """All its photos."""
        return reverse(f"photos:of_{self.kind}", args=[self.uuid])

    @property
    def compare_url(self) -> str:
        """Two of them side by side."""
        return reverse(f"photos:compare_{self.kind}", args=[self.uuid])

    @property
    def add_url(self) -> str:
        """Where a photo of it is sent to."""
        return reverse(f"photos:add_to_{self.kind}", args=[self.uuid]) if self.may_add else ""


def _horse(request: PageRequest, uuid: uuids.UUID) -> Owner:
    page = queries.horse_page(request.actor, uuid)
    return Owner(
        uuid=page.uuid,
        label=page.label,
        kind="horse",
        none_words="No photo of this horse yet. Those of a visit come here by themselves.",
        may_add=may(request.actor, Action.ENTER_VISIT, request.actor.practice_id),
    )


def _saddle(request: PageRequest, uuid: uuids.UUID) -> Owner:
    page = queries.saddle_page(request.actor, uuid)
    return Owner(
        uuid=page.uuid,
        label=page.label,
        kind="saddle",
        none_words="No photo of this saddle yet.",
        may_add=may(request.actor, Action.EDIT_SADDLES, request.actor.practice_id),
    )


@signed_in(Action.SEE_HORSES)
def of_horse(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a horse's photos by day, two of which may be laid side by side, and take more."""
    return _all(request, _horse(request, uuid))


@signed_in(Action.SEE_HORSES)
def of_saddle(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a saddle's photos by day, and take more."""
    return _all(request, _saddle(request, uuid))


def _all(request: PageRequest, owner: Owner, *, too_few: bool = False) -> HttpResponse:
    more: dict[str, object] = {
        "owner": owner,
        "photos": photos_of(request.actor, **{owner.kind: owner.uuid})[::-1],
        "shot": ShotPhotos(name="", words=MORE_WORDS, photos=()),
        "too_few": too_few,
    }
    status = 422 if too_few else 200
    return show(request, "photos/of.html", f"Photos of {owner.label}", owner, status=status, **more)


@signed_in(Action.SEE_HORSES)
def compare_horse(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show two photos of a horse, the earlier on the left, with a slider over both."""
    return _compare(request, _horse(request, uuid))


@signed_in(Action.SEE_HORSES)
def compare_saddle(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show two photos of a saddle in the same way."""
    return _compare(request, _saddle(request, uuid))


def _compare(request: PageRequest, owner: Owner) -> HttpResponse:
    chosen = [_pictured(request, owner, text) for text in request.GET.getlist("photo")[:2]]
    if len(chosen) < 2:
        return _all(request, owner, too_few=True)
    before, after = sorted(chosen, key=lambda shown: (shown.day, shown.made_at))
    title = f"{owner.label}: {short_day(before.day)} and {short_day(after.day)}"
    return show(request, "photos/compare.html", title, owner, owner=owner, before=before, after=after)


def _pictured(request: PageRequest, owner: Owner, text: str) -> PhotoShown:
    try:
        shown = photo(request.actor, uuids.UUID(text))
    except ValueError:
        raise Http404 from None
    of = shown.horse if owner.kind == "horse" else shown.saddle
    if shown.is_film or of is None or of.uuid != owner.uuid:
        raise NotFoundError("photo", text)
    return shown


@signed_in(Action.SEE_HORSES)
def file(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give a photo's or film's bytes; of a film also a part, as players ask for it."""
    return file_of(photo(request.actor, uuid), request.headers.get("Range", ""))


@signed_in(Action.SEE_HORSES)
def thumb(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give a photo's small copy."""
    return small_of(photo(request.actor, uuid))


def file_of(shown: PhotoShown, asked: str) -> HttpResponse:
    """Return the answer with a photo's or film's bytes, or with the part that a Range header asks for.

    Raises
    ------
    NotFoundError
        If the file is gone.
    """
    path = stored_path(Path(settings.SADDLEBENCH_HOME), shown.sha256, shown.media_type)
    if not path.is_file():
        raise NotFoundError("file of this photo", shown.uuid)
    return _kept(part_of(path, asked, shown.media_type), shown)


def small_of(shown: PhotoShown) -> HttpResponse:
    """Return the answer with a photo's small copy; it is made again where it is gone.

    Raises
    ------
    NotFoundError
        If it is a film, or the file is gone.
    """
    home = Path(settings.SADDLEBENCH_HOME)
    path = thumbnail_path(home, shown.sha256)
    if shown.is_film:
        raise NotFoundError("picture of this film", shown.uuid)
    if not path.is_file():
        whole = stored_path(home, shown.sha256, shown.media_type)
        if not whole.is_file():
            raise NotFoundError("file of this photo", shown.uuid)
        write_whole(path, thumbnail_of(whole.read_bytes()))
    return _kept(HttpResponse(path.read_bytes(), content_type="image/jpeg"), shown)


def _kept(response: HttpResponse | FileResponse, shown: PhotoShown) -> HttpResponse:
    """Let this person's browser keep it: the same photo never has other bytes."""
    patch_cache_control(response, private=True, max_age=_KEPT_S, immutable=True)
    response["Content-Disposition"] = (
        f'inline; filename="{shown.day.isoformat()}-{shown.uuid}{_suffix(shown)}"'
    )
    return response  # type: ignore[return-value]


def _suffix(shown: PhotoShown) -> str:
    return stored_path(Path(), shown.sha256, shown.media_type).suffix
