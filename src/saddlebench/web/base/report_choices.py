"""What a page asks before a report is made: whom it is for, in which language, lengths and paper."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.http import HttpRequest
from django.utils.functional import Promise
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _
from django.utils.translation.trans_real import parse_accept_lang_header

from saddlebench.exchange.vocabulary import AMERICAN, spoken
from saddlebench.practice.queries.plans import PlanRow
from saddlebench.web.base.days import day_and_time

if TYPE_CHECKING:
    from saddlebench.exchange.readers import Reader
    from saddlebench.report import Fact, Letterhead, Paper, Setting

OWNER, WORKSHOP = "owner", "workshop"
FOR: tuple[tuple[str, Promise], ...] = (
    (OWNER, _("Owner: one page, plain words")),
    (WORKSHOP, _("Workshop: every number, drawings")),
)
LANGUAGES: tuple[tuple[str, Promise], ...] = (("en", _("English")), ("de", _("German (Deutsch)")))
LENGTHS: tuple[tuple[str, Promise], ...] = (("mm", _("Millimetres")), ("in", _("Inches")))
PAPERS: tuple[tuple[str, Promise], ...] = (("a4", _("A4")), ("us-letter", _("Letter")))


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One list to choose from."""

    name: str
    words: Promise
    options: tuple[tuple[str, Promise | str], ...]
    chosen: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportChoices:
    """What was chosen; what an address does not name, or names wrongly, is as usual for the practice."""

    whom: str
    language: str
    lengths: str
    paper: str

    @property
    def query(self) -> str:
        """What tells one report of a check from another."""
        return f"{self.whom}-{self.language}-{self.lengths}-{self.paper}-{spoken()}"

    def reader(self) -> "Reader":
        """Return for whom it is."""
        from saddlebench.engine.units import Length  # noqa: PLC0415
        from saddlebench.exchange.readers import Language, Reader  # noqa: PLC0415

        length = Length.INCH if self.lengths == "in" else Length.MM
        return Reader(language=Language(self.language), length=length)

    @property
    def sheet_paper(self) -> "Paper":
        """Paper that it is printed on."""
        from saddlebench.report import Paper  # noqa: PLC0415

        return Paper(self.paper)

    def setting(self, letterhead: "Letterhead | None", facts: "tuple[Fact, ...]" = ()) -> "Setting":
        """Return how the report is set."""
        from saddlebench.report import Setting  # noqa: PLC0415

        return Setting(reader=self.reader(), paper=self.sheet_paper, letterhead=letterhead, facts=facts)


def chosen(given: Mapping[str, str]) -> ReportChoices:
    """Return what an address or a form chose."""

    def one(name: str, options: tuple[tuple[str, Promise], ...], usual: str) -> str:
        value = given.get(name, "")
        return value if value in dict(options) else usual

    return ReportChoices(
        whom=one("for", FOR, OWNER),
        language=one("language", LANGUAGES, "en"),
        lengths=one("lengths", LENGTHS, "mm"),
        paper=one("paper", PAPERS, "us-letter" if spoken() == AMERICAN else "a4"),
    )


def chosen_by_program(request: HttpRequest) -> ReportChoices:
    """Return what another program's address chose; a language that it does not name is its user's.

    What the user reads is what the request says it accepts (RFC 9110, 12.5.4).
    """
    known = dict(LANGUAGES)
    accepted = (code.partition("-")[0] for code, _weight in _accepted(request))
    reads = next((code for code in accepted if code in known), "")
    return chosen({"language": reads, **request.GET.dict()})


def _accepted(request: HttpRequest) -> list[tuple[str, float]]:
    return list(parse_accept_lang_header(request.headers.get("Accept-Language", "").lower()))


def choices_of(request: HttpRequest) -> tuple[Choice, ...]:
    """Return the lists to choose from, as usual for the practice; the language is the page's."""
    now = chosen({"language": (get_language() or "en")[:2], **request.GET.dict()})
    return (
        Choice(name="for", words=_("For"), options=FOR, chosen=now.whom),
        Choice(name="language", words=_("Language"), options=LANGUAGES, chosen=now.language),
        Choice(name="lengths", words=_("Lengths"), options=LENGTHS, chosen=now.lengths),
        Choice(name="paper", words=_("Paper"), options=PAPERS, chosen=now.paper),
    )


def plan_choice(plans: Iterable[PlanRow]) -> tuple[Choice, ...]:
    """Return the list of plans that may stand in the workshop's report; nothing where there is none."""
    options = tuple((str(one.uuid), f"{day_and_time(one.made_at)}, {one.told['aim']}") for one in plans)
    if not options:
        return ()
    none = ("", _("None"))
    return (Choice(name="plan", words=_("Plan, for the workshop"), options=(none, *options), chosen=""),)
