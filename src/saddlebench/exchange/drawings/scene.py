"""What a drawing shows: one back, one saddle, its pads, and the saddle at rest under one load."""

from dataclasses import dataclass

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.fit.settled import Settled
from saddlebench.engine.saddle.model import PadLayer, SaddleModel


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One back with one saddle in place."""

    back_label: str
    surface: BackSurface
    landmarks: Landmarks
    saddle: SaddleModel
    pads: tuple[PadLayer, ...]
    settled: Settled

    @property
    def pair(self) -> str:
        """Which saddle, on which back."""
        return f"{self.saddle.label} on {self.back_label}"

    @property
    def state(self) -> str:
        """Under which load, and where along the back."""
        return f"{self.settled.case.name}, {self.settled.position}"

    @property
    def subtitle(self) -> tuple[str, str]:
        """Both, for two lines below a heading."""
        return self.pair, self.state
