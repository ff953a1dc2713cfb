"""The day and the diary."""

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.rotation import age_of_newest
from saddlebench.practice.queries.jobs import JobPage, interrupted_jobs
from saddlebench.practice.queries.orders import OrderRow, orders_due
from saddlebench.practice.queries.recent import RecentWork, recent_work
from saddlebench.practice.queries.stock import StockRow, overdue_trials
from saddlebench.practice.rules import may
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import wholly_spoken
from saddlebench.web.home.feed import feed_address

AHEAD = timedelta(days=42)
_OLD = timedelta(days=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupState:
    """How old the newest backup is, in words."""

    words: str
    is_old: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayPage:
    """The day."""

    visits: tuple[queries.DiaryEntry, ...]
    overdue: tuple[queries.DiaryEntry, ...]
    due: tuple[queries.DiaryEntry, ...]
    recent: tuple[RecentWork, ...]
    interrupted: tuple[JobPage, ...]
    orders: tuple[OrderRow, ...]
    """Work orders that are late, due, or wait for somebody."""
    trials: tuple[StockRow, ...]
    """Saddles that should be back from a trial."""
    backup: BackupState | None


def backup_state() -> BackupState:
    """Say how old the newest backup of this folder is."""
    if connection.vendor != "sqlite":
        return BackupState(
            words=gettext("Backups are the database server's: see to them there."), is_old=False
        )
    age = age_of_newest(Path(settings.SADDLEBENCH_HOME), timezone.now())
    if age is None:
        return BackupState(words=gettext("No backup yet. The first is made within the hour."), is_old=True)
    hours = int(age.total_seconds() // 3600)
    if hours < 1:
        words = gettext("Newest backup: less than an hour old.")
    elif hours < 48:
        words = ngettext("Newest backup: %(n)s hour old.", "Newest backup: %(n)s hours old.", hours) % {
            "n": hours
        }
    else:
        words = gettext("Newest backup: %(n)s days old.") % {"n": hours // 24}
    return BackupState(words=words, is_old=age > _OLD)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def today(request: PageRequest) -> HttpResponse:
    """Show the day."""
    day = timezone.localdate()
    shown = queries.diary(request.actor, day, day + timedelta(days=7), shop=False)
    keeps = may(request.actor, Action.RECORD_BACK, request.actor.practice_id)
    page = TodayPage(
        visits=tuple(one for one in shown.entries if not one.is_recheck and one.day == day),
        overdue=shown.overdue,
        due=tuple(one for one in shown.entries if one.is_recheck),
        recent=recent_work(request.actor),
        interrupted=interrupted_jobs(request.actor),
        orders=orders_due(request.actor),
        trials=overdue_trials(request.actor, day),
        backup=backup_state() if keeps else None,
    )
    return show(request, "home/today.html", gettext("Today"), page, day=day)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def diary(request: PageRequest) -> HttpResponse:
    """Show the weeks ahead, and the address under which a phone's calendar follows them."""
    day = timezone.localdate()
    page = queries.diary(request.actor, day, day + AHEAD)
    return show(request, "home/diary.html", gettext("Diary"), page, feed=feed_address(request))
