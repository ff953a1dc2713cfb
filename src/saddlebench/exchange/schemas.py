"""Every published JSON Schema by name: one table for the command, the files and their check."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

from saddlebench.exchange.backsheets import sheet_schema
from saddlebench.exchange.instruments import instrument_schema
from saddlebench.exchange.limits import limits_schema
from saddlebench.exchange.packs.document import PackDocument
from saddlebench.exchange.records import (
    BackDocument,
    ChangeDocument,
    OrderDocument,
    PlanDocument,
    SaddleDocument,
    SettingsDocument,
    StudyDocument,
    schema_of,
)
from saddlebench.exchange.records.repeat import CheckMeDocument, RepeatDocument
from saddlebench.exchange.records.shortlist import ShortlistDocument
from saddlebench.exchange.records.then_and_now import ThenAndNowDocument
from saddlebench.exchange.records.trend import TrendDocument
from saddlebench.exchange.saddles import saddle_schema
from saddlebench.exchange.shop.rules import choosing_schema


@dataclass(frozen=True, slots=True, kw_only=True)
class Published:
    """One schema: what it is of, where its copy lies in the package, and what makes it."""

    about: str
    file: str
    make: Callable[[], dict[str, Any]]


SCHEMAS = {
    "instrument": Published(
        about="an instrument's description",
        file="instruments/instrument.schema.json",
        make=instrument_schema,
    ),
    "back-sheet": Published(
        about="a back sheet: horse, day, stance, marks",
        file="backsheets/backsheet.schema.json",
        make=sheet_schema,
    ),
    "saddle-file": Published(
        about="a saddle file: numbers, sections", file="saddles/saddle.schema.json", make=saddle_schema
    ),
    "practice-limits": Published(
        about="a practice's own limits", file="limits/limits.schema.json", make=limits_schema
    ),
    "choosing-rules": Published(
        about="a practice's own weights, sizes and hard limits for choosing",
        file="shop/choosing.schema.json",
        make=choosing_schema,
    ),
    "back-record": Published(
        about="a back record: readings, instrument, stance, marks",
        file="records/schemas/back.schema.json",
        make=partial(schema_of, BackDocument),
    ),
    "saddle-record": Published(
        about="a saddle record: numbers, underside, what may be altered, pads",
        file="records/schemas/saddle.schema.json",
        make=partial(schema_of, SaddleDocument),
    ),
    "fit-check": Published(
        about="a fit check: inputs, findings, confidence, fields",
        file="records/schemas/study.schema.json",
        make=partial(schema_of, StudyDocument),
    ),
    "change-study": Published(
        about="a change study: records compared, what is real, what is not known",
        file="records/schemas/change.schema.json",
        make=partial(schema_of, ChangeDocument),
    ),
    "alteration-plan": Published(
        about="an alteration plan: what to alter, every finding before and after, what holds it back",
        file="records/schemas/plan.schema.json",
        make=partial(schema_of, PlanDocument),
    ),
    "work-order": Published(
        about="a work order: what a saddler is asked to do, what to leave alone, what was done",
        file="records/schemas/order.schema.json",
        make=partial(schema_of, OrderDocument),
    ),
    "shortlist": Published(
        about="a shortlist: saddles for one horse and rider, each with what speaks for and against it",
        file="records/schemas/shortlist.schema.json",
        make=partial(schema_of, ShortlistDocument),
    ),
    "repeat-study": Published(
        about="a repeat study: how well each number of a back is measured twice",
        file="records/schemas/repeat.schema.json",
        make=partial(schema_of, RepeatDocument),
    ),
    "hand-check": Published(
        about="a “check me” exercise: one hand against what its instrument states",
        file="records/schemas/hand.schema.json",
        make=partial(schema_of, CheckMeDocument),
    ),
    "trend": Published(
        about="a trend: every visit in numbers, what moves, when to look again",
        file="records/schemas/trend.schema.json",
        make=partial(schema_of, TrendDocument),
    ),
    "saddles-then-and-now": Published(
        about="saddles judged on the backs of several days: every finding over the days",
        file="records/schemas/then_and_now.schema.json",
        make=partial(schema_of, ThenAndNowDocument),
    ),
    "handover-pack": Published(
        about="a handover pack: from whom, to whom, which records and files",
        file="packs/pack.schema.json",
        make=partial(schema_of, PackDocument),
    ),
    "settings": Published(
        about="settings for an instrument: what to set so that it shows a back",
        file="records/schemas/settings.schema.json",
        make=partial(schema_of, SettingsDocument),
    ),
}
