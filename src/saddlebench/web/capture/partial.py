"""One part's fields and remarks as a page or a script takes them."""

from collections.abc import Mapping
from dataclasses import dataclass

from saddlebench.engine.errors import Problem
from saddlebench.practice.catalogue import Value
from saddlebench.web.capture.judging import section_remarks
from saddlebench.web.capture.loaded import Loaded
from saddlebench.web.capture.parts import SIDE_WORDS, Asked, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldLine:
    """One field of a part, as it is shown."""

    asked: Asked
    text: str
    side_words: str
    problem: str = ""
    begins_side: bool = False
    """Whether a new side (near, middle, off) begins with it."""


def text_of_value(value: Value) -> str:
    """Return a reading as it stands in its field."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.10g}" if isinstance(value, int | float) else str(value)


def lines_of(
    back: Loaded, part: Part, typed: Mapping[str, str], problems: tuple[Problem, ...]
) -> list[FieldLine]:
    """Return a part's fields: as kept, or as typed where that was not kept."""
    wrong = {problem.where.field: f"{problem.what}. {problem.cure}" for problem in problems}
    lines, before = [], ""
    for one in part.asked:
        kept = text_of_value(back.values.get(one.name))
        lines.append(
            FieldLine(
                asked=one,
                text=typed.get(one.name, kept),
                side_words=SIDE_WORDS[one.side],
                problem=wrong.get(one.name, ""),
                begins_side=bool(one.side) and one.side != before,
            )
        )
        before = one.side
    return lines


def remarks_of(back: Loaded, part: Part) -> list[str]:
    """Return what is questionable about a section, in words."""
    if not part.is_section:
        return []
    is_done = back.state_of(part) == "done"
    found = section_remarks(back.instrument, back.sections, part.number, part.repeat, is_done=is_done)
    return [_said(problem) for problem in found]


def _said(problem: Problem) -> str:
    side = {"left": "Near: ", "right": "Off: "}.get(problem.where.side, "")
    what = problem.what if side else problem.what[:1].upper() + problem.what[1:]
    return f"{side}{what}. {problem.cure}"
