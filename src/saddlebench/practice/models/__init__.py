"""The tables. Rows of versions, entries and audit are written once and never updated."""

from saddlebench.practice.models.accounts import Membership, Practice, User
from saddlebench.practice.models.captures import Capture, Instrument
from saddlebench.practice.models.comparisons import BackNumbers, Comparison
from saddlebench.practice.models.drafts import SaddleDraft
from saddlebench.practice.models.entries import AuditRow, Entry, ErasureReceipt, OpenErasure
from saddlebench.practice.models.horses import Client, Horse, Saddle, Yard
from saddlebench.practice.models.jobs import Job
from saddlebench.practice.models.limits import OwnLimit
from saddlebench.practice.models.opinions import Opinion
from saddlebench.practice.models.packs import (
    PackLink,
    Partner,
    PracticeKey,
    SentPack,
    TakenPack,
    TakenRecord,
)
from saddlebench.practice.models.rebuilds import Rebuild, RebuildCheck
from saddlebench.practice.models.records import Back, BackVersion, SaddleVersion, Study, StudyVersion
from saddlebench.practice.models.scans import SaddleScan, Scan, ScanFile
from saddlebench.practice.models.stock import StockState
from saddlebench.practice.models.tokens import Token
from saddlebench.practice.models.visits import Advice, Answer, Photo, Recheck, Visit, VisitSaddle
from saddlebench.practice.models.work import Choice, OrderState, Plan, WorkOrder

__all__ = [
    "Advice",
    "Answer",
    "AuditRow",
    "Back",
    "BackNumbers",
    "BackVersion",
    "Capture",
    "Choice",
    "Client",
    "Comparison",
    "Entry",
    "ErasureReceipt",
    "Horse",
    "Instrument",
    "Job",
    "Membership",
    "OpenErasure",
    "Opinion",
    "OrderState",
    "OwnLimit",
    "PackLink",
    "Partner",
    "Photo",
    "Plan",
    "Practice",
    "PracticeKey",
    "Rebuild",
    "RebuildCheck",
    "Recheck",
    "Saddle",
    "SaddleDraft",
    "SaddleScan",
    "SaddleVersion",
    "Scan",
    "ScanFile",
    "SentPack",
    "StockState",
    "Study",
    "StudyVersion",
    "TakenPack",
    "TakenRecord",
    "Token",
    "User",
    "Visit",
    "VisitSaddle",
    "WorkOrder",
    "Yard",
]
