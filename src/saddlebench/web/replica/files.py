"""The pages of a kit's files: what is chosen, how it will look, and what was made, for download."""

import uuid as uuids
import zipfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import cast

from django.conf import settings
from django.http import FileResponse, Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.made import KEPT_DAYS, made_path
from saddlebench.practice.queries.jobs import job_page
from saddlebench.practice.queries.rebuilds import RebuildSource
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import homeless, key_of, show_fields, typed_texts, whole_of
from saddlebench.web.base.instruments import settable_choices
from saddlebench.web.base.render import show
from saddlebench.web.replica.choices import KIT, PARTS, PartOfKit, query_of, read_choices
from saddlebench.web.replica.making import NOTES, ask_files
from saddlebench.web.replica.previews import Preview, on_screen, preview_of

TYPES = {
    ".pdf": ("application/pdf", "to print"),
    ".svg": ("image/svg+xml", "for a cutter, or to look at"),
    ".dxf": ("image/vnd.dxf", "for a cutter or router"),
    ".3mf": ("model/3mf", "for a printer of solids; states its unit"),
    ".stl": ("model/stl", "for a printer or mill; its numbers are mm"),
    ".glb": ("model/gltf-binary", "to look at"),
    ".json": ("application/json", "for machines"),
    ".txt": ("text/plain; charset=utf-8", "to read first"),
}
_LARGEST_NOTES = 1_000_000


@signed_in(Action.REBUILD, FORM)
def part(request: PageRequest, uuid: uuids.UUID, what: str) -> HttpResponse:
    """Choose how a part of the kit is made, see it drawn, and ask for its files."""
    if what not in PARTS:
        raise Http404
    given = request.POST if request.method == "POST" else request.GET
    source = queries.rebuild_source(request.actor, uuid, whole_of(given.get("version", "")) or None)
    chosen = PARTS[what]
    problems: tuple[Problem, ...] = ()
    values: dict[str, Value] = dict(chosen.usual)
    preview: Preview | None = None
    try:
        values = read_choices(chosen, given)
        if request.method == "POST" and "make" in request.POST:
            return _asked(request, source, chosen, values)
        preview = preview_of(source, what, values) if what != KIT else None
    except InputProblemsError as error:
        problems = error.problems
    return _page(request, source, chosen, values, preview, problems)


def _asked(
    request: PageRequest, source: RebuildSource, chosen: PartOfKit, values: dict[str, Value]
) -> HttpResponse:
    if chosen.name != KIT:
        # What cannot be made is said beside the form, not by the work.
        preview_of(source, chosen.name, values)
    instruments = request.POST.getlist("instrument") if chosen.name == KIT else []
    back_to = f"{request.path}?{query_of({'version': source.number, **values})}"
    uuid = key_of(request.POST.get("form", ""))
    ask_files(
        request.actor,
        source,
        chosen.name,
        values,
        instruments=[one for one in instruments if one],
        uuid=uuid,
        back_to=back_to[:300],
    )
    return HttpResponseRedirect(reverse("job", args=[uuid]))


def _page(
    request: PageRequest,
    source: RebuildSource,
    chosen: PartOfKit,
    values: dict[str, Value],
    preview: Preview | None,
    problems: tuple[Problem, ...],
) -> HttpResponse:
    given = request.POST if request.method == "POST" else request.GET
    typed = typed_texts(given, chosen.fields) if problems else None
    shown = show_fields(
        chosen.fields, {**dict.fromkeys(chosen.fields), **values}, typed=typed, problems=problems
    )
    query = query_of({"version": source.number, **values})
    address = reverse("replica:part", args=[source.uuid, chosen.name])
    drawings = preview.drawings if preview else ()
    return show(
        request,
        "replica/part.html",
        f"{chosen.words}: {source.horse.label}",
        source,
        status=422 if problems else 200,
        part=chosen,
        main=[one for one in shown if one.name not in chosen.seldom],
        more=[one for one in shown if one.name in chosen.seldom],
        more_open=any(one.problems for one in shown if one.name in chosen.seldom),
        problems=homeless(problems, shown),
        preview=preview,
        drawings=[
            (one.title, one.description, f"{address}preview/{k}.svg?{query}")
            for k, one in enumerate(drawings)
        ],
        instruments=settable_choices(request.actor) if chosen.name == KIT else (),
        chosen_instruments=given.getlist("instrument"),
        form=str(uuids.uuid4()),
        cautions=_cautions(),
    )


