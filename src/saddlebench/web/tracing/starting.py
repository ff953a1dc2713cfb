"""Where tracings begin: sheets to print, and the form that takes their photos."""

import hashlib
import tempfile
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.instruments import example_instrument, example_names, instrument_from_text
from saddlebench.exchange.readers import read_by
from saddlebench.exchange.sheets.layout import PAPER_NAMES, SheetKind, layout_of
from saddlebench.exchange.tracings.photo_file import LARGEST_BYTES, UprightPicture, upright_pictures
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.files import store
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError, PhotoFacts, attach_photo
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.instruments import key_or_404
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import chosen
from saddlebench.web.base.spoken import problem_told, spoken, told
from saddlebench.web.tracing.typed import typed_number, typed_numbers
from saddlebench.web.tracing.working import TracingAsked, ask_tracings

MOST_PHOTOS = 20
USUAL_DISTANCES = "-80 0 80 160 240 320 400"


@dataclass(frozen=True, slots=True, kw_only=True)
class StartShown:
    """The form as it stands."""

    horse: uuids.UUID
    label: str
    day: str
    instruments: tuple[tuple[str, str], ...]
    instrument: str
    distances: str
    starts: str
    level: str
    ruler_across: str
    ruler_down: str
    uuid: str
    problems: tuple[Problem, ...] = ()


@signed_in(Action.SEE_HORSES)
def sheet(request: PageRequest, kind: str, paper: str) -> HttpResponse:
    """Give a trace sheet to print."""
    if kind not in list(SheetKind) or paper not in PAPER_NAMES:
        raise Http404
    from saddlebench.report.trace_sheet import trace_sheet_pdf  # noqa: PLC0415 - slow to load

    with read_by(chosen(request.GET).reader()):
        pdf = trace_sheet_pdf(layout_of(SheetKind(kind), paper))
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="trace-sheet-{kind}-{paper}.pdf"'
    return answer


@signed_in(Action.RECORD_BACK, FORM)
@spoken
def new(request: PageRequest) -> HttpResponse:
    """Take photos of trace sheets, and have them read."""
    if request.method == "POST":
        try:
            return _begun(request)
        except InputProblemsError as error:
            return _form(request, error.problems)
    return _form(request, ())


def curve_choices(actor: Actor) -> tuple[tuple[str, str], ...]:
    """Return the traced curves there are: the practice's own first."""
    own = [
        (str(row.uuid), row.label)
        for row in queries.own_instruments(actor)
        if isinstance(instrument_from_text(row.document, row.label), TracedCurve)
    ]
    shipped = [(name, example_instrument(name)) for name in example_names()]
    return (*own, *((name, told(tool.name)) for name, tool in shipped if isinstance(tool, TracedCurve)))


def papers_to_print() -> list[tuple[str, str, str]]:
    """Return each paper with a language that its sheet speaks, and words for both: the reader's own first."""
    reads = (get_language() or "en")[:2]
    papers = [(name, name.upper() if name != "letter" else "Letter") for name in PAPER_NAMES]
    others = {"en": "English", "de": "deutsch"}
    others.pop(reads, None)
    own = [(paper, reads, words) for paper, words in papers]
    return own + [
        (paper, code, f"{words}, {name}") for code, name in others.items() for paper, words in papers
    ]


def curve_named(actor: Actor, name: str) -> TracedCurve:
    """Return a traced curve by its uuid or the name that it comes with the program under.

    Raises
    ------
    InputProblemsError
        If there is none.
    """
    if name in example_names():
        tool = example_instrument(name)
    else:
        try:
            row = queries.instrument_page(actor, uuids.UUID(name))
        except (ValueError, NotFoundError):
            raise _wrong("instrument", "there is no such instrument", "Choose one of the list.") from None
        tool = instrument_from_text(row.document, row.label)
    if not isinstance(tool, TracedCurve):
        raise _wrong("instrument", "this instrument is not traced on paper", "Choose a traced curve.")
    return tool


def _wrong(field: str, what: str, cure: str) -> InputProblemsError:
    return InputProblemsError([Problem(what=what, cure=cure, where=Where(field=field))])


def _form(request: PageRequest, problems: Sequence[Problem]) -> HttpResponse:
    given = request.POST if request.method == "POST" else request.GET
    horse = queries.horse_page(request.actor, key_or_404(given.get("horse", "")))
    choices = curve_choices(request.actor)
    form = StartShown(
        horse=horse.uuid,
        label=horse.label,
        day=given.get("day", timezone.localdate().isoformat()),
        instruments=choices,
        instrument=given.get("instrument", choices[0][0]),
        distances=given.get("distances", USUAL_DISTANCES),
        starts=given.get("starts", "0"),
        level=given.get("level", "0"),
        ruler_across=given.get("ruler_across", ""),
        ruler_down=given.get("ruler_down", ""),
        uuid=str(key_of(given.get("uuid", ""))),
        problems=tuple(problem_told(one) for one in problems),
    )
    kinds = [(SheetKind.SECTIONS.value, _("Cross-sections")), (SheetKind.TOPLINE.value, _("Topline"))]
    more: dict[str, object] = {"papers": papers_to_print(), "kinds": kinds}
    status = 422 if problems else 200
    title = _("Tracings of %(subject)s") % {"subject": horse.label}
    return show(request, "tracing/new.html", title, form, status=status, **more)


