"""The file of a shortlist: saddles for one horse and rider, each with what speaks for and against it."""

import json
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field

from saddlebench.exchange.records.document import Document, Part

Words = Annotated[str, Field(max_length=2000)]
Named = Annotated[str, Field(max_length=200)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]
_MOST, _MOST_SADDLES = 200, 5000


class CountedPart(Part):
    """What a finding adds to the cost."""

    finding: Named
    counts: float


class PlacePart(Part):
    """One saddle of the list; `number` is what it is called where the list was made."""

    rank: Annotated[int, Field(ge=1, le=_MOST_SADDLES)]
    number: Named
    saddle: Named
    looked_at: Literal["quick pass only", "in full"]
    cost: float
    cost_as_it_stands: float | None = None
    arch_by_mm: float
    change: Words
    """What is to be altered first; empty: nothing."""
    counted: Annotated[tuple[CountedPart, ...], Field(max_length=_MOST)]
    speaks_for: Annotated[tuple[Words, ...], Field(max_length=_MOST)]
    speaks_against: Annotated[tuple[Words, ...], Field(max_length=_MOST)]
    stays_share: Share | None = None
    verdicts_hold_share: Share | None = None
    sure: Words
    level_with: Annotated[tuple[Named, ...], Field(max_length=_MOST_SADDLES)]
    level: Words
    alike: Annotated[tuple[Named, ...], Field(max_length=_MOST_SADDLES)]


class NotJudgedPart(Part):
    """A saddle that could not be judged, and why."""

    number: Named
    saddle: Named
    reason: Words


class ShortlistDocument(Document):
    """A shortlist, version 1. Lengths in mm, seats in inches."""

    NAME: ClassVar[str] = "shortlist"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench shortlist"] = "saddlebench shortlist"
    version: Literal[1] = 1
    horse: Named
    complete: bool
    """False: it was stopped early, and better saddles may be missing from it."""
    asked_for: Annotated[int, Field(ge=1, le=_MOST_SADDLES)]
    places: Annotated[tuple[PlacePart, ...], Field(max_length=_MOST)]
    ruled_out: Annotated[dict[Named, Annotated[int, Field(ge=0)]], Field(max_length=_MOST)]
    """How many saddles each hard limit ruled out."""
    not_judged: Annotated[tuple[NotJudgedPart, ...], Field(max_length=_MOST_SADDLES)]
    weights_in_words: Annotated[tuple[Words, ...], Field(max_length=_MOST)]
    weights: Annotated[dict[Named, float], Field(max_length=_MOST)]
    work_in_words: Annotated[tuple[Words, ...], Field(max_length=_MOST)]
    cautions: Annotated[tuple[Words, ...], Field(max_length=20)]

    @classmethod
    def of(cls, found: dict[str, Any]) -> Self:
        """Return the document of a shortlist as it is told to machines; findings in full are left out."""
        kept = set(PlacePart.model_fields) - {"speaks_for", "speaks_against"}
        plain = {
            **{name: found[name] for name in ("horse", "complete", "asked_for", "ruled_out", "cautions")},
            "places": [
                {name: one[name] for name in kept}
                | {"speaks_for": one["for"], "speaks_against": one["against"]}
                for one in found["entries"]
            ],
            "not_judged": [
                {"number": one["key"], "saddle": one["label"], "reason": one["reason"]}
                for one in found["not_judged"]
            ],
            "weights_in_words": found["cost"]["words"],
            "weights": found["cost"]["weights"],
            "work_in_words": found["work_words"],
        }
        return cls.model_validate_json(json.dumps(plain))

    def told(self) -> dict[str, Any]:
        """Return it as shortlists are told to machines, without findings in full."""
        plain = self.model_dump(mode="json")
        places = [
            {
                **{k: v for k, v in one.items() if k not in ("speaks_for", "speaks_against")},
                "for": one["speaks_for"],
                "against": one["speaks_against"],
                "where": "",
                "price": "",
                "seat_in": None,
                "condition": "",
                "findings": [],
            }
            for one in plain["places"]
        ]
        return {
            "horse": self.horse,
            "complete": self.complete,
            "asked_for": self.asked_for,
            "entries": places,
            "ruled_out": plain["ruled_out"],
            "ruled_out_saddles": [],
            "not_judged": [
                {"key": one["number"], "label": one["saddle"], "reason": one["reason"]}
                for one in plain["not_judged"]
            ],
            "cost": {"words": plain["weights_in_words"], "weights": plain["weights"]},
            "work_words": plain["work_in_words"],
            "cautions": plain["cautions"],
        }
