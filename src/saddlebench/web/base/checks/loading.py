"""Recorded fit checks as the engine's own types, and what was drawn of them: kept while they are looked at.

Everything here is named by the hash of the document that it came from, so nothing kept can be out of date.
"""

import gzip
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.studies import StudyPage
from saddlebench.practice.queries.versions import document_of
from saddlebench.practice.rules import Actor

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.exchange.drawings import Scene

_Kept = TypeVar("_Kept")
_MOST_STUDIES = 12
_MOST_DRAWN = 256


class Shelf(Generic[_Kept]):
    """Holds the latest so many things by what made them; one thread makes, the others wait for it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: OrderedDict[Hashable, _Kept] = OrderedDict()
        self._lock = threading.Lock()
        self._making = threading.RLock()

    def get(self, key: Hashable, make: Callable[[], _Kept]) -> _Kept:
        """Return what is held under a key, or make it."""
        found = self._look(key)
        if found is not None:
            return found
        with self._making:
            found = self._look(key)
            if found is None:
                found = make()
                with self._lock:
                    self._held[key] = found
                    while len(self._held) > self._most:
                        self._held.popitem(last=False)
        return found

    def held(self, key: Hashable) -> _Kept | None:
        """Return what is held under a key, if it is."""
        return self._look(key)

    def _look(self, key: Hashable) -> _Kept | None:
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
            return self._held.get(key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A drawing or file, ready to be sent; text is kept compressed."""

    content: bytes
    content_type: str
    is_compressed: bool

    def plain(self) -> bytes:
        """Return the content as it is."""
        return gzip.decompress(self.content) if self.is_compressed else self.content


def compressed(content: bytes, content_type: str) -> Drawn:
    """Return a file kept compressed; equal content is equal bytes."""
    return Drawn(content=gzip.compress(content, 6, mtime=0), content_type=content_type, is_compressed=True)


studies: "Shelf[FitStudy]" = Shelf(_MOST_STUDIES)
drawings: Shelf[Drawn] = Shelf(_MOST_DRAWN)


def study_of_run(actor: Actor, page: StudyPage) -> "FitStudy":
    """Return the fit check of the run that a page shows.

    Raises
    ------
    InputProblemsError
        If the document cannot be read by this program.
    """
    load_engine()

    def read() -> "FitStudy":
        # The engine's types load numba: seconds that only looking at a check should cost.
        from saddlebench.exchange.records import StudyDocument, parse_document  # noqa: PLC0415

        text = document_of(actor, Subject.STUDY, page.uuid, page.run.number)
        return parse_document(StudyDocument, text, page.label).study()

    return studies.get(page.run.sha256, read)


def scene_of(study: "FitStudy", case_name: str, position: str) -> "Scene":
    """Return one state of a fit check.

    Raises
    ------
    NothingToDrawError
        If the check has no such state.
    """
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.engine.fit.settled import Position  # noqa: PLC0415
    from saddlebench.exchange.drawings import Scene  # noqa: PLC0415

    scene = Scene.of_study(study, case_name, Position(position))
    if isinstance(scene, Undetermined):
        raise NothingToDrawError(scene.reason)
    return scene


class NothingToDrawError(SaddlebenchError):
    """A state was not reached, so there is nothing to draw of it."""


_loading = threading.Lock()


def load_engine() -> None:
    """Load the engine, its drawings and documents; one thread loads, others wait until it has.

    Threads that load parts of one another's packages at the same time can meet half of a package.
    """
    with _loading:
        import saddlebench.exchange.changing  # noqa: PLC0415
        import saddlebench.exchange.job  # noqa: PLC0415
        import saddlebench.exchange.records  # noqa: PLC0415
        import saddlebench.exchange.shape_view  # noqa: PLC0415
        import saddlebench.report  # noqa: F401, PLC0415


def warm_up() -> None:
    """Load the engine while a form is being filled in, so that the check starts at once."""
    threading.Thread(target=load_engine, name="saddlebench-warm-up", daemon=True).start()
