"""What one row of a table says, put with what the rows before it said."""

from saddlebench.engine.back.instruments import PinComb
from saddlebench.exchange.readings.cells import Cells
from saddlebench.exchange.readings.gathering import Gathered, GatheredStation
from saddlebench.exchange.readings.header import MAX_PART, side_word
from saddlebench.exchange.readings.layout import ON_STATION, Layout

MAX_STATION = 999
MAX_REPEAT = 99


def take_row(layout: Layout, cells: Cells, gathered: Gathered) -> None:
    """Take one row: of a station, of the topline, or both."""
    side = _side(cells)
    named = cells.text("station")
    if side == "topline" or (named is not None and side_word(named[1]) == "topline"):
        _take_topline(layout, cells, gathered)
        return
    distance = layout.length_mm(cells, "distance")
    _take_height(layout, cells, distance, gathered)
    if not any(column.key in (*ON_STATION, "station") for column, _ in cells.filled):
        return
    number = _station_number(layout, cells, gathered)
    if number is None:
        return
    cells.station = number
    station = gathered.station(number, cells.whole("repeat", 0, MAX_REPEAT) or 0, cells.row)
    gathered.place(station, distance, cells.row)
    station.has_bad_distance |= distance is None and cells.text("distance") is not None
    tilt = cells.number("tilt")
    station.tilt_deg = station.tilt_deg if tilt is None else tilt
    _take_numbered(cells, station, side, gathered)
    _take_one_reading(layout, cells, station, side, gathered)
    _take_one_point(cells, station, side)


def _side(cells: Cells) -> str:
    found = cells.text("side")
    if found is None:
        return ""
    side = side_word(found[1])
    if side is None:
        cells.add(f"“{found[1][:40]}” is not a side", "Write left or near, right or off.", "side")
    return side or ""


def _take_height(layout: Layout, cells: Cells, distance_mm: float | None, gathered: Gathered) -> None:
    height = layout.length_mm(cells, "height")
    if height is not None and distance_mm is not None:
        gathered.height(distance_mm, height, cells.row)
    elif height is not None:
        cells.add("A height of the topline has no distance", "Write where it was measured.", "height")


def _station_number(layout: Layout, cells: Cells, gathered: Gathered) -> int | None:
    if cells.text("station") is not None:
        return cells.whole("station", 1, MAX_STATION)
    if layout.column("station") is None and layout.is_numbered and layout.column("side") is None:
        return len(gathered.stations) + 1
    cells.add("These readings have no station", "Write the station's number.", "station")
    return None


def _take_numbered(cells: Cells, station: GatheredStation, side: str, gathered: Gathered) -> None:
    """Take the cells of columns L1, R1, M, P1, J1, y1, z1 and their like."""
    points: dict[int, dict[str, float]] = {}
    for column, text in cells.filled:
        value = cells.parsed(column, text) if column.key == "cell" else None
        if value is None:
            continue
        if column.side in ("y", "z"):
            points.setdefault(column.part, {})[column.side] = value
        elif column.side == "topline":
            cells.add("A joint of the topline stands in a station's row", "Give it a row.", column.text)
        elif column.side == "row's side" and side not in ("left", "right"):
            cells.add("The row does not say which side it is", "Write left or right.", "side")
        else:
            own = side if column.side == "row's side" else column.side
            gathered.cell(station, own, column.part, value, cells.row)
    for part, point in sorted(points.items()):
        _take_point(cells, station, side, point, f"Point {part}")


def _take_one_reading(
    layout: Layout, cells: Cells, station: GatheredStation, side: str, gathered: Gathered
) -> None:
    """Take the reading of a long table's row."""
    value = cells.number("reading")
    if value is None:
        return
    if side == "middle":
        gathered.cell(station, "middle", 1, value, cells.row)
        return
    part = cells.whole("part", 1, MAX_PART)
    if part is None:
        if cells.text("part") is None:
            cells.add("The reading does not say of which joint or pin it is", "Write its number.")
    elif side:
        gathered.cell(station, side, part, value, cells.row)
    elif isinstance(layout.instrument, PinComb):
        gathered.cell(station, "pin", part, value, cells.row)
    else:
        cells.add("The row does not say which side it is", "Write left or right.", "side")


def _take_one_point(cells: Cells, station: GatheredStation, side: str) -> None:
    """Take the point of a tracing in a long table's row."""
    found = {key: cells.number(key) for key in ("y", "z")}
    known = {key: value for key, value in found.items() if value is not None}
    if known:
        _take_point(cells, station, side, known, "The point")


def _take_point(
    cells: Cells, station: GatheredStation, side: str, point: dict[str, float], words: str
) -> None:
    """Take a point of a tracing; without a side, y is positive to the left."""
    if len(point) < 2:
        cells.add(f"{words} has only one of y and z", "Write both, or leave both blank.")
        return
    y, z = point["y"], point["z"]
    if side not in ("left", "right"):
        side, y = ("left", y) if y >= 0.0 else ("right", -y)
    station.points.setdefault(side, []).append((y, z))


def _take_topline(layout: Layout, cells: Cells, gathered: Gathered) -> None:
    """Take a row of the topline: a height at a distance, the level, or joints of its chain."""
    distance = layout.length_mm(cells, "distance")
    if cells.text("height") is not None:
        _take_height(layout, cells, distance, gathered)
        return
    if distance is not None:
        gathered.topline_start_mm = distance
    for column, text in cells.filled:
        if column.key == "cell" and column.side in ("topline", "row's side"):
            _take_topline_joint(column.part, cells.parsed(column, text), gathered)
    level = cells.number("level")
    part = cells.text("part")
    if part is not None and part[1].lower() == "level":
        level = cells.number("reading")
    elif part is not None:
        _take_topline_joint(cells.whole("part", 1, MAX_PART), cells.number("reading"), gathered)
    if level is not None:
        gathered.topline_level_deg = level


def _take_topline_joint(part: int | None, value: float | None, gathered: Gathered) -> None:
    if part is not None and value is not None:
        gathered.topline_joints[part] = value
