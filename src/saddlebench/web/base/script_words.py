"""What the scripts of every page say in the reader's language: it comes with the page."""

import json

from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

WORDS = {
    "Typed here at {words} and not saved:": _("Typed here at {words} and not saved:"),
    "Put it back": _("Put it back"),
    "Let it go": _("Let it go"),
    "This did not work. Load the page in another window, sign in there, then try again.": _(
        "This did not work. Load the page in another window, sign in there, then try again."
    ),
}


def script_words() -> str:
    """Return the scripts' words as their page holds them, by their English; empty for English."""
    if get_language() in (None, "en", "en-gb"):
        return ""
    return json.dumps({english: str(words) for english, words in WORDS.items()}, ensure_ascii=False)
