"""The two vocabularies of English: words of the trade that differ, said as the practice says them.

The program's own words are written in British English. Where a practice speaks American English, the words
below are said in its way wherever the program speaks; what people wrote themselves is never touched.
Where somebody reads in another language or in inches, the same door tells the words again for that reader.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from saddlebench.exchange.readers import Language, reader
from saddlebench.exchange.retelling import retold

BRITISH, AMERICAN = "british", "american"
# Common practice; the longer first.
_PAIRS = (
    ("girth straps", "billets"),
    ("girth strap", "billet"),
    ("straps hang in the girth groove", "billets hang in the girth groove"),
    ("numnahs", "saddle pads"),
    ("numnah", "saddle pad"),
    ("colours", "colors"),
    ("colour", "color"),
    ("off centre", "off center"),
    ("centre", "center"),
    ("grey", "gray"),
)
_AMERICAN = dict(_PAIRS)
_WORDS = re.compile(rf"\b({'|'.join(british for british, _ in _PAIRS)})\b", re.IGNORECASE)
_spoken: ContextVar[str] = ContextVar("vocabulary", default=BRITISH)


@contextmanager
def speaking(vocabulary: str) -> Iterator[None]:
    """Let the program speak in a vocabulary while this lasts, in this thread or task alone."""
    token = _spoken.set(vocabulary)
    try:
        yield
    finally:
        _spoken.reset(token)


def spoken() -> str:
    """Return the vocabulary that is spoken now."""
    return _spoken.get()


def said(text: str) -> str:
    """Return the program's own words as they are said now."""
    to = reader()
    told = text if to.is_usual else retold(text, to)
    if spoken() == AMERICAN and to.language is Language.ENGLISH:
        return _WORDS.sub(_in_american, told)
    return told


def _in_american(found: re.Match[str]) -> str:
    british = found[0]
    word = _AMERICAN[british.lower()]
    return f"{word[0].upper()}{word[1:]}" if british[0].isupper() else word
