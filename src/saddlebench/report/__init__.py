"""Reports for owner, workshop, and vet or therapist; sheets that go with work and replicas."""

from saddlebench.exchange.letterhead import Letterhead, letterhead
from saddlebench.report.owner import owner_report
from saddlebench.report.setting import Fact, Paper, Setting
from saddlebench.report.trend import Followed
from saddlebench.report.vet import Noted, Photo, checked_photo, vet_report
from saddlebench.report.workshop import workshop_report

__all__ = [
    "Fact",
    "Followed",
    "Letterhead",
    "Noted",
    "Paper",
    "Photo",
    "Setting",
    "checked_photo",
    "letterhead",
    "owner_report",
    "vet_report",
    "workshop_report",
]
