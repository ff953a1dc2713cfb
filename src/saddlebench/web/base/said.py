"""What was just done, said once on the next page, with its time and a way to undo it."""

from dataclasses import asdict, dataclass
from typing import Any

from django.http import HttpRequest
from django.utils import timezone

_KEY = "said"


@dataclass(frozen=True, slots=True, kw_only=True)
class JustDone:
    """One thing said."""

    words: str
    at: str
    """Hour and minute, in the practice's zone."""
    undo: str = ""
    """Address that undoes it when posted to."""


def say(request: HttpRequest, words: str, *, undo: str = "") -> None:
    """Say something on the next page that this person sees."""
    at = timezone.localtime().strftime("%H:%M")
    request.session[_KEY] = asdict(JustDone(words=words, at=at, undo=undo))


def take_said(request: HttpRequest) -> JustDone | None:
    """Return what there is to say, once."""
    held: Any = request.session.get(_KEY)
    if not held or getattr(request, "htmx", False):
        return None
    del request.session[_KEY]
    return JustDone(**held)
