"""A practice's letterhead is set."""

import base64

from saddlebench.exchange.letterhead import Letterhead, checked_logo, letterhead
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Practice
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed


def set_letterhead(
    actor: Actor | None, text: str, *, logo: bytes = b"", without_logo: bool = False
) -> Letterhead:
    """Set the lines below the practice's name on its reports, and its logo; without one, the old one stays.

    Raises
    ------
    InputProblemsError
        If there are too many lines, or the logo cannot be set.
    """
    allowed = require(actor, Action.MANAGE_PRACTICE)
    practice = Practice.objects.get(pk=allowed.practice_id)
    head = letterhead(practice.label, tuple(text.splitlines()))
    kept = practice.logo
    if logo or without_logo:
        kept = base64.b64encode(checked_logo(logo)).decode() if logo else ""
    with deed(actor, Action.MANAGE_PRACTICE, "set_letterhead", Subject.PRACTICE, practice.uuid):
        practice.letterhead, practice.logo = list(head.lines), kept
        practice.save(update_fields=["letterhead", "logo"])
    return Letterhead(name=head.name, lines=head.lines, logo=base64.b64decode(kept))
