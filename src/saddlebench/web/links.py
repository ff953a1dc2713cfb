"""Where a record's page is, and what may be begun from a record's page: slices meet here by name.

A slice does not import another. Its pages are found through this table; what names a slice that is not in the
list of slices is left out.
"""

from dataclasses import dataclass
from urllib.parse import urlencode
from uuid import UUID

from django.urls import reverse

from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.rules import Actor, may
from saddlebench.web.slices import SLICES

PAGES: dict[Subject, str] = {
    Subject.CLIENT: "records:client",
    Subject.YARD: "records:yard",
    Subject.HORSE: "records:horse",
    Subject.SADDLE: "records:saddle",
    Subject.VISIT: "visit:visit",
    Subject.BACK: "capture:back",
    Subject.STUDY: "study:study",
    Subject.PHOTO: "photos:photo",
    Subject.CAPTURE: "capture:overview",
    Subject.INSTRUMENT: "capture:instrument",
    Subject.PLAN: "alter:plan",
    Subject.ORDER: "orders:order",
    Subject.CHOICE: "stock:choice",
    Subject.COMPARISON: "change:change",
}
"""Address of each kind of record's page; it takes the record's uuid."""


REBUILD_CHECK = "replica:check"
"""Address of a measured rebuild; it takes the check's uuid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """Something to begin from a record's page."""

    on: Subject
    url: str
    words: str
    action: Action
    query: str = ""
    """Name under which the record's uuid is asked for; empty: it is part of the address."""


DEEDS: tuple[Deed, ...] = (
    Deed(
        on=Subject.HORSE,
        url="visit:new",
        words="Start a visit",
        action=Action.ENTER_VISIT,
        query="horse",
    ),
    Deed(
        on=Subject.HORSE,
        url="capture:start",
        words="Measure the back",
        action=Action.RECORD_BACK,
        query="horse",
    ),
    Deed(
        on=Subject.HORSE,
        url="tracing:new",
        words="Read tracings on paper",
        action=Action.RECORD_BACK,
        query="horse",
    ),
    Deed(
        on=Subject.HORSE,
        url="scan:new",
        words="Take a scan",
        action=Action.RECORD_BACK,
        query="horse",
    ),
    Deed(on=Subject.HORSE, url="study:new", words="Check a saddle’s fit", action=Action.RECORD_STUDY),
    Deed(on=Subject.HORSE, url="change:changed", words="What changed", action=Action.SEE_HORSES),
    Deed(on=Subject.HORSE, url="stock:shortlist", words="Find a saddle", action=Action.RECORD_STUDY),
    Deed(on=Subject.HORSE, url="photos:of_horse", words="Photos", action=Action.SEE_HORSES),
    Deed(on=Subject.HORSE, url="packs:new_of_horse", words="Hand over", action=Action.EXPORT),
    Deed(
        on=Subject.SADDLE,
        url="capture:measure_saddle",
        words="Measure the saddle",
        action=Action.RECORD_SADDLE,
    ),
    Deed(
        on=Subject.SADDLE,
        url="underside:new",
        words="Scan the underside",
        action=Action.RECORD_SADDLE,
    ),
    Deed(
        on=Subject.SADDLE,
        url="tracing:saddle_new",
        words="Trace the underside on paper",
        action=Action.RECORD_SADDLE,
    ),
    Deed(on=Subject.SADDLE, url="photos:of_saddle", words="Photos", action=Action.SEE_HORSES),
    Deed(on=Subject.SADDLE, url="stock:takers", words="Who could take it?", action=Action.RECORD_STUDY),
    Deed(
        on=Subject.SADDLE,
        url="capture:measured_saddle",
        words="Its numbers",
        action=Action.SEE_SADDLES,
    ),
    Deed(on=Subject.SADDLE, url="packs:new_of_saddle", words="Hand over", action=Action.EXPORT),
    Deed(on=Subject.BACK, url="replica:overview", words="Rebuild it elsewhere", action=Action.SEE_HORSES),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeedShown:
    """A deed that a page offers."""

    address: str
    words: str


def _is_installed(url: str) -> bool:
    return url.partition(":")[0] in {one.name for one in SLICES}


def page_address(subject: Subject, uuid: UUID) -> str:
    """Return the address of a record's page; its versions', or empty, where no slice shows such a record."""
    url = PAGES.get(subject, "")
    if _is_installed(url):
        return reverse(url, args=[uuid])
    if subject in {Subject.BACK, Subject.STUDY}:
        return reverse("records:versions", args=[subject.value, uuid])
    return ""


def deeds_on(subject: Subject, uuid: UUID, actor: Actor) -> list[DeedShown]:
    """Return what this person may begin from a record's page."""
    return [
        DeedShown(address=_address(deed, uuid), words=deed.words)
        for deed in DEEDS
        if deed.on is subject and _is_installed(deed.url) and may(actor, deed.action, actor.practice_id)
    ]


def _address(deed: Deed, uuid: UUID) -> str:
    if deed.query:
        return f"{reverse(deed.url)}?{urlencode({deed.query: uuid})}"
    return reverse(deed.url, args=[uuid])