def _begun(request: PageRequest) -> HttpResponse:
    posted = request.POST
    horse = queries.horse_page(request.actor, key_or_404(posted.get("horse", "")))
    problems: list[Problem] = []
    distances = read_distances(posted.get("distances", ""), problems)
    numbers = {
        name: typed_number(posted.get(name, ""), words, problems, usual=usual)
        for name, words, usual in (
            ("starts", "Topline starts", 0.0),
            ("level", "Topline falls", 0.0),
            ("ruler_across", "Ruler across", None),
            ("ruler_down", "Ruler down", None),
        )
    }
    try:
        day = date.fromisoformat(posted.get("day", ""))
    except ValueError:
        day = timezone.localdate()
        where = Where(field="Day")
        problems.append(Problem(what="this is not a date", cure="Write year-month-day.", where=where))
    files = chosen_files(request, problems)
    if problems:
        raise InputProblemsError(problems)
    tool = curve_named(request.actor, posted.get("instrument", ""))
    uuid = key_of(posted.get("uuid", ""))
    photos = kept_photos(request.actor, files, uuid, horse=horse.uuid)
    asked = TracingAsked(
        horse=horse.uuid,
        horse_label=horse.label,
        day=day,
        instrument=tool,
        photos=photos,
        distances_mm=distances,
        topline_starts_mm=numbers["starts"] or 0.0,
        topline_level_deg=numbers["level"] or 0.0,
        ruler_across_mm=numbers["ruler_across"],
        ruler_down_mm=numbers["ruler_down"],
    )
    ask_tracings(request.actor, asked, uuid)
    return HttpResponseRedirect(reverse("job", args=[uuid]))


def read_distances(text: str, problems: list[Problem]) -> tuple[float, ...]:
    """Return the stations' distances [mm] as they are written in a list; what is wrong is noted."""
    where = Where(field="Stations")
    found = []
    for read in typed_numbers(text, "Stations", problems):
        if read is None or not -400.0 <= read <= 1200.0:
            what = f"{read:g} mm lies beyond a back"
            problems.append(Problem(what=what, cure="Check the number and its unit.", where=where))
        else:
            found.append(read)
    if not found:
        cure = "Write them with spaces between: -80 0 80 160."
        problems.append(Problem(what="no station has a distance", cure=cure, where=where))
    return tuple(found)


def chosen_files(request: PageRequest, problems: list[Problem]) -> "list[UploadedFile[Any]]":
    """Return the photos that were chosen; too many or none is noted."""
    files = request.FILES.getlist("photos")
    if not 1 <= len(files) <= MOST_PHOTOS:
        what = "no photo was chosen" if not files else f"{len(files)} photos are more than {MOST_PHOTOS}"
        problems.append(
            Problem(what=what, cure="Choose the photos of the sheets.", where=Where(field="Photos"))
        )
    return files


def kept_photos(
    actor: Actor,
    files: Sequence["UploadedFile[Any]"],
    key: uuids.UUID,
    *,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
) -> tuple[uuids.UUID, ...]:
    """Decode every photo apart, keep it with its subject, return their names; none is kept if one is bad.

    Raises
    ------
    InputProblemsError
        With every photo that is bad.
    """
    with tempfile.TemporaryDirectory(prefix="saddlebench-tracing-") as folder:
        paths = []
        for number, file in enumerate(files, start=1):
            path = Path(folder) / f"photo {number}"
            path.write_bytes(file.read(LARGEST_BYTES + 1))
            paths.append(path)
        pictures = upright_pictures(paths)
        originals = [hashlib.sha256(path.read_bytes()).hexdigest() for path in paths]
    bad = [one for one in pictures if isinstance(one, Problem)]
    if bad:
        raise InputProblemsError(bad)
    kept = []
    for number, (picture, original) in enumerate(zip(pictures, originals, strict=True)):
        if not isinstance(picture, UprightPicture):
            continue
        stored = store(Path(settings.SADDLEBENCH_HOME), picture.content)
        facts = PhotoFacts(
            original_sha256=original,
            label="Trace sheet",
            width_px=picture.width_px,
            height_px=picture.height_px,
        )
        uuid = uuids.uuid5(key, f"photo {number}")
        attach_photo(actor, stored, facts, horse=horse, saddle=saddle, uuid=uuid)
        kept.append(uuid)
    return tuple(kept)
