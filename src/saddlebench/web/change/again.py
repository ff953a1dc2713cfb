"""What a comparison rests on that is no longer in use, and the way to work it out again."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse

from saddlebench.practice.queries.comparisons import ComparisonPage
from saddlebench.practice.queries.older_figures import OlderFigure, older_figures
from saddlebench.practice.rules import Actor


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """Why a comparison should be worked out again, and the form that does it."""

    is_on_current: bool
    older: tuple[OlderFigure, ...]
    action: str
    words: str
    fields: tuple[tuple[str, str], ...]
    """Of the form, hidden; empty where a record was withdrawn and nothing can be worked out."""

    @property
    def is_due(self) -> bool:
        """Whether there is anything to say."""
        return bool(self.older) or not self.is_on_current


def change_again(actor: Actor, page: ComparisonPage) -> Again:
    """Return how a change study is worked out again."""
    other = [("other_device", "yes")] if page.made_of.get("other_device") else []
    return _again(actor, page, "change:compare", "Compare again as things are now", "version", other)


def then_and_now_again(actor: Actor, page: ComparisonPage) -> Again:
    """Return how saddles are judged again on the same days."""
    saddles = [("saddle", one["version"]) for one in page.made_of.get("saddles", ())]
    more = [*saddles, ("rider", f"{page.made_of['rider_kg']:g}")]
    return _again(actor, page, "change:judge", "Judge them again as things are now", "back", more)


def hand_again(page: ComparisonPage) -> Again:
    """Return how a hand is checked again by the same repeats; it goes by no own figures."""
    marks = [("marks_again", "yes")] if page.made_of.get("marks_again", True) else []
    action = reverse("change:check_hand", args=[page.horse.uuid])
    return _form(page, (), action, "Check again as things are now", "version", marks)


def fitters_again(page: ComparisonPage) -> Again:
    """Return how fitters are compared again by the same repeats; they go by no own figures."""
    action = reverse("change:compare_fitters")
    return _form(page, (), action, "Compare again as things are now", "version", ())


def _again(
    actor: Actor, page: ComparisonPage, action: str, words: str, name: str, more: Sequence[tuple[str, str]]
) -> Again:
    older = older_figures(actor, page)
    return _form(page, older, reverse(action, args=[page.horse.uuid]), words, name, more)


def _form(
    page: ComparisonPage,
    older: tuple[OlderFigure, ...],
    action: str,
    words: str,
    name: str,
    more: Sequence[tuple[str, str]],
) -> Again:
    fields = (("key", str(uuids.uuid4())), *((name, str(one)) for one in page.again), *more)
    return Again(
        is_on_current=page.is_on_current,
        older=older,
        action=action,
        words=words,
        fields=fields if page.again else (),
    )
