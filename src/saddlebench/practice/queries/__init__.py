"""What pages show: frozen pages, each made by as many database queries however much there is."""

from saddlebench.practice.queries.captures import (
    BackPage,
    CapturePage,
    CaptureRow,
    InstrumentRow,
    back_page,
    capture_page,
    instrument_page,
    own_instruments,
    saddle_document,
    unfinished_captures,
)
from saddlebench.practice.queries.choosing import shortlist_from_stock, wanted_on
from saddlebench.practice.queries.diary import Diary, DiaryEntry, diary
from saddlebench.practice.queries.drafts import DraftShown, saddle_drafts
from saddlebench.practice.queries.entries import EntryRow, entries_of
from saddlebench.practice.queries.events import Event
from saddlebench.practice.queries.horses import HorseList, HorsePage, HorseRow, find_horses, horse_page
from saddlebench.practice.queries.limits import LimitChange, LimitShown, limit_page, limits_page, own_limits
from saddlebench.practice.queries.people import ClientList, ClientPage, client_page, find_clients, members
from saddlebench.practice.queries.rebuilds import (
    CheckPage,
    CheckRow,
    RebuildPage,
    RebuildRow,
    RebuildSource,
    checks_of,
    rebuild_check_page,
    rebuild_page,
    rebuild_source,
    rebuilds_of,
)
from saddlebench.practice.queries.saddles import SaddleList, SaddlePage, find_saddles, saddle_page
from saddlebench.practice.queries.stock import (
    StockPast,
    StockRow,
    export_stock,
    stock_candidates,
    stock_history,
    stock_rows,
)
from saddlebench.practice.queries.timeline import Timeline, timeline
from saddlebench.practice.queries.versions import (
    Difference,
    StudyUse,
    VersionRow,
    differences,
    study_use,
    versions_of,
)
from saddlebench.practice.queries.visits import AnswerShown, VisitPage, visit_page

__all__ = [
    "AnswerShown",
    "BackPage",
    "CapturePage",
    "CaptureRow",
    "CheckPage",
    "CheckRow",
    "ClientList",
    "ClientPage",
    "Diary",
    "DiaryEntry",
    "Difference",
    "DraftShown",
    "EntryRow",
    "Event",
    "HorseList",
    "HorsePage",
    "HorseRow",
    "InstrumentRow",
    "LimitChange",
    "LimitShown",
    "RebuildPage",
    "RebuildRow",
    "RebuildSource",
    "SaddleList",
    "SaddlePage",
    "StockPast",
    "StockRow",
    "StudyUse",
    "Timeline",
    "VersionRow",
    "VisitPage",
    "back_page",
    "capture_page",
    "checks_of",
    "client_page",
    "diary",
    "differences",
    "entries_of",
    "export_stock",
    "find_clients",
    "find_horses",
    "find_saddles",
    "horse_page",
    "instrument_page",
    "limit_page",
    "limits_page",
    "members",
    "own_instruments",
    "own_limits",
    "rebuild_check_page",
    "rebuild_page",
    "rebuild_source",
    "rebuilds_of",
    "saddle_document",
    "saddle_drafts",
    "saddle_page",
    "shortlist_from_stock",
    "stock_candidates",
    "stock_history",
    "stock_rows",
    "study_use",
    "timeline",
    "unfinished_captures",
    "versions_of",
    "visit_page",
    "wanted_on",
]
