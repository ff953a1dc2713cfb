"""What drives a finding's doubt, in the words of people."""

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.worth_repeating import LIKELY, FindingDoubt, SourceKind, WorthRepeating
from saddlebench.exchange.phrases import PLAIN_NAMES, SIDE_WORDS
from saddlebench.exchange.readers import NO_BREAK

DOUBT_NOTE = (
    "What a repeat would take away is itself an estimate, if the model holds; sections that lie side by side "
    "tell much the same, so their shares overlap. No repeat lessens an assumption."
)


def title_of_doubt(doubt: FindingDoubt) -> str:
    """Return the finding's plain name with its side."""
    side = SIDE_WORDS[doubt.side]
    name = PLAIN_NAMES[doubt.finding]
    return f"{name}, {side}" if side else name


def amount_of(value: float, unit: str) -> str:
    """Return a number of the doubt with its unit."""
    digits = 1 if abs(value) < 10.0 else 0
    space = "" if unit in ("°", "%") else NO_BREAK
    return f"{round(value, digits) + 0.0:.{digits}f}{space}{unit}".replace("-", "\u2212")


def number_words(doubt: FindingDoubt) -> str:
    """Return what wavers, and how far."""
    return (
        f"{doubt.what}: {amount_of(doubt.value, doubt.unit)} ± {amount_of(doubt.half_width, doubt.unit)}; "
        f"{100.0 * doubt.agreeing:.0f} of 100 tries agree"
    )


def source_words(source: WorthRepeating) -> str:
    """Return a source and how much of the spread goes with it."""
    return f"{source.source}, {100.0 * source.share:.0f} %"


def advice_of(doubt: FindingDoubt) -> str:
    """Return what to do, as one or two sentences."""
    best = doubt.best
    if doubt.is_told:
        return "It can be told as it is; no repeat is needed."
    if isinstance(best, Undetermined):
        return (
            f"{best.reason[:1].upper()}{best.reason[1:]}: it rests on assumptions, or on many small errors."
        )
    after = amount_of(doubt.half_width_after(best), doubt.unit)
    what = _deed(best)
    cases = f"{100.0 * best.settles:.0f} of 100 cases"
    if best.settles >= LIKELY:
        return f"{what} and this can be told in {cases}: known to ±{after} then."
    if best.settles > 0.0:
        return f"{what}: known to ±{after} then, which lets it be told in {cases} only."
    return f"{what}: known to ±{after} then, which alone does not let it be told."


def _deed(best: WorthRepeating) -> str:
    if best.kind is SourceKind.SECTION:
        place = best.source.replace(", near side", " again on the near side (left)")
        place = place.replace(", off side", " again on the off side (right)")
        return f"Measure {place}"
    deeds = {
        SourceKind.MARK: f"Feel {best.source} again",
        SourceKind.SADDLE: f"Measure {best.source} again",
        SourceKind.LEVEL: f"Read the {best.source} again",
        SourceKind.KIT: f"Measure {best.source} again",
    }
    return deeds.get(best.kind, f"Look at {best.source} again")


def worth_telling(doubts: tuple[FindingDoubt, ...]) -> tuple[FindingDoubt, ...]:
    """Return the doubts of findings that cannot be told, those that one repeat most likely settles first."""

    def helpful(doubt: FindingDoubt) -> tuple[float, float]:
        best = doubt.best
        return (0.0, 0.0) if isinstance(best, Undetermined) else (-best.settles, -best.removes)

    return tuple(sorted((one for one in doubts if not one.is_told), key=helpful))
