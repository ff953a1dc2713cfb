"""What a drawing shows: one back, one saddle, its pads, and the saddle at rest under one load."""

from dataclasses import dataclass
from typing import Self

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import HALT
from saddlebench.engine.fit.settled import Outcome, Position, Settled
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.saddle.model import PadLayer, SaddleModel
from saddlebench.exchange.vocabulary import said


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One back with one saddle in place."""

    back_label: str
    surface: BackSurface
    landmarks: Landmarks
    saddle: SaddleModel
    pads: tuple[PadLayer, ...]
    settled: Settled

    @classmethod
    def of_study(
        cls, study: FitStudy, case_name: str = HALT.name, position: Position = Position.PUT
    ) -> Self | Undetermined:
        """Return one state of a study, by its load case's name, or why there is none."""
        settled = study.settlement.at(case_name, position)
        if isinstance(settled, Undetermined):
            return settled
        return cls(
            back_label=study.inputs.back_label or said("this back"),
            surface=study.surface,
            landmarks=study.landmarks,
            saddle=study.saddle,
            pads=study.pads,
            settled=settled,
        )

    @property
    def pair(self) -> str:
        """Which saddle, on which back."""
        return f"{self.saddle.label} {said('on')} {self.back_label}"

    @property
    def state(self) -> str:
        """Under which load, where along the back, and whether the saddle sits at all."""
        case, settled = self.settled.case, self.settled
        words = case.name if case.name == case.state else f"{case.state}, {case.name}"
        state = f"{words}, {settled.position}"
        if settled.outcome is Outcome.SITS:
            return said(state)
        why = f": {settled.why_not.reason}" if settled.why_not is not None else ""
        return said(f"{state}; {settled.outcome}{why}")

    @property
    def subtitle(self) -> tuple[str, str]:
        """Both, for two lines below a heading."""
        return self.pair, self.state
