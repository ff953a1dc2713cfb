"""The diary for other calendars: a file, and an address that a phone's calendar reads again and again.

The address carries a signature instead of a sign-in. It goes with the membership and the password: ending the
one or changing the other ends it.
"""

import hashlib
from datetime import timedelta

from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone

from saddlebench.practice.crossing.calendar import diary_calendar
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.standing import password_mark, standing_of_member
from saddlebench.practice.rules import Actor, may
from saddlebench.web.base.access import PageRequest, open_to_all, signed_in

_SALT = "saddlebench.diary-feed"
_BACK, _AHEAD = timedelta(days=60), timedelta(days=400)


def _mark(user_id: int) -> str:
    return hashlib.sha256(password_mark(user_id).encode()).hexdigest()[:16]


def feed_address(request: PageRequest) -> str:
    """Return the feed's whole address for this reader."""
    who = [str(request.standing.member_uuid), _mark(request.actor.user_id)]
    token = signing.dumps(who, salt=_SALT, compress=False)
    return request.build_absolute_uri(reverse("home:calendar_feed", args=[token]))


def _calendar(actor: Actor, disposition: str) -> HttpResponse:
    day = timezone.localdate()
    content = diary_calendar(actor, day - _BACK, day + _AHEAD)
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'{disposition}; filename="diary.ics"'
    return response


@signed_in(Action.SEE_HORSES)
def calendar_file(request: PageRequest) -> HttpResponse:
    """Give the diary as a file."""
    return _calendar(request.actor, "attachment")


@open_to_all()
def calendar_feed(_request: HttpRequest, token: str) -> HttpResponse:
    """Give the diary to whoever holds the address."""
    try:
        member, mark = signing.loads(token, salt=_SALT)
    except (signing.BadSignature, ValueError):
        raise Http404 from None
    standing = standing_of_member(str(member))
    if standing is None or mark != _mark(standing.actor.user_id):
        raise Http404
    if not may(standing.actor, Action.SEE_HORSES, standing.actor.practice_id):
        raise Http404
    return _calendar(standing.actor, "inline")
