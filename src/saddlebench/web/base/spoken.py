"""Pages in their reader's language: what the browser says is read (RFC 9110, 12.5.4), where there are words.

English is every page's own language; a view that is declared `spoken` is shown in German, too. Sentences of
the program's own that come from below are told again as in reports.
"""

from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers
from django.utils.functional import Promise
from django.utils.translation import get_language, gettext, override
from django.utils.translation.trans_real import parse_accept_lang_header

from saddlebench.engine.errors import Problem
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.retelling import retold, retold_where_known
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.phrases import words_of
from saddlebench.web.base.access import PageRequest, View

LANGUAGES = {"en": "en-gb", "de": "de"}
_Given = ParamSpec("_Given")
_Request = TypeVar("_Request", bound=HttpRequest)


def spoken(
    view: Callable[Concatenate[_Request, _Given], HttpResponse],
) -> Callable[Concatenate[_Request, _Given], HttpResponse]:
    """Declare a view whose words are there in every language of `LANGUAGES`."""

    @wraps(view)
    def shown(request: _Request, /, *args: _Given.args, **kwargs: _Given.kwargs) -> HttpResponse:
        with override(language_of(request)):
            response = view(request, *args, **kwargs)
        patch_vary_headers(response, ["Accept-Language"])
        return response

    return shown


def wholly_spoken(view: View[_Given]) -> View[_Given]:
    """Declare a view `spoken` whose sentences, numbers and drawings come from below in its language."""

    @wraps(view)
    def shown(request: PageRequest, /, *args: _Given.args, **kwargs: _Given.kwargs) -> HttpResponse:
        with read_by(Reader(language=Language(language_of(request)[:2]))):
            return view(request, *args, **kwargs)

    return spoken(shown)


def language_of(request: HttpRequest) -> str:
    """Return the language that the request's reader reads best, of those that there are."""
    accepted = parse_accept_lang_header(request.headers.get("Accept-Language", "").lower())
    codes = (code.partition("-")[0] for code, _weight in accepted)
    return next((LANGUAGES[code] for code in codes if code in LANGUAGES), LANGUAGES["en"])


def told(text: str) -> str:
    """Return sentences of the program's own in the language that is spoken now; others as they are."""
    if get_language() != LANGUAGES["de"]:
        return text
    return "\n".join(_line_told(line) for line in text.split("\n"))


def told_where_known(text: str) -> str:
    """Return words that may be a person's own in the language that is spoken now, where they are known."""
    return retold_where_known(text, Reader(language=Language((get_language() or "en")[:2])))


def in_english(words: Promise | str) -> str:
    """Return words that wait for a language in the program's own."""
    with override(LANGUAGES["en"]):
        return str(words)


def as_said(words: Promise | str) -> str:
    """Return words of a list as they are said now: in the page's language, or the practice's vocabulary."""
    english = in_english(words)
    return told(english) if get_language() == LANGUAGES["de"] else said(english)


def words_told(member: StrEnum) -> str:
    """Return the words of a member of one of the records' closed lists in the language that is spoken now."""
    return told(in_english(words_of(member)))


def problem_told(problem: Problem) -> Problem:
    """Return a problem in the language that is spoken now."""
    where = replace(problem.where, field=told(problem.where.field), side=told(problem.where.side))
    return replace(problem, what=told(problem.what), cure=told(problem.cure), where=where)


def _line_told(line: str) -> str:
    """Return a line whose sentences the pages know, after the place that it names; else as in reports."""
    place, colon, rest = line.partition(": ")
    for before, body in (("", line), (place + colon, rest)):
        sentences = [_known(one) for one in body.split(". ")]
        if body and None not in sentences:
            return before + ". ".join(one for one in sentences if one is not None)
    german = Reader(language=Language.GERMAN)
    if (whole := retold_where_known(line, german)) != line:
        return whole
    # The catalogue knows sentences; a file's name before one is a person's.
    if colon and (rest_told := retold_where_known(rest, german)) != rest:
        return retold_where_known(place, german) + colon + rest_told
    return retold(line, german)


def _known(sentence: str) -> str | None:
    """Return a sentence's German, with or without its full stop; None where the pages have none."""
    for asked in (sentence, f"{sentence}.", sentence.removesuffix(".")):
        own = gettext(asked)
        if asked and own != asked:
            full = sentence.endswith(".")
            return own if own.endswith(".") == full else own.removesuffix(".") + ("." if full else "")
    return None
