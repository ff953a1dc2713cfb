"""What the phone keeps of the program: one page, its scripts and styles, the service worker, the manifest."""

import hashlib
import json
import re
from functools import cache
from pathlib import Path

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language, gettext, override

from saddlebench.web.base.access import open_to_all
from saddlebench.web.base.spoken import LANGUAGES, spoken
from saddlebench.web.phone.protocol import PROTOCOL
from saddlebench.web.phone.words import script_words

_IMPORT = re.compile(r"""(?:from|import)\s*["']\./(part-[0-9A-Za-z]+\.js)["']""")
_STYLES = ("base/base.css", "capture/capture.css", "photos/photos.css", "phone/phone.css")
_ICONS = ("phone/icon-192.png", "phone/icon-512.png")
_APP, _WORKER = "phone-app.js", "phone-worker.js"


def bundle_has(name: str) -> bool:
    """Tell whether a script was built."""
    return (Path(settings.BUNDLE) / name).is_file()


@cache
def scripts_of(name: str) -> tuple[str, ...]:
    """Return a script and everything that it imports, by their names in the bundle."""
    found, left = [], [name]
    while left:
        one = left.pop()
        if one in found:
            continue
        found.append(one)
        text = (Path(settings.BUNDLE) / one).read_text(encoding="utf-8")
        left += _IMPORT.findall(text)
    return tuple(found)


def shell_files() -> tuple[str, ...]:
    """Return the address of everything that the phone needs to start with no server in reach."""
    scripts = [f"bundle/{name}" for name in scripts_of(_APP)]
    return tuple(static(name) for name in (*_STYLES, *_ICONS, *scripts, "base/mark.svg"))


def shell_stamp() -> str:
    """Return what changes with anything of the program that the phone keeps: page, words, scripts, styles.

    A phone whose language was changed meets another stamp, and is offered the pages anew.
    """
    return _stamp(get_language() or "")


@cache
def _stamp(_language: str) -> str:
    return hashlib.sha256(render_to_string("phone/app.html", _page("")).encode()).hexdigest()[:12]


def _page(stamp: str) -> dict[str, object]:
    words = json.dumps(script_words(), ensure_ascii=False)
    return {"stamp": stamp, "protocol": PROTOCOL, "is_built": bundle_has(_APP), "words": words}


@open_to_all()
@spoken
def app(request: HttpRequest) -> HttpResponse:
    """Show the phone's page. It holds nothing of any practice: that is asked for, and kept on the phone."""
    return render(request, "phone/app.html", _page(shell_stamp()))


@open_to_all()
@spoken
def worker(request: HttpRequest) -> HttpResponse:
    """Give the service worker; its text changes with any file it keeps, so that a browser takes it anew.

    The page names the language its worker is for: a phone whose language was changed then takes another one.
    """
    if not bundle_has(_WORKER):
        raise Http404
    with override(LANGUAGES.get(request.GET.get("for", ""), get_language())):
        return _worker()


def _worker() -> HttpResponse:
    shell = {
        "stamp": shell_stamp(),
        "language": get_language(),
        "page": reverse("phone:app"),
        "files": shell_files(),
    }
    code = (Path(settings.BUNDLE) / _WORKER).read_text(encoding="utf-8")
    response = HttpResponse(
        f"const SHELL = {json.dumps(shell)};\n{code}", content_type="text/javascript; charset=utf-8"
    )
    response["Cache-Control"] = "no-cache"
    return response


@open_to_all()
@spoken
def manifest(_request: HttpRequest) -> HttpResponse:
    """Give the web app manifest (W3C)."""
    told = {
        "name": gettext("saddlebench at the horse"),
        "short_name": "saddlebench",
        "description": gettext(
            "Visits and measurements kept on this phone, sent when the practice's program is met."
        ),
        "id": reverse("phone:app"),
        "start_url": reverse("phone:app"),
        "scope": "/",
        "display": "standalone",
        "orientation": "portrait",
        "lang": "de" if get_language() == "de" else "en-GB",
        "background_color": "#ffffff",
        "theme_color": "#1f4e79",
        "icons": [
            {"src": static(name), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
            for name, size in zip(_ICONS, (192, 512), strict=True)
            for purpose in ("any", "maskable")
        ],
    }
    return HttpResponse(json.dumps(told), content_type="application/manifest+json")
