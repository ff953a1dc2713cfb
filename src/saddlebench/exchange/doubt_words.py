"""What drives a finding's doubt, in the words of people."""

from collections.abc import Iterable

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.doubt_sources import LIKELY, SourceKind, WorthRepeating
from saddlebench.engine.fit.measures.names import Side
from saddlebench.engine.fit.uncertain import NEAR_OFF
from saddlebench.engine.fit.worth_repeating import FindingDoubt
from saddlebench.exchange.phrases import PLAIN_NAMES, SIDE_WORDS
from saddlebench.exchange.places import place_words
from saddlebench.exchange.readers import NO_BREAK, Language, reader
from saddlebench.exchange.vocabulary import said

DOUBT_HEADING = "What the doubt comes from"
DOUBT_NOTE = (
    "What a repeat would take away is itself an estimate, if the model holds; sections that lie side by side "
    "tell much the same, so their shares overlap. No repeat lessens an assumption."
)
MOST_SURE = 99
"""Of 100: what a repeat will show is never certain."""
MOST_DOUBTS = 5
"""So many are listed and drawn: those that a repeat most likely settles."""
_ON_A_SIDE = {
    f", {Side.NEAR} side": " on the near side (left)",
    f", {Side.OFF} side": " on the off side (right)",
}
_DEEDS = {
    SourceKind.MARK: "Feel {} again",
    SourceKind.SADDLE: "Measure {} again",
    SourceKind.LEVEL: "Read the {} again",
    SourceKind.KIT: "Measure {} again",
}


def title_of_doubt(doubt: FindingDoubt) -> str:
    """Return the finding's plain name with its side."""
    return said(_title(doubt))


def _title(doubt: FindingDoubt) -> str:
    side = SIDE_WORDS[doubt.side]
    name = PLAIN_NAMES[doubt.finding]
    return f"{name}, {side}" if side else name


def amount_of(value: float, unit: str) -> str:
    """Return a number of the doubt with its unit."""
    return said(_amount(value, unit))


def _amount(value: float, unit: str) -> str:
    digits = 1 if abs(value) < 10.0 else 0
    space = "" if unit in ("°", "%") else NO_BREAK
    return f"{round(value, digits) + 0.0:.{digits}f}{space}{unit}".replace("-", "\u2212")


def number_words(doubt: FindingDoubt) -> str:
    """Return what wavers, and how far."""
    number = f"{_amount(doubt.value, doubt.unit)} ± {_amount(doubt.half_width, doubt.unit)}"
    agree = said(f"{100.0 * doubt.agreeing:.0f} of 100 tries agree")
    return f"{said(doubt.what)}: {said(number)}; {agree}"


def place_of(source: WorthRepeating) -> str:
    """Return a source by its name; a section by where it lies as well, which no later section changes."""
    if source.at_mm is None and " (" in source.source:
        # Of which of two saddles it is, stands behind it: a name, left as it was given.
        name, saddle = source.source.split(" (", maxsplit=1)
        return f"{said(name)} ({saddle}"
    return said(_placed(source))


def _placed(source: WorthRepeating) -> str:
    if source.at_mm is None:
        return source.source
    station, comma, side = source.source.partition(", ")
    return f"{station} ({place_words(source.at_mm)}){comma}{side}"


def source_words(source: WorthRepeating) -> str:
    """Return how much of the spread goes with a source, and which: a long name may be cut, the share not."""
    return f"{said(f'{100.0 * source.share:.0f}{NO_BREAK}%')}: {place_of(source)}"


def short_source_words(source: WorthRepeating) -> str:
    """Return the same for a picture: which section and which side first, then where it lies, in brackets."""
    share = said(f"{100.0 * source.share:.0f}{NO_BREAK}%")
    if source.at_mm is None:
        return f"{share}: {place_of(source)}"
    place = reader().quantities(f"{source.at_mm:.0f}{NO_BREAK}mm", is_place=True)
    return f"{share}: {said(source.source)} ({place})"


def advice_of(doubt: FindingDoubt) -> str:
    """Return what to do, as one or two sentences."""
    best = doubt.best
    if doubt.is_told:
        return said("It can be told as it is; no repeat is needed.")
    if isinstance(best, Undetermined):
        return nothing_helps(best)
    what = deed_of(best)
    after = f"±{_amount(doubt.half_width_after(best), doubt.unit)}"
    cases = f"about {min(round(100.0 * best.settles), MOST_SURE)} of 100 cases"
    if best.settles >= LIKELY:
        return f"{what}; {said(f'this can then be told in {cases}, known to {after}.')}"
    if best.settles > 0.0:
        return f"{what}; {said(f'then known to {after}, which lets it be told in {cases} only.')}"
    return f"{what}; {said(f'then known to {after}, which alone does not let it be told.')}"


def nothing_helps(why: Undetermined) -> str:
    """Return that no repeat would lessen a doubt, and what it rests on."""
    reason = f"{why.reason[:1].upper()}{why.reason[1:]}"
    return said(f"{reason}: it rests on assumptions, or on many small errors.")


def deed_of(best: WorthRepeating) -> str:
    """Return the repeat as something to do, without its full stop."""
    placed = _placed(best)
    if best.kind is SourceKind.SECTION:
        ending = next((one for one in _ON_A_SIDE if placed.endswith(one)), "")
        return said(f"Measure {placed.removesuffix(ending)} again{_ON_A_SIDE.get(ending, '')}")
    what, compared = placed.removeprefix("comparing "), best.source.startswith(NEAR_OFF)
    deed = "Compare {} again" if compared else _DEEDS.get(best.kind, "Look at {} again")
    if reader().language is Language.ENGLISH or best.at_mm is not None:
        return said(deed.format(what if compared else placed))
    # Of which of two saddles it is, is a name: it stands last, left as it was given.
    name, bracket, saddle = (what if compared else placed).partition(" (")
    return f"{said(deed.format(name))}{bracket}{saddle}"


def worth_telling(doubts: Iterable[FindingDoubt]) -> tuple[FindingDoubt, ...]:
    """Return the doubts of findings that cannot be told, those that one repeat most likely settles first."""

    def helpful(doubt: FindingDoubt) -> tuple[float, float]:
        best = doubt.best
        return (0.0, 0.0) if isinstance(best, Undetermined) else (-best.settles, -best.removes)

    return tuple(sorted((one for one in doubts if not one.is_told), key=helpful))


def repeats_of(doubts: Iterable[FindingDoubt]) -> tuple[str, ...]:
    """Return the repeats that likely settle something, each with what, in two short sentences a line."""
    settled: dict[str, list[str]] = {}
    for one in worth_telling(doubts):
        if one.would_settle and not isinstance(one.best, Undetermined):
            settled.setdefault(deed_of(one.best), []).append(title_of_doubt(one))
    return tuple(
        f"{deed}. {said('Likely to be told then')}: {'; '.join(titles)}." for deed, titles in settled.items()
    )


def told_of_doubts(doubts: Iterable[FindingDoubt]) -> tuple[str, ...]:
    """Return every doubtful finding with what to do about it, a sentence a line, the most helpful first."""
    return tuple(f"{title_of_doubt(one)}: {advice_of(one)}" for one in worth_telling(doubts))
