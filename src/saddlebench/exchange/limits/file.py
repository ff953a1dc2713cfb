"""A file of a practice's own limits, TOML or JSON: whose they are, and one table for each limit."""

from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.fit.criteria import FindingName, LimitPlace
from saddlebench.engine.fit.measures.names import MeasureName, Part
from saddlebench.engine.fit.verdicts import Levels
from saddlebench.engine.saddle.model import Family
from saddlebench.engine.units import parse_number
from saddlebench.exchange.doors import read_settings, refused
from saddlebench.exchange.limits.groups import ENDS, LimitGroup, closed_ends, levels_of, limit_groups
from saddlebench.exchange.limits.own import OwnLimits


class _Door(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def _number(given: object) -> object:
    """Let a number with a decimal comma in quotes stand for one."""
    if not isinstance(given, str):
        return given
    read = parse_number(given, Where())
    if isinstance(read, Problem):
        raise ValueError(read.what)  # noqa: TRY004 (only a ValueError becomes a field's fault)
    return read


End = Annotated[float, BeforeValidator(_number, json_schema_input_type=float | str)] | None


class LimitTable(_Door):
    """One limit: which, for which saddles, and its two ranges, ends included; an open end is left out."""

    finding: FindingName
    measure: MeasureName | None = None
    """Needed where the finding has several."""
    part: Part = Part.WHOLE
    saddles: Annotated[list[Family], Field(min_length=1)] | None = None
    """Families of saddle; left out: every family that the finding has this limit for."""
    fine_from: End = None
    fine_to: End = None
    borderline_from: End = None
    borderline_to: End = None


class LimitsFile(_Door):
    """A practice's own limits."""

    practice: Annotated[str, Field(min_length=1, max_length=200)]
    limits: Annotated[list[LimitTable], Field(max_length=1000)] = []


def read_limits(path: Path) -> OwnLimits:
    """Read a file of a practice's own limits.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the limit and field it lies in.
    OSError
        If the file cannot be opened.
    """
    file = str(path)
    try:
        held = LimitsFile.model_validate(read_settings(path))
    except ValidationError as error:
        raise refused(error, file) from error
    problems: list[Problem] = []
    levels: dict[LimitPlace, Levels] = {}
    for number, table in enumerate(held.limits, start=1):
        where = Where(file=file, field=f"limits.{number}")
        try:
            stated = _stated(table, where)
        except InputProblemsError as error:
            problems += error.problems
            continue
        twice = sorted({place.family for place in stated if place in levels})
        if twice:
            what = f"this limit is stated a second time for {', '.join(twice)} saddles"
            problems.append(Problem(what=what, cure="Keep one of the two.", where=where))
        levels |= stated
    if problems:
        raise InputProblemsError(problems)
    return OwnLimits(owner=held.practice, levels=levels)


def _stated(table: LimitTable, where: Where) -> dict[LimitPlace, Levels]:
    wanted = set(table.saddles or Family)
    groups = [
        one
        for one in limit_groups()
        if one.finding is table.finding
        and table.measure in (None, one.key.name)
        and table.part is one.key.part
        and wanted & set(one.families)
    ]
    _refuse_unclear(groups, table, where)
    ends = {name: getattr(table, name) for name in ENDS}
    levels: dict[LimitPlace, Levels] = {}
    for group in groups:
        own = levels_of(group, ends, where)
        levels |= {place: own for place in group.places if place.family in wanted}
    return levels


def _refuse_unclear(groups: list[LimitGroup], table: LimitTable, where: Where) -> None:
    of_finding = [one for one in limit_groups() if one.finding is table.finding]
    if not groups:
        known = "; ".join(dict.fromkeys(_named(one) for one in of_finding))
        what = "there is no such limit"
        raise InputProblemsError([Problem(what=what, cure=f"It may be: {known}.", where=where)])
    measures = list(dict.fromkeys(one.key.name for one in groups))
    if len(measures) > 1:
        what = "the finding has several measures"
        cure = f"Add measure = one of: {', '.join(f'“{one}”' for one in measures)}."
        raise InputProblemsError([Problem(what=what, cure=cure, where=where)])
    missing = set(table.saddles or ()) - {family for one in groups for family in one.families}
    if missing:
        what = f"there is no such limit for {', '.join(sorted(missing))} saddles"
        raise InputProblemsError([Problem(what=what, cure="Leave them out.", where=where)])


def _named(group: LimitGroup) -> str:
    part = f", part “{group.key.part}”" if group.key.part is not Part.WHOLE else ""
    return f"“{group.key.name}”{part}, for {', '.join(group.families)}"


def limits_text(own: OwnLimits) -> str:
    """Return a practice's own limits as its file (TOML) holds them; limits equal for families stand once."""
    tables: dict[tuple[LimitGroup, Levels], list[Family]] = {}
    for group in limit_groups():
        for place in group.places:
            if place in own.levels:
                tables.setdefault((group, own.levels[place]), []).append(place.family)
    lines = [f"practice = {_quoted(own.owner)}"]
    for (group, levels), families in tables.items():
        lines += ["", "[[limits]]", f"finding = {_quoted(group.finding)}"]
        lines.append(f"measure = {_quoted(group.key.name)}  # {group.unit.symbol}")
        if group.key.part is not Part.WHOLE:
            lines.append(f"part = {_quoted(group.key.part)}")
        lines.append(f"saddles = [{', '.join(_quoted(one) for one in families)}]")
        lines += [f"{name} = {float(value)!r}" for name, value in closed_ends(levels).items()]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    escaped = "".join(
        f"\\u{ord(one):04x}" if ord(one) < 0x20 or ord(one) == 0x7F else one
        for one in text.replace("\\", "\\\\").replace('"', '\\"')
    )
    return f'"{escaped}"'


def limits_schema() -> dict[str, Any]:
    """Return the published JSON Schema (draft 2020-12) of a file of own limits."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **LimitsFile.model_json_schema()}
