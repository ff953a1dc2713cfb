"""What a link opens: one pack, and nothing else of the practice."""

from django.core import signing
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse

from saddlebench.practice.handover.links import LinkShown, link_of, still_stands, use_link
from saddlebench.practice.handover.sending import pack_file
from saddlebench.web.base.access import open_to_all
from saddlebench.web.base.files import part_of
from saddlebench.web.base.pairing import remote_address
from saddlebench.web.base.tries import Allowance
from saddlebench.web.packs.keys import home_folder
from saddlebench.web.packs.sent import MEDIA_TYPES
from saddlebench.web.packs.words import counted

_SALT = "saddlebench.pack-download"
_RESUMED_FOR_S = 24 * 3600
_MOST_WRONG = 30
_LONGEST = 200


def _plain(request: HttpRequest, title: str, status: int, **more: object) -> HttpResponse:
    """Answer somebody who is not signed in: nothing is kept, nothing is told to where they go next."""
    given = {"title": title, **more}
    response = render(request, "packs/landing.html", given, status=status)
    return _private(response)


def _private(response: HttpResponse) -> HttpResponse:
    response["Cache-Control"] = "no-store, private"
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


def _found(request: HttpRequest, token: str) -> LinkShown | HttpResponse:
    tries = Allowance(key=f"handover:from:{remote_address(request)}", most=_MOST_WRONG)
    if tries.is_spent():
        said = "Too many links that lead nowhere were tried from there. Wait a quarter of an hour."
        return _plain(request, "Not now", 429, said=said)
    link = link_of(token) if len(token) <= _LONGEST else None
    if link is None or not pack_file(home_folder(), link.pack).is_file():
        tries.count()
        said = (
            "This link leads nowhere: it was ended, has run out, or is not whole. Ask the sender for another."
        )
        return _plain(request, "Nothing here", 404, said=said)
    return link


@open_to_all()
def landing(request: HttpRequest, token: str) -> HttpResponse:
    """Show what the pack is before it is fetched; looking counts no use."""
    found = _found(request, token)
    if isinstance(found, HttpResponse):
        return found
    return _plain(
        request, f"A pack from {found.sender}", 200, link=found, token=token, counted=counted(found.holds)
    )


@open_to_all()
def begin(request: HttpRequest, token: str) -> HttpResponse:
    """Count one use, and lead to the pack under an address that goes on where it was broken off."""
    found = _found(request, token)
    if isinstance(found, HttpResponse):
        return found
    if request.method == "HEAD":
        return _private(HttpResponse())
    if not use_link(found.uuid):
        said = "This link was used as often as it may be. Ask the sender for another."
        return _plain(request, "Used up", 410, said=said)
    ticket = signing.dumps(str(found.uuid), salt=_SALT)
    return _private(HttpResponseRedirect(reverse("packs:download", args=[token, ticket])))


@open_to_all()
def download(request: HttpRequest, token: str, ticket: str) -> HttpResponse:
    """Give the pack, or the part that is asked for; for a day, while the link stands."""
    found = _found(request, token)
    if isinstance(found, HttpResponse):
        return found
    try:
        begun = signing.loads(ticket, salt=_SALT, max_age=_RESUMED_FOR_S)
    except signing.BadSignature:
        begun = ""
    standing = still_stands(found.uuid) if begun == str(found.uuid) else None
    if standing is None:
        return _plain(request, "Nothing here", 404, said="Begin again from the link itself.")
    path = pack_file(home_folder(), standing.pack)
    answer = part_of(path, request.headers.get("Range", ""), MEDIA_TYPES[standing.is_sealed])
    name = f"handover-{standing.made_at:%Y-%m-%d}.zip{'.age' if standing.is_sealed else ''}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return _private(answer)
