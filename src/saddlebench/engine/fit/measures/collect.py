"""Gathers every measure of a pair over its states into one table."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.balance import balance_columns, rocking_column
from saddlebench.engine.fit.measures.batch import Pair, Solutions
from saddlebench.engine.fit.measures.bearing import bridge_columns, face_columns, length_columns
from saddlebench.engine.fit.measures.clearance import clearance_columns, drop_column
from saddlebench.engine.fit.measures.front import front_columns
from saddlebench.engine.fit.measures.names import Key, MeasureKey, MeasureName, PressureName
from saddlebench.engine.fit.measures.pressure import load_columns
from saddlebench.engine.fit.measures.saddle_alone import saddle_columns
from saddlebench.engine.fit.measures.table import Absent, Columns, MeasureTable
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class States:
    """The solutions of a pair that measures are read off; what was not solved says why."""

    girthed: Solutions | Undetermined
    rider_up: Solutions | Undetermined
    pommel_pressed: Solutions | Undetermined
    moving: Solutions | Undetermined
    """At the trot's peak load."""

    @property
    def count(self) -> int:
        """How many solutions each state has."""
        for one in (self.girthed, self.rider_up):
            if isinstance(one, Solutions):
                return one.sits.size
        return 1


_M, _P = MeasureName, PressureName
_READ_TOGETHER = (
    (
        load_columns,
        {
            *(_M.LEFT_SHARE, _M.EDGE_SHARE, _M.INNER_OUTER_EDGE_SHARE, _M.THIRD_SHARE, _M.END_SHARE),
            *(_M.CENTRE_OF_PRESSURE_ALONG, _M.CENTRE_OF_PRESSURE_ACROSS, _M.CONTACT_AREA, _M.SURFACE_USED),
            *(_M.PRESSURE_RATIO, _P.PEAK, _P.MEAN, _P.P99),
        },
    ),
    (clearance_columns, {_M.WITHERS_TOP, _M.WITHERS_SIDE, _M.WITHERS_DROP, _M.SPINE_HEIGHT, _M.SPINE_MARGIN}),
    (bridge_columns, {_M.BRIDGE_DEPTH, _M.BRIDGE_LENGTH}),
    (face_columns, {_M.FACE_ANGLE}),
    (
        length_columns,
        {_M.PAST_LAST_RIB, _M.LOAD_PAST_LAST_RIB, _M.REACH_AT_REST, _M.REACH_FULL_STRIDE},
    ),
)
"""What is read off one state, and the measures that come of it."""


def measure_pair(
    pair: Pair, states: States, rider_and_tack: float | Absent, *, wanted: Collection[Key] | None = None
) -> MeasureTable:
    """Return every measure of one pair in its states; see `MeasureTable`.

    Parameters
    ----------
    pair : back and saddle
    states : the solutions
    rider_and_tack : over the horse's mass [1]
    wanted : what is looked at afterwards; families of measures without any of it are left out
    """
    count = states.count
    gathered: Columns = dict(saddle_columns(pair, count))
    gathered[MeasureKey(name=MeasureName.RIDER_AND_TACK)] = (
        np.full(count, rider_and_tack) if isinstance(rider_and_tack, float) else rider_and_tack
    )
    for state in (states.girthed, states.rider_up):
        if isinstance(state, Solutions):
            gathered.update(_of_state(pair, state, wanted))
    if isinstance(states.moving, Solutions):
        gathered.update(load_columns(pair, states.moving))
    gathered.update(_between_states(pair, states, gathered))
    return _table(gathered, states, count)


def _of_state(pair: Pair, solutions: Solutions, wanted: Collection[Key] | None) -> Columns:
    columns: Columns = {}
    names = None if wanted is None else {key.name for key in wanted if key.state is solutions.state}
    if names is not None and any(key.name is MeasureName.WITHERS_DROP for key in wanted or ()):
        names.add(MeasureName.WITHERS_TOP)
    for family, measured in _READ_TOGETHER:
        if names is None or names & measured:
            columns.update(family(pair, solutions))
    columns.update(balance_columns(pair, solutions))
    if solutions.state is State.GIRTHED:
        columns.update(front_columns(pair, solutions))
    return columns


def _between_states(pair: Pair, states: States, gathered: Columns) -> Columns:
    columns: Columns = {}
    girthed, pressed = states.girthed, states.pommel_pressed
    top = MeasureName.WITHERS_TOP
    tops = (MeasureKey(name=top, state=State.GIRTHED), MeasureKey(name=top, state=State.RIDER_UP))
    if all(key in gathered for key in tops):
        columns.update(drop_column(gathered, *tops))
    rocking = MeasureKey(name=MeasureName.ROCKING, state=State.GIRTHED)
    if isinstance(girthed, Solutions) and isinstance(pressed, Solutions):
        columns.update(rocking_column(pair, girthed, pressed))
    elif isinstance(pressed, Undetermined):
        columns[rocking] = pressed
    return columns


def _table(gathered: Columns, states: States, count: int) -> MeasureTable:
    sits = {State.GIRTHED: states.girthed, State.RIDER_UP: states.rider_up, State.MOVING: states.moving}
    columns: dict[Key, FloatArray] = {}
    known: dict[Key, NDArray[np.bool_]] = {}
    absent: dict[Key, Absent] = {}
    always = np.ones(count, dtype=bool)
    for key, value in gathered.items():
        if not isinstance(value, np.ndarray):
            absent[key] = value
            continue
        state = sits.get(key.state) if key.state is not None else None
        known[key] = state.sits if isinstance(state, Solutions) else always
        if isinstance(key, MeasureKey) and key.name is MeasureName.WITHERS_DROP:
            known[key] = known[key] & _sits(states.girthed, count)
        if isinstance(key, MeasureKey) and key.name is MeasureName.ROCKING:
            known[key] = known[key] & _sits(states.pommel_pressed, count)
        columns[key] = value
    unsettled = {
        name: one.why_not
        for name, one in sits.items()
        if isinstance(one, Solutions) and one.why_not is not None
    }
    return MeasureTable(count=count, columns=columns, known=known, absent=absent, unsettled=unsettled)


def _sits(state: Solutions | Undetermined, count: int) -> NDArray[np.bool_]:
    return state.sits if isinstance(state, Solutions) else np.zeros(count, dtype=bool)
