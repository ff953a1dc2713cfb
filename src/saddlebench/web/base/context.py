"""What the layout needs on every page."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from saddlebench import __version__
from saddlebench.practice.enums import Action
from saddlebench.practice.rules import may
from saddlebench.web.base.pairing import is_this_machine
from saddlebench.web.base.said import take_said
from saddlebench.web.slices import SLICES


def layout(request: HttpRequest) -> dict[str, Any]:
    """Return the navigation of this reader, the practice's name, and what was just done."""
    actor = getattr(request, "actor", None)
    entries = [
        entry
        for one in SLICES
        for entry in one.nav
        if actor is not None and may(actor, entry.action, actor.practice_id)
    ]
    match = request.resolver_match
    return {
        "actor": actor,
        "standing": getattr(request, "standing", None),
        "nav": entries,
        "here": match.view_name if match else "",
        "just_done": take_said(request) if actor is not None else None,
        "version": __version__,
        "has_bundle": settings.BUNDLE.is_dir(),
        "allowed": allowed_of(request),
        "phones_may_trust": bool(settings.SECURE_PORT),
        "is_plain_from_afar": is_plain_from_afar(request),
    }


def is_plain_from_afar(request: HttpRequest) -> bool:
    """Tell whether another device looks over a plain connection where it could have an encrypted one."""
    return bool(settings.SECURE_PORT) and not request.is_secure() and not is_this_machine(request)


def allowed_of(request: HttpRequest) -> dict[str, bool]:
    """Return what the reader may do, by the action's name: templates ask `{% if allowed.withdraw %}`."""
    actor = getattr(request, "actor", None)
    return {one.value: actor is not None and may(actor, one, actor.practice_id) for one in Action}
