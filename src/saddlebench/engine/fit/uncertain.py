"""Everything a fit check knows imperfectly apart from the back's surface, drawn together many times.

Sizes come from the marks' own errors, from the materials' spreads, and from the assumptions stated here.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.fit.measures.batch import MARKS, STRIDE_MM
from saddlebench.engine.fit.saddle_error import MODE_WORDS, MODES, error_sizes
from saddlebench.engine.fit.settings import Factors, FitMaterials
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import PadLayer, SaddleModel
from saddlebench.engine.saddle.shape_error import SaddleError

LEAST_TENSION = 0.1
"""A girth that is done up at all pulls at least this part of the usual tension."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """Spreads that no record states (assumptions)."""

    saddle: SaddleError = field(default_factory=SaddleError)
    near_off_mm: float = 1.0
    """Of a comparison of the saddle's near with its off side."""
    pad_ln_sd: float = 0.10
    """Of a pad's thickness."""
    horse_mass_ln_sd: float = 0.06
    """Of a mass from a weigh tape (common practice)."""
    rider_mass_ln_sd: float = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """`d` draws of `m` independent inputs, as standard normal numbers with names a person understands."""

    names: tuple[str, ...]
    values: FloatArray
    """(d, m) float [1]."""

    def of(self, name: str) -> FloatArray:
        """Return one input's draws (d,) [1]."""
        return self.values[:, self.names.index(name)]


TISSUE, FRICTION, SHEAR = "how soft the back is", "friction", "how easily panel and skin shear"
PANEL, GIRTH_STIFFNESS, GIRTH_TENSION = (
    "how soft the panels are",
    "stiffness of the girth",
    "tension of the girth",
)
STRIDE, HORSE_MASS, RIDER_MASS, NEAR_OFF = (
    "travel of the shoulder blade",
    "the horse's mass",
    "the rider's mass",
    "comparing the saddle's sides",
)
REGIONS = ("the withers", "the shoulder cartilage", "the back muscle", "the ribs")
MARK_WORDS = {
    "withers": "the mark of the highest withers",
    "lowest": "the mark of the lowest point",
    "last_rib": "the last-rib mark",
    "shoulder_left": "the shoulder's edge, near",
    "shoulder_right": "the shoulder's edge, off",
    "girth_groove": "the girth groove",
    "spine_strip_width": "the width of the spine strip",
}


def region_words(index: int) -> str:
    """Name the softness of one region of the back."""
    return f"how soft the back is over {REGIONS[index]}"


def pad_words(pad: PadLayer, what: str) -> str:
    """Name one property of a pad."""
    return f"{what} of {pad.name}"


def draw_inputs(count: int, seed: np.random.SeedSequence, pads: Sequence[PadLayer]) -> Inputs:
    """Draw all inputs; the first draws of a longer run are those of a shorter one with the same seed."""
    names = [MARK_WORDS[mark] for mark in MARKS]
    names += [MODE_WORDS[mode] for mode in MODES]
    names += [TISSUE, *(region_words(index) for index in range(len(REGIONS))), PANEL, FRICTION, SHEAR]
    names += [GIRTH_STIFFNESS, GIRTH_TENSION, STRIDE, HORSE_MASS, RIDER_MASS, NEAR_OFF]
    for index, pad in enumerate(pads):
        names += [
            f"{pad_words(pad, 'thickness')} ({index + 1})",
            f"{pad_words(pad, 'softness')} ({index + 1})",
        ]
    values = np.random.default_rng(seed).standard_normal((count, len(names)))
    return Inputs(names=tuple(names), values=values)


OF_SADDLE = (*MODE_WORDS.values(), PANEL, NEAR_OFF)
"""Inputs that are each saddle's own; all others are the horse's, the rider's, or the kit's."""


def with_own_saddle(inputs: Inputs, seed: np.random.SeedSequence) -> Inputs:
    """Return inputs with what is the saddle's own drawn anew: two saddles were not measured in one go."""
    own = [index for index, name in enumerate(inputs.names) if name in OF_SADDLE]
    values = inputs.values.copy()
    values[:, own] = np.random.default_rng(seed).standard_normal((len(values), len(own)))
    return replace(inputs, values=values)


