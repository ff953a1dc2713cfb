"""What a person decides before a pack is taken, and what is refused until they did."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass, field

from saddlebench.engine.errors import SaddlebenchError, input_problem
from saddlebench.practice.handover.comparing import Comparison
from saddlebench.practice.handover.items import Fate
from saddlebench.practice.handover.keys import KeyStanding


class NotTrustedError(SaddlebenchError):
    """Nobody said yet that the key is the sender's."""

    def __init__(self, standing: KeyStanding, label: str, fingerprint: str) -> None:
        self.standing = standing
        said = {
            KeyStanding.NEW: f"{label}’s key is not known here yet",
            KeyStanding.CHANGED: f"{label} is known here WITH ANOTHER KEY: somebody may be posing as them",
            KeyStanding.REFUSED: f"the key of {label} is no longer trusted here",
        }.get(standing, "the key is not trusted")
        super().__init__(
            f"Nothing was taken: {said}. Call them on a number that you know, compare the fingerprint "
            f"{fingerprint}, and only then say that you trust it."
        )


class WaitsForAnswerError(SaddlebenchError):
    """A record might be one that is here already, and nobody said whether it is."""

    def __init__(self, labels: tuple[str, ...]) -> None:
        super().__init__(
            f"Nothing was taken. Here already by name: {', '.join(labels)}. Say of each whether it is the "
            "same one, or another."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeChoices:
    """What a person decided before a pack is taken."""

    trusts_key: bool = False
    """Whether a key that is new here was compared, and is to be trusted."""
    trusts_changed_key: bool = False
    """The same of a key that takes the place of another; said apart, since this is how impostors come."""
    same_as: Mapping[uuids.UUID, uuids.UUID | None] = field(default_factory=dict)
    """By the pack's name of a horse or saddle: the one here that it is; None: another one."""
    further_versions: frozenset[uuids.UUID] = frozenset()
    """Records that are here otherwise, of which theirs is taken as a further version."""


def refuse_untrusted(found: Comparison, choices: TakeChoices) -> None:
    """Refuse a pack whose key nobody vouches for.

    Raises
    ------
    NotTrustedError
        If the key is not trusted, and the choices do not say that it is.
    """
    standing = found.known.standing
    says = {KeyStanding.NEW: choices.trusts_key, KeyStanding.CHANGED: choices.trusts_changed_key}
    if not says.get(standing, standing is not KeyStanding.REFUSED):
        raise NotTrustedError(standing, found.known.label, found.fingerprint)


def refuse_undecided(found: Comparison, choices: TakeChoices) -> None:
    """Refuse to guess whether a horse or saddle is the one that is here.

    Raises
    ------
    WaitsForAnswerError
        If one might be, and nobody said.
    InputProblemsError
        If somebody said that it is one which it cannot be.
    """
    open_ = [one for one in found.items if one.fate is Fate.LIKE and one.origin not in choices.same_as]
    if open_:
        raise WaitsForAnswerError(tuple(one.label for one in open_))
    for one in found.items:
        chosen = choices.same_as.get(one.origin)
        if one.fate is Fate.LIKE and chosen and chosen not in {c.uuid for c in one.candidates}:
            raise input_problem(f"“{one.label}” cannot be that one", "Choose one of those shown.")  # noqa: EM102
