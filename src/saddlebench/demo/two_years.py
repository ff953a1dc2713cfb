"""Two invented horses over two years: one trained, rested for four months, trained again; one that grew.

Both are measured every six weeks, with fresh errors each time. Beside each story stands the same back,
measured twice with nothing changed, which must stay silent.
"""

import datetime as dt
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from saddlebench.demo import saddles, shapes
from saddlebench.demo.shapes import BackShape
from saddlebench.demo.visits import Change, VisitDay, unchanged, visit
from saddlebench.engine.back.instruments import PinComb
from saddlebench.engine.back.record import Coat
from saddlebench.engine.change.posture import Posture
from saddlebench.engine.change.results import ChangeStudy
from saddlebench.engine.change.study import study_change
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.change_job import Rejudged, rejudge
from saddlebench.exchange.drawings.change_album import write_change_album
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.records import write_back, write_change

FIRST = dt.date(2024, 5, 6)
SIX_WEEKS = dt.timedelta(days=42)
STATIONS_MM = (-140.0, -80.0, -20.0, 40.0, 110.0, 190.0, 280.0, 370.0, 450.0, 530.0, 600.0)
COMB = "comb-41x10"
REST = (9, 12)
"""Visits between which the trained horse rested: sixteen to eighteen weeks."""
FOLDER = "two-years"
AGAIN, REPEATS = "same-back-again", "check-me"
SAME_VISITS = (0, 8)
STANDS_STILL = Posture(lift_mm=0.5, bend_mm=0.5, twist_deg=0.15, flesh_mm=0.3)
"""A few minutes apart a horse stands as it stood, all but."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """What happens to one invented horse."""

    name: str
    words: str
    shape: BackShape
    n_visits: int
    change_at: Callable[[int], Change]
    """What it has gained or lost by each visit, counted from 0."""
    saddle: str = ""
    """Of the demo's saddles, one that it wore all the while."""

    @property
    def label(self) -> str:
        """The name on its records."""
        return f"{self.name} (invented)"


@dataclass(frozen=True, slots=True, kw_only=True)
class StoryDone:
    """What came of one story."""

    story: Story
    folder: Path
    study: ChangeStudy
    again: ChangeStudy
    """The first back measured twice, nothing changed: silent."""
    then_and_now: tuple[Rejudged, ...]
    days: tuple[dt.date, ...]
    """Of `then_and_now`."""


def smooth_gain(depth_mm: float, s_mm: float, length_mm: float, from_midline: float, width: float) -> Change:
    """Return a gain on both sides, highest at ± an angle [rad]."""

    def gain(s: FloatArray, phi: FloatArray) -> FloatArray:
        along = np.exp(-(((s - s_mm) / length_mm) ** 2))
        across = np.exp(-(((np.abs(phi) - from_midline) / width) ** 2))
        return np.asarray(depth_mm * along * across)

    return gain


def trained(k: int) -> Change:
    """Return the muscle beside the spine at visit k: built up, lost in the rest, coming back."""
    start, end = REST
    built = min(k, start) / start
    lost = 0.9 * max(0.0, min(k, end) - start) / (end - start)
    back = 0.6 * max(0, k - end) / 5
    return smooth_gain(11.0 * (built - lost + back), 240.0, 170.0, 0.42, 0.38)


def grown(k: int) -> Change:
    """Return the youngster's growth at visit k: a spurt between the second and the sixth visit."""
    share = float(np.clip((k - 1) / 5.0, 0.0, 1.0))
    withers = smooth_gain(9.0 * share, -90.0, 120.0, 0.0, 0.35)
    behind = smooth_gain(7.0 * share, 120.0, 130.0, 0.5, 0.35)
    return lambda s, phi: withers(s, phi) + behind(s, phi)


STORIES = (
    Story(
        name="Bracken",
        words="Taken up at five and trained for a year, rested for four months, then trained again.",
        shape=shapes.PLAIN,
        n_visits=18,
        change_at=trained,
        saddle=saddles.ALL_ROUND.label,
    ),
    Story(
        name="Sorrel",
        words="A croup-high four-year-old with a growth spurt in the first summer.",
        shape=shapes.CROUP_HIGH,
        n_visits=10,
        change_at=grown,
    ),
)


