"""Which limit holds a plan back: what may not be altered at all, and what is used to its end."""

from collections.abc import Sequence
from dataclasses import dataclass

from saddlebench.engine.alter.policy import Policy
from saddlebench.engine.alter.search import Found
from saddlebench.engine.alter.variables import Kind, Variable
from saddlebench.engine.saddle.alterable import Alterable, NotAlterable

NEAR_MM = 0.6
WORTH_MM = 1e-4
"""A limit is named where one mm more would better the misfit by this much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """One limit."""

    what: str
    """Which part of the saddle."""
    limit: str
    """What holds it: the number, or why it may not be altered."""
    worth: float
    """How much of the misfit one mm more would win; 0 for a part that may not be altered at all."""


def binding_limits(
    variables: Sequence[Variable], allowed: Alterable, found: Found, policy: Policy
) -> tuple[Binding, ...]:
    """Return the limits that hold a plan back, the dearest first; parts that may not be altered come last."""
    slope = found.model.square @ found.best.x + found.model.linear
    held: list[Binding] = []
    for variable, value, push in zip(variables, found.best.x, slope, strict=True):
        at_most = value >= variable.most - NEAR_MM and push < -WORTH_MM
        at_least = value <= variable.least + NEAR_MM and push > WORTH_MM
        if (at_most or at_least) and variable.least < variable.most:
            held.append(
                Binding(what=variable.words(), limit=_words(variable, up=at_most), worth=abs(float(push)))
            )
    held.sort(key=lambda one: -one.worth)
    return (*held, *_forbidden(allowed, policy))


def _words(variable: Variable, *, up: bool) -> str:
    if variable.kind is Kind.ARCH:
        return f"{variable.most:g} mm wider at most" if up else f"{-variable.least:g} mm narrower at most"
    if variable.kind is Kind.SHIM:
        return f"{variable.most:g} mm thick at most" if up else "a shim adds, it cannot take"
    if up:
        return f"{variable.most:g} mm of wool more at most"
    if variable.least == 0.0:
        return "no wool may be taken out"
    return f"{-variable.least:g} mm of wool less at most"


def _forbidden(allowed: Alterable, policy: Policy) -> tuple[Binding, ...]:
    parts = {
        "near panel": allowed.fill_left,
        "off panel": allowed.fill_right,
        "front arch": allowed.arch,
        "shims": allowed.shims,
    }
    named = [
        Binding(what=what, limit=part.reason, worth=0.0)
        for what, part in parts.items()
        if isinstance(part, NotAlterable)
    ]
    if not policy.arch and not isinstance(allowed.arch, NotAlterable):
        named.append(Binding(what="front arch", limit="left as it is by the plan's policy", worth=0.0))
    return tuple(named)