@signed_in(Action.SEE_HORSES)
def preview_picture(request: PageRequest, uuid: uuids.UUID, what: str, number: int) -> HttpResponse:
    """Send one drawing of a part as it will look."""
    if what not in PARTS or what == KIT:
        raise Http404
    source = queries.rebuild_source(request.actor, uuid, whole_of(request.GET.get("version", "")) or None)
    drawings = preview_of(source, what, read_choices(PARTS[what], request.GET)).drawings
    if number >= len(drawings):
        raise Http404
    held = {"Cache-Control": "private, no-cache"}
    return HttpResponse(on_screen(drawings[number]), content_type="image/svg+xml", headers=held)


@dataclass(frozen=True, slots=True, kw_only=True)
class FileMade:
    """One file of those that were made."""

    number: int
    name: str
    folder: str
    kind: str
    size_bytes: int


@signed_in(Action.SEE_HORSES)
def made(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show what was made, to download one by one or all in one."""
    job = job_page(request.actor, uuid)
    path = _archive(request, uuid)
    with zipfile.ZipFile(path) as archive:
        listed = [_file_made(k, one) for k, one in enumerate(archive.infolist())]
        notes = _notes(archive)
    folders: dict[str, list[FileMade]] = {}
    for one in listed:
        if one.name != NOTES:
            folders.setdefault(one.folder, []).append(one)
    return show(
        request,
        "replica/made.html",
        job.words,
        job,
        folders=list(folders.items()),
        notes=notes,
        size_bytes=path.stat().st_size,
        days=KEPT_DAYS,
        cautions=_cautions(),
    )


def _file_made(number: int, one: zipfile.ZipInfo) -> FileMade:
    path = PurePosixPath(one.filename)
    return FileMade(
        number=number,
        name=path.name,
        folder="/".join(path.parts[1:-1]),
        kind=TYPES.get(path.suffix, ("", ""))[1],
        size_bytes=one.file_size,
    )


def _notes(archive: zipfile.ZipFile) -> list[str]:
    """Return the remarks that a part's notes, or a kit's first page, hold."""
    for one in archive.infolist():
        if one.filename.endswith(".txt") and one.file_size < _LARGEST_NOTES:
            lines = archive.read(one).decode("utf-8").splitlines()
            return [line.removeprefix("! ") for line in lines if line.startswith("! ")]
    return []


@signed_in(Action.SEE_HORSES)
def whole(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send everything that was made as one file."""
    job_page(request.actor, uuid)
    return archive_sent(_archive(request, uuid))


def archive_sent(path: Path) -> HttpResponse:
    """Answer with an archive, under the name of the folder in it."""
    name = f"{archive_name(path)}.zip"
    sent = FileResponse(path.open("rb"), as_attachment=True, filename=name, content_type="application/zip")
    sent["Cache-Control"] = "private, no-cache"
    return cast("HttpResponse", sent)


@signed_in(Action.SEE_HORSES)
def one_file(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Send one of the files that were made, named by the horse too."""
    job_page(request.actor, uuid)
    path = _archive(request, uuid)
    with zipfile.ZipFile(path) as archive:
        listed = archive.infolist()
        if number >= len(listed):
            raise Http404
        content = archive.read(listed[number])
    inside = PurePosixPath(listed[number].filename)
    horse = archive_name(path).split("-")[0]
    name = inside.name if horse in inside.name else f"{horse}-{inside.name}"
    content_type = TYPES.get(inside.suffix, ("application/octet-stream", ""))[0]
    held = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-cache"}
    return HttpResponse(content, content_type=content_type, headers=held)


def archive_name(path: Path) -> str:
    """Return what the folder inside an archive is called: the horse, the part, the day."""
    with zipfile.ZipFile(path) as archive:
        return PurePosixPath(archive.infolist()[0].filename).parts[0]


def _archive(request: PageRequest, uuid: uuids.UUID) -> Path:
    path = made_path(Path(settings.SADDLEBENCH_HOME), request.actor.practice_id, uuid)
    if not path.exists():
        raise NotFoundError("set of files made", uuid)
    return path


def _cautions() -> tuple[str, ...]:
    from saddlebench.report.replica.words import CAUTIONS  # noqa: PLC0415

    return CAUTIONS
