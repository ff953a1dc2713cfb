"""English that slips into German papers, found by the catalogue's own words."""

import re
from functools import cache

from saddlebench.exchange.readers import Language
from saddlebench.exchange.retelling import PLACEHOLDER, messages
from support.reports import NAMELESS

SHARED = {"report", "saddlebench", "letterhead"}


def words_in(text: str) -> set[str]:
    return {word.lower() for word in re.findall(r"[^\W\d_]{2,}", PLACEHOLDER.sub(" ", text))}


@cache
def english_words() -> set[str]:
    """Return the words of the program's English that no German message has."""
    catalogue = messages(Language.GERMAN)
    return words_in(" ".join(catalogue)) - words_in(" ".join(catalogue.values()))


def slipped(text: str) -> set[str]:
    """Return the English words in a text that should be German."""
    return words_in(text) & english_words() - SHARED - {NAMELESS.lower()}
