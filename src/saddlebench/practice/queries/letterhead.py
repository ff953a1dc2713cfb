"""What stands above a practice's reports."""

import base64

from saddlebench.exchange.letterhead import Letterhead
from saddlebench.practice.enums import Action
from saddlebench.practice.models import Practice
from saddlebench.practice.rules import Actor, require


def letterhead_of(actor: Actor | None) -> Letterhead:
    """Return the letterhead of the practice that an actor works for."""
    allowed = require(actor, Action.SEE_HORSES)
    held = Practice.objects.values_list("label", "letterhead", "logo").get(pk=allowed.practice_id)
    name, lines, logo = held
    return Letterhead(name=name, lines=tuple(lines), logo=base64.b64decode(logo))
