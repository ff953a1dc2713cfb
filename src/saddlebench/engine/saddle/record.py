"""One saddle's record: what was measured on it, what was assumed, what may be altered."""

from dataclasses import dataclass, replace

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.alterable import Alterable
from saddlebench.engine.saddle.mesh import IntArray, model_from_mesh
from saddlebench.engine.saddle.model import Family, PadLayer, SaddleModel
from saddlebench.engine.saddle.numbers import SaddleNumbers, family_of, model_from_numbers
from saddlebench.engine.saddle.patch import PointCount
from saddlebench.engine.saddle.sections import UndersideSection, model_from_sections
from saddlebench.engine.saddle.shape_error import SaddleError
from saddlebench.engine.saddle.unmodelled import FlexibleTreeNumbers, TreelessNumbers
from saddlebench.engine.units import Length


@dataclass(frozen=True, slots=True, kw_only=True)
class UndersideMesh:
    """A mesh of the underside alone."""

    vertices_saddle: FloatArray
    """(v, 3) float, saddle frame [`unit`]."""
    faces: IntArray
    """(f, 3) int."""
    unit: Length


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleRecord:
    """A saddle as recorded; the numbers hold even where the underside was measured more closely."""

    label: str
    numbers: SaddleNumbers
    alterable: Alterable
    underside: tuple[UndersideSection, ...] | UndersideMesh | None = None
    """Measured underside; None: the numbers describe it."""
    pads: tuple[PadLayer, ...] = ()
    serial: str = ""
    assumed: tuple[str, ...] = ()
    """Fields that were not given and stand at their usual value."""
    notes: str = ""
    shape_error: SaddleError | None = None
    """How well its shape is known where a scan or tracings of the underside say so."""

    @property
    def family(self) -> Family:
        """Family of saddle."""
        return family_of(self.numbers)


def model_of(record: SaddleRecord, n_points: PointCount = 2000) -> SaddleModel | NotMeasured | Undetermined:
    """Return the model of a recorded saddle, from the closest measurement of its underside.

    Parameters
    ----------
    record : the saddle
    n_points : about how many bearing points, both sides together

    Returns
    -------
    SaddleModel; NotMeasured where the underside leaves too much open; Undetermined if it is not rigid

    Raises
    ------
    InputProblemsError
        With everything that is wrong with sections or mesh.
    """
    numbers = record.numbers
    if isinstance(numbers, TreelessNumbers | FlexibleTreeNumbers) or record.underside is None:
        return model_from_numbers(numbers, n_points)
    if isinstance(record.underside, UndersideMesh):
        mesh = record.underside
        made = model_from_mesh(mesh.vertices_saddle, mesh.faces, mesh.unit, numbers, n_points)
    else:
        made = model_from_sections(record.underside, numbers, n_points)
    return made if isinstance(made, NotMeasured) else replace(made, shape_error=record.shape_error)
