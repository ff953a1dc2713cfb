"""The page that walks a phone through trusting this machine once; it holds nothing of any practice."""

from pathlib import Path

import segno
from cryptography.hazmat.primitives.serialization import Encoding
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe

from saddlebench.practice.keeping.certificates import Authority, find_authority, served_names
from saddlebench.web.base.access import open_to_all
from saddlebench.web.base.pairing import is_this_machine
from saddlebench.web.base.spoken import spoken


def _authority() -> Authority | None:
    return find_authority(Path(settings.TRUST_FOLDER)) if settings.TRUST_FOLDER else None


@open_to_all()
@spoken
def trust(request: HttpRequest) -> HttpResponse:
    """Show the steps on a phone, and the square to point a phone at on the machine that serves."""
    authority = _authority()
    if authority is None:
        return render(request, "phone/trust_off.html")
    names = served_names(Path(settings.TRUST_FOLDER))
    here = request.get_host().rsplit(":", 1)[0].lower()
    # A name stays when the machine's number changes, and what is kept on a phone is kept under one address.
    told = sorted(names, key=lambda one: (not one.endswith(".local"), one != here))
    agent = request.headers.get("User-Agent", "")
    is_apple = any(word in agent for word in ("iPhone", "iPad"))
    more = {
        "fingerprint": authority.fingerprint.splitlines(),
        "label": authority.root.subject.rdns[0].rfc4514_string().removeprefix("CN="),
        "secure": [f"https://{one}:{settings.SECURE_PORT}" for one in told],
        "is_here": is_this_machine(request),
        "is_encrypted": request.is_secure(),
        "opens_apple": is_apple or "Android" not in agent,
        "opens_android": "Android" in agent or not is_apple,
        "code": settings.PAIRING_CODE if is_this_machine(request) else "",
    }
    if more["is_here"]:
        more |= {"plain": _plain(request), "square": _square(f"{_plain(request)}/trust/")}
    return render(request, "phone/trust.html", more)


@open_to_all()
def certificate(_request: HttpRequest) -> HttpResponse:
    """Give the root that a phone is asked to trust (DER)."""
    authority = _authority()
    if authority is None:
        raise Http404
    # Not as an attachment: a phone then keeps it as any file, and does not offer to install it.
    return HttpResponse(authority.root.public_bytes(Encoding.DER), content_type="application/x-x509-ca-cert")


def _plain(request: HttpRequest) -> str:
    others = [one for one in settings.ALLOWED_HOSTS if one not in settings.OWN_HOSTS]
    return f"http://{next(iter(others), 'localhost')}:{request.get_port()}"


def _square(address: str) -> SafeString:
    drawn = segno.make(address, error="m").svg_inline(omitsize=True, border=4, dark="#000", light="#fff")
    return mark_safe(drawn)  # noqa: S308
