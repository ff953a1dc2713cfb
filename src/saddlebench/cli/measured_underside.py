"""How commands end that measure a saddle's underside: the record written, drawn, and told."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from saddlebench.cli.console import print_json, print_problems, require_free, results, words

if TYPE_CHECKING:
    from saddlebench.engine.errors import Problem
    from saddlebench.engine.saddle.record import SaddleRecord
    from saddlebench.exchange.drawings import Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredUnderside:
    """A saddle's record with its underside measured, and what there is to say of it."""

    record: "SaddleRecord"
    measures: dict[str, object]
    sentences: list[str]
    remarks: "tuple[Problem, ...]"
    draw: "Callable[[], Drawing]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """Where a command writes."""

    output: Path
    picture: Path | None
    overwrite: bool

    def require_free(self) -> None:
        """Refuse to replace a file unless that was asked for."""
        for path in (self.output, self.picture):
            if path is not None:
                require_free(path, overwrite=self.overwrite)


def hand_on(command: str, made: MeasuredUnderside, to: Targets, *, as_json: bool) -> None:
    """Write the record and its picture, and tell what was found with the usual cautions."""
    from saddlebench.exchange.phrases import SCREENING_NOTE
    from saddlebench.exchange.records import write_saddle

    write_saddle(made.record, to.output)
    if to.picture is not None:
        from saddlebench.exchange.drawings import write_drawing

        write_drawing(made.draw(), to.picture)
    if as_json:
        told = {"sentences": [*made.sentences, SCREENING_NOTE], "written": str(to.output)}
        print_json(command, result=made.measures | told, problems=made.remarks)
        return
    for sentence in made.sentences:
        results().print(sentence)
    print_problems(made.remarks)
    words().print(SCREENING_NOTE)
    words().print(f"Written: {to.output}")
