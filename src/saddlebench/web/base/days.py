"""Days and times as the reader of a page writes them."""

from datetime import date, datetime

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import get_language

from saddlebench.exchange.readers import Language, Reader


def long_day(value: date) -> str:
    """Return a day with its month in full."""
    return reading().day(_of(value))


def short_day(value: date | None) -> str:
    """Return a day with its month shortened; nothing for none."""
    return "" if value is None else reading().short_day(_of(value))


def day_of_week(value: date, *, with_year: bool) -> str:
    """Return a day with its weekday, both shortened."""
    return f"{date_format(value, 'D')} {reading().short_day(value, with_year=with_year)}"


def day_and_time(value: datetime) -> str:
    """Return a moment by the practice's clock."""
    return f"{short_day(value)}, {timezone.localtime(value):%H:%M}"


def _of(value: date) -> date:
    if not isinstance(value, datetime):
        return value
    return (timezone.localtime(value) if timezone.is_aware(value) else value).date()


def reading() -> Reader:
    """Return who reads: pages are shown in the language that Django has for them."""
    return Reader(language=Language((get_language() or "en")[:2]))
