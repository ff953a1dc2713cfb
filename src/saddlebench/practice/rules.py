"""Who may do what. One table; everything else asks it."""

from dataclasses import dataclass

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.enums import Action, Role

_SEE = frozenset({Action.SEE_HORSES, Action.SEE_SADDLES})
_FIT = _SEE | {
    Action.SEE_PEOPLE,
    Action.SEE_ENTRIES,
    Action.EDIT_PEOPLE,
    Action.EDIT_HORSES,
    Action.EDIT_SADDLES,
    Action.ENTER_VISIT,
    Action.RECORD_BACK,
    Action.RECORD_SADDLE,
    Action.RECORD_STUDY,
    Action.REBUILD,
    Action.WITHDRAW,
    Action.EXPORT,
    Action.IMPORT,
}
_MAY: dict[Role, frozenset[Action]] = {
    Role.OWNER: frozenset(Action),
    Role.FITTER: frozenset(_FIT),
    # The workshop alters saddles for horses it never sees: measurements yes, people's addresses no.
    Role.WORKSHOP: _SEE | {Action.EDIT_SADDLES, Action.RECORD_SADDLE, Action.REBUILD},
    Role.READER: _SEE | {Action.SEE_PEOPLE},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """A signed-in person acting for one practice."""

    user_id: int
    practice_id: int
    role: Role
    label: str = ""


class NotAllowedError(SaddlebenchError):
    """The person may not do this."""

    def __init__(self, action: Action, actor: Actor | None) -> None:
        self.action = action
        self.actor = actor
        who = f"as {actor.role.value}" if actor else "without signing in"
        super().__init__(
            f"This needs another role: “{action.value}” is not possible {who}. Ask the practice's owner."
        )


def may(actor: Actor | None, action: Action, practice_id: int) -> bool:
    """Tell whether a person may do something in a practice."""
    return actor is not None and actor.practice_id == practice_id and action in _MAY[actor.role]


def is_within(role: Role, other: Role) -> bool:
    """Tell whether a role may do nothing that the other may not."""
    return _MAY[role] <= _MAY[other]


def require(actor: Actor | None, action: Action) -> Actor:
    """Return the actor who may do this in their own practice.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or the role does not include the action.
    """
    if actor is None or not may(actor, action, actor.practice_id):
        raise NotAllowedError(action, actor)
    return actor
