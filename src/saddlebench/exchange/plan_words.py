"""A plan in sentences: what it wins, what stays off, how new flock beds down."""

from collections.abc import Sequence

from saddlebench.engine.alter import AlterationPlan, Binding, Turn
from saddlebench.engine.alter.bedding import RECHECK_WEEKS, RIDDEN_HOURS, Bedding
from saddlebench.exchange.phrases import amount, place_of
from saddlebench.exchange.readers import NO_BREAK
from saddlebench.exchange.vocabulary import said


def summary_words(plan: AlterationPlan, *, by_hand: bool) -> tuple[str, ...]:
    """Return what a plan comes to, in a few sentences."""
    pair = f"{plan.before.saddle.label} {said('on')} {plan.before.inputs.back_label or said('this back')}"
    who = said("Set by hand" if by_hand else f"Plan, aim “{plan.policy.aim}”")
    if plan.alteration.is_nothing:
        nothing = "nothing that is allowed makes it lie better by enough to be worth the work"
        return (f"{who}: {pair}: {said(nothing)}.", said(_still_off(plan)))
    better = sum(change.turn is Turn.BETTER for change in plan.changes)
    worse = sum(change.turn is Turn.WORSE for change in plan.changes)
    even = (
        f"how uneven it lies, as the plan counts it: {100 * plan.misfit_before**0.5:.0f}{NO_BREAK}% → "
        f"{100 * plan.misfit_after**0.5:.0f}{NO_BREAK}% of the mean pressure"
    )
    return (f"{who}: {pair}. {said(f'{better} better, {worse} worse; {even}.')}", said(_still_off(plan)))


def _still_off(plan: AlterationPlan) -> str:
    left = plan.not_reached
    if not left:
        return "As computed, every finding is fine afterwards or cannot be told."
    if not plan.binding:
        return f"{len(left)} findings stay off: not for an alteration to mend, or not worth what it moves."
    return f"{len(left)} findings stay off; what holds the plan back is named below."


def bedding_words(bedding: Sequence[Bedding]) -> tuple[str, ...]:
    """Return how the watched measures go while new flock beds down."""
    hours, weeks = RIDDEN_HOURS, RECHECK_WEEKS
    when = f"over {hours[0]} to {hours[1]} ridden hours (common practice)"
    told = [said(f"New flock beds down {when}; look again after {weeks[0]} to {weeks[1]} weeks. Meanwhile:")]
    for one in bedding:
        if not (isinstance(one.new, float) and isinstance(one.most_lost, float)):
            continue
        unit, least = one.key.unit, one.least_lost
        ends = [least if isinstance(least, float) else one.most_lost, one.most_lost]
        shown = [amount(value, unit) for value in (one.new, *ends)]
        if len(set(shown)) > 1:
            later = shown[1] if shown[1] == shown[2] else f"{shown[1]} {said('to')} {shown[2]}"
            leaves = f"{shown[0]} {said('as it leaves the bench')}"
            told.append(f"  {place_of(one.key)}: {leaves}, {later} {said('later')}")
    return tuple(told)


def binding_words(binding: Sequence[Binding]) -> tuple[str, ...]:
    """Return what holds a plan back, both halves of a zone as one."""
    told: dict[str, None] = {}
    for one in binding:
        place, _, half = one.what.partition(", ")
        other = {"inner half": "outer half", "outer half": "inner half"}.get(half)
        both = other and any(two.what == f"{place}, {other}" and two.limit == one.limit for two in binding)
        told[said(f"{place if both else one.what}: {one.limit}")] = None
    return tuple(told)
