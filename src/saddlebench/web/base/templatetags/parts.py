"""Tags that every template has: words of a list's member, the verdict badge, dates as they are said."""

from datetime import date, datetime
from enum import StrEnum
from urllib.parse import urlencode
from uuid import UUID

from django import template
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from saddlebench.exchange.retelling import retold
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.enums import Purpose, RecheckReason, Subject
from saddlebench.web.base.days import day_and_time, day_of_week, long_day, reading, short_day
from saddlebench.web.base.fields import text_of, words_of_choice
from saddlebench.web.base.script_words import script_words
from saddlebench.web.base.spoken import as_said, told, told_where_known, words_told
from saddlebench.web.links import page_address

register = template.Library()
VERDICTS = {
    "fine": ("fine", "✓"),
    "borderline": ("borderline", "≈"),
    "not right": ("not-right", "✕"),
    "cannot tell": ("cannot-tell", "?"),
}
register.filter("value_text", text_of)
register.filter("short_day", short_day)
register.filter("long_day", long_day)
register.filter("day_and_time", day_and_time)
register.filter("said", said)
register.filter("told", told)
register.filter("as_said", as_said)
register.filter("told_where_known", told_where_known)
register.simple_tag(script_words)
register.filter("choice_words", lambda choice, name: words_of_choice(name, choice))


@register.filter
def price_told(words: str) -> str:
    """Return a price with its thousands set apart as the page's language has it."""
    return words.replace(",", ".") if get_language() == "de" else words


@register.filter
def words(member: StrEnum) -> str:
    """Return the words of a member of one of the records' closed lists."""
    return words_told(member)


@register.filter
def purpose_words(value: str) -> str:
    """Return the words of a visit's purpose."""
    return words_told(Purpose(value))


@register.filter
def recheck_words(value: str) -> str:
    """Return the words of the reason of a re-check."""
    return words_told(RecheckReason(value))


@register.inclusion_tag("components/verdict.html")
def verdict(value: str) -> dict[str, str]:
    """Show a verdict by word and sign."""
    name, sign = VERDICTS[str(value)]
    return {"name": name, "sign": sign, "words": retold(str(value), reading())}


@register.filter
def day(value: date) -> str:
    """Return a day as it is said, near ones by their word."""
    today = timezone.localdate()
    near = {-1: _("yesterday"), 0: _("today"), 1: _("tomorrow")}.get((value - today).days)
    said = day_of_week(value, with_year=value.year != today.year)
    return f"{near}, {said}" if near else said


@register.filter
def clock(value: datetime) -> str:
    """Return a moment of today as hour and minute, of other days with the date."""
    local = timezone.localtime(value)
    same_day = local.date() == timezone.localdate()
    return local.strftime("%H:%M") if same_day else day_and_time(value)


@register.simple_tag
def querystring_of(asked: str, page: int, step: int) -> str:
    """Return the query of the page before or after."""
    return urlencode({"q": asked, "page": page + step} if asked else {"page": page + step})


@register.simple_tag
def address_of(subject: str, uuid: UUID) -> str:
    """Return the address of a record's page; empty where nothing shows such a record."""
    return page_address(Subject(subject), uuid)
