"""Where a saddle works to is said in words: how far, which way, and what is another answer there."""

from dataclasses import replace

import numpy as np
from studies import study

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.settled import Position
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.exchange.working import creeps_back_mm, other_there, works_to_of


def moved_forward(made: FitStudy, by_mm: float) -> FitStudy:
    """Return a fit check whose saddle works to a place so far in front of where it is put."""
    put = {step.case.name: step for step in made.settlement.steps if step.position is Position.PUT}

    def there(name: str) -> object:
        pose = put[name].saddle_to_back
        shifted = replace(pose, translation_mm=pose.translation_mm + np.array([by_mm, 0.0, 0.0]))
        return replace(put[name], position=Position.WORKS_TO, saddle_to_back=shifted)

    steps = tuple(
        step if step.position is Position.PUT else there(step.case.name) for step in made.settlement.steps
    )
    return replace(made, settlement=replace(made.settlement, steps=steps, works_to=None))


def test_the_distance_counts_backwards() -> None:
    assert creeps_back_mm(moved_forward(study(), 18.0)) == -18.0
    assert creeps_back_mm(moved_forward(study(), -7.0)) == 7.0


def test_which_way_is_said() -> None:
    assert "18\u00a0mm further forward" in works_to_of(moved_forward(study(), 18.0))
    assert "7\u00a0mm further back" in works_to_of(moved_forward(study(), -7.0))
    assert "stays where it is put" in works_to_of(moved_forward(study(), 1.0))


def test_another_answer_there_is_told_with_both_numbers() -> None:
    made = moved_forward(study(), 18.0)
    first = made.findings[0]
    wanted = Verdict.BORDERLINE if first.as_computed is Verdict.FINE else Verdict.FINE
    changed = replace(made.put, position=Position.WORKS_TO, findings=(replace(first, as_computed=wanted),))
    made = replace(made, works_to=changed)
    assert [there.as_computed for _, there in other_there(made)] == [wanted]
    said = works_to_of(made)
    assert str(wanted) in said
    assert f"where it is put {first.as_computed}" in said


def test_why_it_cannot_be_told_is_said() -> None:
    made = study()
    put_only = tuple(step for step in made.settlement.steps if step.position is Position.PUT)
    why = Undetermined("the girth groove is not marked")
    made = replace(made, settlement=replace(made.settlement, steps=put_only, works_to=why), works_to=why)
    assert "cannot be told: the girth groove is not marked" in works_to_of(made)
