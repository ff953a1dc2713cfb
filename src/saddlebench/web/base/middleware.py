"""Around every request: strict headers, pairing, who acts for which practice, errors in words."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import patch_cache_control

from saddlebench.exchange.vocabulary import speaking
from saddlebench.practice.queries.standing import Standing as PracticeStanding
from saddlebench.practice.queries.standing import standings
from saddlebench.web.base import errors, pairing

Next = Callable[[HttpRequest], HttpResponse]

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "media-src 'self' blob:; font-src 'self'; connect-src 'self'; worker-src 'self' blob:; "
    "manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
# A drawing is a document of its own: it may style itself, and do nothing else.
DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'"
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(self), payment=(), usb=()",
}
_RENEW_AFTER_S = 24 * 3600


class StrictHeaders:
    """Puts the headers on every answer, static files and errors included."""

    def __init__(self, get_response: Next) -> None:
        self._next = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request."""
        response = self._next(request)
        is_drawing = response.get("Content-Type", "").startswith("image/svg+xml")
        response.headers.setdefault(
            "Content-Security-Policy", DRAWING_POLICY if is_drawing else CONTENT_POLICY
        )
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if not response.has_header("Cache-Control"):
            # What one person saw must not come out of a shared browser's memory for another.
            patch_cache_control(response, private=True, no_cache=True)
        return response


class CookiesApart:
    """Keeps the cookies of encrypted connections apart from those of plain ones, which others could read.

    Cookies know no ports: a phone that is signed in over the encrypted door would send its session to the
    plain one as well. The prefix makes a browser keep them to encrypted connections (the draft that is to
    follow RFC 6265, section on cookie prefixes).
    """

    PREFIX = "__Host-"

    def __init__(self, get_response: Next) -> None:
        self._next = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request, under the cookies' own names."""
        if not request.is_secure():
            return self._next(request)
        kept = {
            name.removeprefix(self.PREFIX): value
            for name, value in request.COOKIES.items()
            if name.startswith(self.PREFIX)
        }
        request.COOKIES = kept
        response = self._next(request)
        for name, made in list(response.cookies.items()):
            del response.cookies[name]
            response.cookies[self.PREFIX + name] = made.value
            response.cookies[self.PREFIX + name].update({**made, "secure": True})
        return response


class Paired:
    """With a pairing code set, lets other devices in only after they gave it; this machine needs none.

    Other programs send a token with each request instead, and a link to a pack is one: nobody can guess it.
    The page that makes a phone trust this machine holds nothing of the practice.
    """

    def __init__(self, get_response: Next) -> None:
        self._next = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request, or ask for the code."""
        if not request.path.startswith(("/api/v1/", "/handover/", "/trust/")) and pairing.is_needed(request):
            return pairing.pair(request)
        return self._next(request)


class Standing:
    """Sets `request.standing` and `request.actor`, keeps time in the practice's zone, renews the session."""

    def __init__(self, get_response: Next) -> None:
        self._next = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request."""
        standing = standing_of(request)
        request.standing = standing  # type: ignore[attr-defined]
        request.actor = standing.actor if standing else None  # type: ignore[attr-defined]
        if standing is None:
            return self._next(request)
        self._renew(request)
        with timezone.override(ZoneInfo(standing.zone)), speaking(standing.vocabulary.value):
            return self._next(request)

    @staticmethod
    def _renew(request: HttpRequest) -> None:
        left = request.session.get_expiry_age()
        seen = request.session.get("seen_at")
        now = int(timezone.now().timestamp())
        if left and (seen is None or now - int(seen) > _RENEW_AFTER_S):
            request.session["seen_at"] = now


def standing_of(request: HttpRequest) -> PracticeStanding | None:
    """Return a request's standing: in the practice the session names, else the oldest."""
    if settings.SESSION_COOKIE_NAME not in request.COOKIES and not request.session.session_key:
        return None
    user = request.user
    if not user.is_authenticated or user.pk is None:
        return None
    held = standings(user.pk)
    chosen = request.session.get("practice")
    named = [one for one in held if str(one.practice_uuid) == chosen]
    return next(iter(named or held), None)


class WordedErrors:
    """Turns what the records refuse into pages with words."""

    def __init__(self, get_response: Next) -> None:
        self._next = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request."""
        return self._next(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer an error that the records raise on purpose; None leaves it to the page for faults."""
        return errors.worded(request, exception)
