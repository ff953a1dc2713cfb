"""A change study's page: the answer in a sentence, the map and the same as text, what cannot be told."""

import hashlib
import uuid as uuids
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.queries.comparisons import ComparisonPage, comparison_page
from saddlebench.practice.queries.letterhead import letterhead_of
from saddlebench.practice.queries.photos import PhotoShown, photos_of
from saddlebench.practice.queries.report_facts import horse_facts
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.checks.loading import Drawn, Shelf, compressed, drawings, load_engine
from saddlebench.web.base.checks.pictures import PHONE, SVG, WIDTHS, sent
from saddlebench.web.base.noted import noted_of_both_days, shots_told
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import ReportChoices, choices_of, chosen
from saddlebench.web.base.spoken import wholly_spoken
from saddlebench.web.change import trend
from saddlebench.web.change.again import change_again

if TYPE_CHECKING:
    from saddlebench.engine.change.results import ChangeStudy, Comparison
    from saddlebench.report import Photo

NAMES = ("map", "sections", "section", "numbers")
changes: "Shelf[ChangeStudy]" = Shelf(12)
STEP_MM = 20
MOST_PHOTOS = 8
"""In a report."""


def study_of(page: ComparisonPage) -> "ChangeStudy":
    """Return the study that a comparison recorded.

    Raises
    ------
    InputProblemsError
        If this program cannot read it.
    """
    load_engine()

    def read() -> "ChangeStudy":
        from saddlebench.exchange.records import ChangeDocument, parse_document  # noqa: PLC0415

        return parse_document(ChangeDocument, page.document, page.label).study()

    return changes.get(page.sha256, read)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One number that may have changed."""

    words: str
    change: str
    earlier: str
    later: str
    is_told: bool
    reason: str
    """Why there is no number, where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slide:
    """Where sections of both days can be looked at."""

    first: int
    last: int
    at: int
    step: int
    places: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Photos of one shot on the first and the last day; None where it was not taken."""

    shot: str
    before: PhotoShown | None
    after: PhotoShown | None

    @property
    def both(self) -> tuple[tuple[PhotoShown | None, str], ...]:
        """Each day's photo and what it is called."""
        return ((self.before, "Before"), (self.after, "After"))


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def change(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show what changed between records."""
    page = comparison_page(request.actor, uuid, ComparisonKind.CHANGE)
    study = study_of(page)
    return show(request, "change/change.html", page.label, page, **_shown(request, page, study))


def _shown(request: PageRequest, page: ComparisonPage, study: "ChangeStudy") -> dict[str, Any]:
    from saddlebench.engine.change.results import NotComparable  # noqa: PLC0415
    from saddlebench.exchange import change_words as words  # noqa: PLC0415
    from saddlebench.exchange.change_unplaced import unplaced_words  # noqa: PLC0415

    whole = study.whole
    names = page.told.get("names", [])
    shown: dict[str, Any] = {
        "said": words.sentences(study),
        "first": words.day(study.visits[0]),
        "last": words.day(study.visits[-1]),
        "whole": None,
        "steps": [words.step_words(step, study.visits[step.later]) for step in study.steps]
        if len(study.visits) > 2
        else [],
        "visits": list(zip(page.backs, study.visits, strict=True)),
        "names": names if len(names) > 1 else [],
        "again": change_again(request.actor, page),
        "pairs": pairs_of(request.actor, page),
        "report_choices": [one for one in choices_of(request) if one.name != "for"],
        "cautions": study.cautions,
    }
    if isinstance(whole, NotComparable):
        return shown | {"problems": whole.problems}
    lines, volumes, sides = lines_of(whole)
    slide = _slide(whole, request.GET.get("s", ""))
    return (
        shown
        | _section_words(slide, shown["first"], shown["last"])
        | {
            "whole": whole,
            "patches": [words.patch_words(patch) for patch in whole.scan.patches],
            "is_unplaced": whole.scan.is_unplaced,
            "unplaced": unplaced_words(whole.scan.unplaced) if whole.scan.unplaced else (),
            "level": f"{100.0 * whole.scan.level:.0f}",
            "could": words.least_told_words(whole.map),
            "width_note": words.width_note(whole),
            "could_wide": words.least_wide_words(whole.least_wide),
            "told": [one for one in (*volumes, *lines) if one.is_told],
            "untold": [one for one in (*volumes, *lines) if not one.is_told],
            "sides": sides,
            "slide": slide,
            "registration": words.registration_words(whole.registration),
            "coat_before": said(study.visits[0].coat.value),
            "coat_after": said(study.visits[-1].coat.value),
            "coats": sorted({visit.coat.value for visit in (study.visits[0], study.visits[-1])}),
            "cautions": (*whole.cautions, *study.cautions),
        }
    )


def _section_words(slide: Slide, first: str, last: str) -> dict[str, str]:
    """Return what the section shows in words: as it stands, and for the script to fill in the place."""
    words = gettext(
        "Section as seen from behind, %(at)s mm behind the shoulder mark: %(first)s dashed, %(last)s solid, "
        "in grey what an unchanged back stays in."
    )
    both = {"first": first, "last": last}
    return {"section_words": words % {"at": "{at}", **both}, "section_now": words % {"at": slide.at, **both}}


def lines_of(whole: "Comparison") -> tuple[list[Line], list[Line], list[Line]]:
    """Return numbers, volumes and left against right, each as the page tells it."""
    from saddlebench.engine.back.estimates import Estimate  # noqa: PLC0415
    from saddlebench.exchange import change_words as words  # noqa: PLC0415

    def line(what: str, held: Any, *, is_told: bool, earlier: Any = None, later: Any = None) -> Line:
        is_known = isinstance(held, Estimate)
        digits = words.digits_of(held.unit) if is_known else 0
        return Line(
            words=what[:1].upper() + what[1:],
            change=words.estimate_words(held, digits) if is_known else "",
            earlier=reader().number(f"{earlier:.{digits}f}") if isinstance(earlier, float) else "",
            later=reader().number(f"{later:.{digits}f}") if isinstance(later, float) else "",
            is_told=is_told,
            reason="" if is_known else said(held.reason),
        )

    return (
        [
            line(words.number_words(n), n.change, is_told=n.is_told, earlier=n.earlier, later=n.later)
            for n in whole.numbers
        ],
        [
            line(f"{said('volume')} {words.region_words(v)}", v.volume, is_told=v.is_told)
            for v in whole.volumes
        ],
        [
            line(said(f"{s.along.value}, {s.across.value}"), s.left_minus_right, is_told=s.is_told)
            for s in whole.sides
        ],
    )


def _slide(whole: "Comparison", asked: str) -> Slide:
    import numpy as np  # noqa: PLC0415

    from saddlebench.exchange.drawings.change_sections import usual_places  # noqa: PLC0415

    s = whole.map.grid.s_mm[np.any(whole.map.common, axis=1)]
    first, last = (int(np.ceil(s[0] / STEP_MM)) * STEP_MM, int(s[-1] // STEP_MM) * STEP_MM)
    places = [patch.s_mm for patch in whole.scan.patches] or list(usual_places(whole))
    rounded = sorted({int(round(place / STEP_MM) * STEP_MM) for place in places})
    at = min(max(_whole(asked, rounded[0]), first), last)
    return Slide(
        first=first, last=last, at=at, step=STEP_MM, places=tuple((f"{one} mm", one) for one in rounded)
    )


def _whole(text: str, otherwise: int) -> int:
    try:
        return int(float(text))
    except (ValueError, OverflowError):
        return otherwise


def pairs_of(actor: Actor, page: ComparisonPage) -> list[Pair]:
    """Return the photos of the first and the last day, shot by shot; films are not set side by side."""
    days = (page.backs[0].day, page.backs[-1].day)
    by_shot: dict[str, dict[int, PhotoShown]] = defaultdict(dict)
    for photo in photos_of(actor, horse=page.horse.uuid):
        if photo.day in days and not photo.is_film:
            by_shot[photo.shot][days.index(photo.day)] = photo
    words = shots_told(actor, reader())
    return [
        Pair(shot=words.get(shot, ""), before=two.get(0), after=two.get(1)) for shot, two in by_shot.items()
    ]


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def change_picture(request: PageRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Send one picture of a change study."""
    page = comparison_page(request.actor, uuid, ComparisonKind.CHANGE)
    return picture_of(request, page, name)


def picture_of(request: Any, page: ComparisonPage, name: str) -> HttpResponse:
    """Answer with one picture of a change study.

    Raises
    ------
    InputProblemsError
        If there is no such picture.
    """
    from saddlebench.engine.change.results import NotComparable  # noqa: PLC0415

    if name not in NAMES:
        msg = f"there is no picture “{name[:40]}”"
        raise input_problem(msg, f"Choose one of: {', '.join(NAMES)}.")
    study = study_of(page)
    if isinstance(study.whole, NotComparable):
        raise input_problem("records that cannot be compared have no picture", "Read why on the page.")
    width = request.GET.get("width", PHONE)
    width = width if width in WIDTHS else PHONE
    at = float(_slide(study.whole, request.GET.get("s", "")).at) if name == "section" else 0.0

    def make() -> Any:
        from saddlebench.exchange import drawings as drawn  # noqa: PLC0415
        from saddlebench.exchange.drawings.change_map import change_map  # noqa: PLC0415
        from saddlebench.exchange.drawings.change_numbers import change_numbers  # noqa: PLC0415
        from saddlebench.exchange.drawings.change_sections import change_sections  # noqa: PLC0415

        width_mm = drawn.PHONE_WIDTH_MM if width == PHONE or name == "section" else drawn.PAGE_WIDTH_MM
        made = {
            "map": lambda: change_map(study, width_mm=width_mm),
            "sections": lambda: change_sections(study, width_mm=width_mm),
            "section": lambda: change_sections(study, width_mm=width_mm, places_mm=[at]),
            "numbers": lambda: change_numbers(study, width_mm=width_mm),
        }[name]()
        return compressed(drawn.as_svg(made).encode(), SVG)

    reads = reader().language
    picture = drawings.get((page.sha256, "change", name, width, at, reads), make)
    return sent(request, picture, f"{page.sha256[:20]}-{name}-{width}-{at:g}-{reads}")


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def report(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the change study as a report for vet or therapist, with the photos of both days."""
    page = comparison_page(request.actor, uuid, ComparisonKind.CHANGE)
    return report_of(request, request.actor, page, chosen(request.GET))


def report_of(
    request: HttpRequest, actor: Actor, page: ComparisonPage, choices: ReportChoices
) -> HttpResponse:
    """Answer with the report on what changed, in the language, lengths and paper that were chosen."""
    from saddlebench.report import vet_report  # noqa: PLC0415
    from saddlebench.report.facts import facts_of_horse  # noqa: PLC0415

    study = study_of(page)
    photos = _photos_of_both_days(actor, page)
    days = (page.backs[0].day, page.backs[-1].day)
    head = letterhead_of(actor)
    facts = facts_of_horse(horse_facts(actor, page.horse.uuid), choices.reader())
    setting = choices.setting(head, facts)
    told = shots_told(actor, setting.reader)
    noted = noted_of_both_days(actor, page.horse.uuid, days, setting.reader)
    shown = tuple(one.sha256 for one in photos)
    visits = trend.report_part(actor, page.horse.uuid)
    trend_key = "" if visits is None else hashlib.sha256(repr(visits).encode()).hexdigest()
    key = (page.sha256, "change report", choices.query, head.digest, shown, noted, facts, trend_key)

    def make() -> Drawn:
        made = vet_report(study, setting, noted=noted, photos=_checked(page, photos, told), followed=visits)
        return compressed(made, "application/pdf")

    made = drawings.get(key, make)
    tag = hashlib.sha256(repr(key).encode()).hexdigest()[:20]
    return sent(request, made, tag, file_name=f"what-changed-{page.sha256[:8]}.pdf")


def _photos_of_both_days(actor: Actor, page: ComparisonPage) -> list[PhotoShown]:
    days = (page.backs[0].day, page.backs[-1].day)
    held = [one for one in photos_of(actor, horse=page.horse.uuid) if one.day in days and not one.is_film]
    return held[:MOST_PHOTOS]


def _checked(page: ComparisonPage, photos: list[PhotoShown], told: Mapping[str, str]) -> "tuple[Photo, ...]":
    from saddlebench.report import checked_photo  # noqa: PLC0415

    home, last = Path(settings.SADDLEBENCH_HOME), page.backs[-1].day
    found = []
    for one in photos:
        stored = stored_path(home, one.sha256, one.media_type)
        if stored.is_file():
            words = told.get(one.shot, told[""])
            found.append(checked_photo(stored.read_bytes(), words, is_later=one.day == last))
    return tuple(found)
