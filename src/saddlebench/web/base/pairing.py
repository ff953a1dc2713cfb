"""Letting a phone in: a code shown in the laptop's terminal, given once per device.

A device that gave it over an encrypted connection is known for half a year. Over a plain one, where anybody
near may have read along, it is known until the program stops: the next start has another code.
"""

import ipaddress
from urllib.parse import urlsplit

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.middleware.csrf import CsrfViewMiddleware
from django.shortcuts import render
from django.utils.crypto import constant_time_compare
from django.utils.http import url_has_allowed_host_and_scheme

from saddlebench.web.base.tries import Allowance

COOKIE = "saddlebench_paired"
ASKS_FOR = "X-Asks-For"
"""Header by which a page's script tells this question from a refusal."""
_SALT = "saddlebench.pairing"
_KEPT_S = 180 * 24 * 3600
_MOST_TRIES = 10
_ENCRYPTED = "over an encrypted connection"


def remote_address(request: HttpRequest) -> str:
    """Return the address that a request came from; forwarded headers are not believed."""
    return str(request.META.get("REMOTE_ADDR", ""))


def is_this_machine(request: HttpRequest) -> bool:
    """Tell whether a request came from the machine that serves."""
    try:
        return ipaddress.ip_address(remote_address(request)).is_loopback
    except ValueError:
        return False


def is_needed(request: HttpRequest) -> bool:
    """Tell whether a request has to give the code first."""
    if not settings.PAIRING_CODE or is_this_machine(request):
        return False
    try:
        given = signing.loads(request.COOKIES.get(COOKIE, ""), salt=_SALT, max_age=_KEPT_S)
    except signing.BadSignature:
        return True
    return not constant_time_compare(str(given), _proof(request))


def _proof(request: HttpRequest) -> str:
    return _ENCRYPTED if request.is_secure() else settings.PAIRING_CODE


def pair(request: HttpRequest) -> HttpResponse:
    """Ask for the code, or take it: by the form, or by the address in the QR code."""
    tries = Allowance(key=f"pairing:{remote_address(request)}", most=_MOST_TRIES)
    if tries.is_spent():
        return _ask(request, "Too many wrong codes. Wait a quarter of an hour.", status=429)
    given = "".join((request.POST if request.method == "POST" else request.GET).get("code", "").split())
    if request.method == "POST" and _is_forged(request):
        return _ask(request, "Give the code again.", status=403)
    if not given:
        return _ask(request, "", status=403)
    if not constant_time_compare(given, settings.PAIRING_CODE):
        tries.count()
        return _ask(request, "This is not the code. It stands in the laptop's window.", status=403)
    response = HttpResponseRedirect(_onwards(request))
    response.set_cookie(
        COOKIE,
        signing.dumps(_proof(request), salt=_SALT),
        max_age=_KEPT_S,
        httponly=True,
        samesite="Lax",
    )
    return response


def _is_forged(request: HttpRequest) -> bool:
    check = CsrfViewMiddleware(lambda _request: HttpResponse())
    check.process_request(request)
    return check.process_view(request, _never, (), {}) is not None


def _never(_request: HttpRequest) -> HttpResponse:
    return HttpResponse()


def _onwards(request: HttpRequest) -> str:
    path = urlsplit(request.get_full_path()).path
    return path if url_has_allowed_host_and_scheme(path, allowed_hosts=None) and path != "/pair/" else "/"


def _ask(request: HttpRequest, said: str, *, status: int) -> HttpResponse:
    response = render(request, "base/pair.html", {"said": said}, status=status)
    response[ASKS_FOR] = "pairing-code"
    # The form's own cookie is set here, as this stands before the layer that would.
    CsrfViewMiddleware(lambda _request: response).process_response(request, response)
    return response
