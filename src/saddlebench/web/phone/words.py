"""What the phone's scripts say in the reader's language: it comes with their page, so also without signal."""

import gettext
from functools import cache
from pathlib import Path

from django.utils.translation import get_language

_LOCALES = Path(__file__).parent.parent / "locale"


def script_words() -> dict[str, str]:
    """Return the scripts' words in the language that is spoken now, by their English; none for English."""
    return _german() if get_language() == "de" else {}


@cache
def _german() -> dict[str, str]:
    with (_LOCALES / "de" / "LC_MESSAGES" / "djangojs.mo").open("rb") as held:
        # The standard library's reader keeps what it read in this one place.
        catalogue: dict[str, str] = vars(gettext.GNUTranslations(held))["_catalog"]
    return {english: german for english, german in catalogue.items() if english}
