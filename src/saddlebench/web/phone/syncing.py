"""The address a phone sends its entries to."""

import json
import zlib
from dataclasses import replace
from typing import Any

from django.http import HttpResponse, JsonResponse
from django.utils import timezone

from saddlebench.practice.enums import Action
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.spoken import problem_told, spoken, told
from saddlebench.web.phone.protocol import PROTOCOL, is_spoken
from saddlebench.web.phone.shell import shell_stamp
from saddlebench.web.phone.taking import MOST_ENTRIES, Taken, take

_LARGEST_UNPACKED = 8 << 20
_OLDER_HERE = (
    "The program here is older than the pages kept on this phone. Nothing was taken, and nothing is lost: it "
    "stays on the phone, and is taken by a newer program."
)
_OTHER_PRACTICE = (
    "What is kept on this phone belongs to another practice than the one that is signed in here. Nothing was "
    "sent. Sign in to the practice it belongs to, or save it as a file."
)


@signed_in(Action.ENTER_VISIT, DEED)
@spoken
def sync(request: PageRequest) -> HttpResponse:
    """Take in entries, and tell what became of each."""
    sent = sent_object(request)
    if sent is None or not isinstance(sent.get("entries"), list) or len(sent["entries"]) > MOST_ENTRIES:
        return JsonResponse(
            {"said": told("What was sent cannot be read. It stays on the phone.")}, status=400
        )
    if not is_spoken(sent.get("protocol")):
        refused = {"said": told(_OLDER_HERE), "protocol": PROTOCOL, "stamp": shell_stamp()}
        return JsonResponse(refused, status=409)
    if sent.get("practice") != str(request.standing.practice_uuid):
        return JsonResponse({"said": told(_OTHER_PRACTICE), "other_practice": True}, status=409)
    results = take(request.actor, sent["entries"])
    return JsonResponse(
        {
            "protocol": PROTOCOL,
            "stamp": shell_stamp(),
            "now": timezone.now().isoformat(),
            "results": [_told(one) for one in results],
        }
    )


def _told(taken: Taken) -> dict[str, Any]:
    return replace(taken, problems=tuple(problem_told(one) for one in taken.problems)).told


def sent_object(request: PageRequest) -> dict[str, Any] | None:
    """Return the JSON object that was sent; None where it is none."""
    try:
        found = json.loads(_unpacked(request))
    except (ValueError, RecursionError, zlib.error):
        return None
    return found if isinstance(found, dict) else None


def _unpacked(request: PageRequest) -> bytes:
    """Return what was sent, unpacked as far as is taken: what grows without end is cut."""
    if request.headers.get("Content-Encoding") != "gzip":
        return request.body
    opened = zlib.decompressobj(wbits=zlib.MAX_WBITS | 16)
    return opened.decompress(request.body, _LARGEST_UNPACKED)