def run_stories(
    output: Path, told: Callable[[Story], Callable[[int, int, str], None]]
) -> Iterator[StoryDone]:
    """Run both stories; a folder of an earlier run is replaced.

    Parameters
    ----------
    output : the demo's folder
    told : gives, for a story, what is told of its progress
    """
    for number, story in enumerate(STORIES):
        folder = output / FOLDER / story.name.lower()
        if folder.is_dir():
            shutil.rmtree(folder)
        folder.mkdir(parents=True)
        yield _run(story, folder, number, told(story))


def measured_at_visit(story: Story, k: int, seed: int, change: Change | None = None) -> MeasuredBack:
    """Return the record of visit k, its errors from a seed."""
    comb = _comb()
    day = FIRST + k * SIX_WEEKS
    on = VisitDay(day=day, coat=_coat(day), change=change or story.change_at(k))
    rng = np.random.default_rng([seed, k])
    return measured(visit(story.label, story.shape, comb, STATIONS_MM, on, rng))


def write_visits(
    story: Story, folder: Path, number: int, visits: Iterable[int], told: Callable[[int], None]
) -> list[MeasuredBack]:
    """Write the records of a story's visits, and return them measured."""
    backs = []
    for k in visits:
        told(k)
        backs.append(measured_at_visit(story, k, 100 + number))
        write_back(backs[-1].record, folder / f"{backs[-1].record.measured_on.isoformat()}.back.json")
    return backs


def write_same_back_again(story: Story, folder: Path, number: int) -> list[MeasuredBack]:
    """Write the first back as two visits measured it, nothing changed and every error fresh."""
    backs = [measured_at_visit(story, k, 200 + number, unchanged) for k in SAME_VISITS]
    for back in backs:
        path = folder / AGAIN / f"{back.record.measured_on.isoformat()}.back.json"
        path.parent.mkdir(exist_ok=True)
        write_back(back.record, path)
    return backs


def write_repeats(story: Story, folder: Path, number: int, count: int = 3) -> None:
    """Write repeats a week after the last visit: within minutes, so that the horse stands as it stood."""
    comb = _comb()
    day = FIRST + (story.n_visits - 1) * SIX_WEEKS + dt.timedelta(weeks=1)
    on = VisitDay(
        day=day,
        coat=_coat(day),
        change=story.change_at(story.n_visits - 1),
        stance_sd_deg=0.2,
        posture=STANDS_STILL,
    )
    (folder / REPEATS).mkdir(exist_ok=True)
    for k in range(count):
        rng = np.random.default_rng([300 + number, k])
        write_back(
            visit(story.label, story.shape, comb, STATIONS_MM, on, rng),
            folder / REPEATS / f"{day.isoformat()}-{k + 1}.back.json",
        )


def _comb() -> PinComb:
    comb = example_instrument(COMB)
    if not isinstance(comb, PinComb):
        msg = f"{COMB} is no comb"
        raise TypeError(msg)
    return comb


def _coat(day: dt.date) -> Coat:
    return Coat.WINTER if day.month in (11, 12, 1, 2, 3) else Coat.SUMMER


def _run(story: Story, folder: Path, number: int, told: Callable[[int, int, str], None]) -> StoryDone:
    of = story.n_visits + 3
    backs = write_visits(
        story, folder, number, range(story.n_visits), lambda k: told(k, of, f"visit {k + 1}")
    )
    told(story.n_visits, of, "comparing")
    study = study_change(backs)
    write_change(study, folder / "change.json")
    write_change_album(study, folder / "pictures", "svg")
    told(story.n_visits + 1, of, "the same back again")
    again = study_change(write_same_back_again(story, folder, number))
    write_repeats(story, folder, number)
    told(story.n_visits + 2, of, "its saddle, then and now")
    chosen = [backs[0], backs[len(backs) // 2], backs[-1]]
    worn = [one for one in saddles.SADDLES if one.label == story.saddle]
    request = StudyRequest(rider=Rider(mass_kg=70.0), draws=32)
    then_and_now = rejudge(chosen, worn, request)
    told(of, of, "done")
    return StoryDone(
        story=story,
        folder=folder,
        study=study,
        again=again,
        then_and_now=then_and_now,
        days=tuple(back.record.measured_on for back in chosen),
    )