def drawn_marks(inputs: Inputs, landmarks: Landmarks) -> tuple[Landmarks, ...]:
    """Return the landmarks of each draw; marks that were not felt stay so."""
    felt = {name: getattr(landmarks, name) for name in MARKS}
    moved = {
        name: mark.value_mm + mark.sd_mm * inputs.of(MARK_WORDS[name])
        for name, mark in felt.items()
        if isinstance(mark, Mark)
    }
    return tuple(
        replace(
            landmarks,
            **{name: Mark(float(values[index]), felt[name].sd_mm) for name, values in moved.items()},
        )
        for index in range(len(inputs.values))
    )


def drawn_saddle_errors(inputs: Inputs, error: SaddleError) -> FloatArray:
    """Return (d, 8) float, saddle frame [mm, rad]: errors of the saddle in the order of its modes."""
    return np.stack(
        [inputs.of(MODE_WORDS[mode]) * size for mode, size in zip(MODES, error_sizes(error), strict=True)],
        axis=1,
    )


def drawn_factors(
    inputs: Inputs, materials: FitMaterials, saddle: SaddleModel, pads: Sequence[PadLayer]
) -> tuple[Factors, ...]:
    """Return the factors on every material's stated value, log-normal but for the girth's tension."""
    grip, girth = materials.grip, materials.girth
    common = inputs.of(TISSUE)
    tissue = np.stack(
        [
            np.exp(material.ln_sd * common + materials.tissue_regional_ln_sd * inputs.of(region_words(index)))
            for index, material in enumerate(materials.tissue)
        ],
        axis=1,
    )
    softness = [f"{pad_words(pad, 'softness')} ({index + 1})" for index, pad in enumerate(pads)]
    pad_factors = np.stack(
        [_log_normal(inputs, name, pad.material) for name, pad in zip(softness, pads, strict=True)]
        or [np.zeros(0)],
        axis=1,
    ).reshape(len(inputs.values), len(pads))
    spread = girth.tension_sd_n / max(girth.tension_n, 1e-9)
    tension = np.maximum(1.0 + spread * inputs.of(GIRTH_TENSION), LEAST_TENSION)
    panel = _log_normal(inputs, PANEL, saddle.panel)
    friction = np.exp(grip.coefficient_ln_sd * inputs.of(FRICTION))
    shear = np.exp(grip.shear_ln_sd * inputs.of(SHEAR))
    stiffness = np.exp(girth.stiffness_ln_sd * inputs.of(GIRTH_STIFFNESS))
    return tuple(
        Factors(
            tissue=(float(soft[0]), float(soft[1]), float(soft[2]), float(soft[3])),
            panel=float(panel[index]),
            pads=tuple(float(one) for one in pad_factors[index]),
            friction=float(friction[index]),
            shear=float(shear[index]),
            girth_stiffness=float(stiffness[index]),
            girth_tension=float(tension[index]),
        )
        for index, soft in enumerate(tissue)
    )


def _log_normal(inputs: Inputs, name: str, material: Material) -> FloatArray:
    return np.exp(material.ln_sd * inputs.of(name))


def drawn_pads(inputs: Inputs, pads: Sequence[PadLayer], ln_sd: float) -> tuple[tuple[PadLayer, ...], ...]:
    """Return the pads of each draw, thicker or thinner as a whole."""
    if not pads:
        return ((),) * len(inputs.values)
    thicker = [
        np.exp(ln_sd * inputs.of(f"{pad_words(pad, 'thickness')} ({index + 1})"))
        for index, pad in enumerate(pads)
    ]
    drawn = []
    for index in range(len(inputs.values)):
        layers = []
        for pad, factor in zip(pads, thicker, strict=True):
            front, waist, seat, rear = (float(factor[index]) * mm for mm in pad.thickness_mm)
            layers.append(replace(pad, thickness_mm=(front, waist, seat, rear)))
        drawn.append(tuple(layers))
    return tuple(drawn)


def drawn_stride(inputs: Inputs) -> FloatArray:
    """Return (d,) float [mm]: the blade's travel, even between its teaching values."""
    low, high = STRIDE_MM
    # Φ by its logistic approximation is off by less than 1 %: far below what a teaching value is worth.
    return low + (high - low) / (1.0 + np.exp(-1.702 * inputs.of(STRIDE)))
