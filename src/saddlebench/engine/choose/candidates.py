"""What is chosen between, and for whom: saddles that could be tried, a back, a rider."""

from dataclasses import dataclass, field

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.surface import BackSurface, EstimatedBack
from saddlebench.engine.choose.rider_size import RiderSize
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.settings import FitMaterials
from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.record import SaddleRecord

SEAT_NOT_RECORDED = NotMeasured("the size of the seat is not recorded")
FLAP_NOT_RECORDED = NotMeasured("the length of the flap is not recorded")


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One saddle that could be tried."""

    key: str
    """Unique within a stock; results name saddles by it."""
    record: SaddleRecord
    seat_in: float | NotMeasured = SEAT_NOT_RECORDED
    """Size of the seat as sold [inches]."""
    flap_mm: float | NotMeasured = FLAP_NOT_RECORDED
    """From the stirrup bar to the lower edge of the flap."""

    @property
    def label(self) -> str:
        """Name people call it by."""
        return self.record.label


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One horse and rider that a saddle is wanted for."""

    key: str = ""
    """Unique within a season."""
    label: str
    surface: BackSurface
    landmarks: Landmarks
    rider: Rider
    rider_size: RiderSize = field(default_factory=RiderSize)
    horse: Horse = field(default_factory=Horse)
    pads: tuple[PadLayer, ...] | None = None
    """Pads from the saddle down, the same under every saddle; None: those of each saddle's record."""
    materials: FitMaterials = field(default_factory=FitMaterials)
    estimated: EstimatedBack | None = None
    """The back with how sure it is; without it nothing is said of confidence."""
    own_errors: ErrorsUsed | None = None
    """Own errors that the back went by; None: those that its instrument states."""
