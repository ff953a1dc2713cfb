"""How an underside lies on paper: as on the bench, upside down, pommel up, near side on the right."""

from dataclasses import dataclass

from matplotlib.axes import Axes

from saddlebench.exchange.drawings.sheet import Sheet, scale_bar
from saddlebench.exchange.vocabulary import said

SCALES = (1 / 2.5, 1 / 3, 1 / 4, 1 / 5, 1 / 6, 1 / 8)
MARGIN_MM, HEAD_MM = 4.0, 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchFrame:
    """What of an underside is drawn, at which scale."""

    half_mm: float
    """To either side of the middle, on the saddle."""
    along_mm: tuple[float, float]
    """From the rear to the front, on the saddle."""
    paper_mm: float
    """The paper's width."""
    largest: float = SCALES[0]

    @property
    def scale(self) -> float:
        """The largest of the usual scales at which the whole width has room."""
        room = self.paper_mm - 2 * MARGIN_MM
        fitting = (one for one in SCALES if one <= self.largest and 2 * self.half_mm * one <= room)
        return next(fitting, SCALES[-1])

    @property
    def height_mm(self) -> float:
        """On the paper."""
        return (self.along_mm[1] - self.along_mm[0]) * self.scale

    def drawn_on(self, sheet: Sheet) -> Axes:
        """Return axes below the heading, in the saddle's mm; pommel, sides and a scale bar are named."""
        width = 2 * self.half_mm * self.scale
        axes = sheet.scaled_axes(
            (self.paper_mm - width) / 2,
            HEAD_MM,
            width,
            self.height_mm,
            scale=self.scale,
            centre=(0.0, 0.5 * (self.along_mm[0] + self.along_mm[1])),
        )
        axes.set_gid("underside")
        middle, above = self.paper_mm / 2, HEAD_MM - 3.2
        sheet.text(middle, HEAD_MM - 7.6, "▲", ha="center", size=15.0)
        sheet.text(middle, above, said("POMMEL"), ha="center", weight="bold")
        for words, side in (("OFF", -0.55), ("NEAR", 0.55)):
            at = middle + side * self.half_mm * self.scale
            sheet.text(at, above, said(words), ha="center", weight="bold", size=10.0)
        low = self.along_mm[0] + 6.0
        scale_bar(axes, 4.0 - self.half_mm, low, length_mm=100.0, scale=self.scale, name="underside")
        return axes
