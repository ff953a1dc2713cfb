"""What a practice goes by when it chooses: its own weights, sizes and hard limits, as a file (TOML or JSON).

What is left out stays as the default. The file says whose it is and which version; both stand in every result
that was made by it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from saddlebench.engine.choose import DEFAULT_LIMITS, CostRules, HardLimits
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.exchange.doors import read_settings, refused

MOST_WEIGHT = 10.0
_Weight = Annotated[float, Field(ge=0.0, le=MOST_WEIGHT)]
_Millimetres = Annotated[float, Field(ge=0.0, le=200.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoosingRules:
    """What weighs how much, what it may be off, and whose that is."""

    rules: CostRules = field(default_factory=CostRules)
    limits: HardLimits = DEFAULT_LIMITS


class _Door(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class AlteringTable(_Door):
    """What altering a saddle counts."""

    arch_set: _Weight | None = None
    flock_changed: _Weight | None = None


class LimitsTable(_Door):
    """What rules a saddle out by a tape."""

    past_last_rib_mm: _Millimetres | None = None
    bars_past_last_rib_mm: _Millimetres | None = None
    width_mm: _Millimetres | None = None
    stands_clear_mm: Annotated[float, Field(ge=20.0, le=120.0)] | None = None


class SizesTable(_Door):
    """How far seat and flap may be off the rider's size."""

    seat_most_in: Annotated[float, Field(ge=0.0, le=4.0)] | None = None
    flap_reach_mm: _Millimetres | None = None


class ChoosingFile(_Door):
    """A practice's own weights, sizes and hard limits for choosing saddles."""

    practice: Annotated[str, Field(min_length=1, max_length=200)]
    version: Annotated[str, Field(min_length=1, max_length=40)]
    """A number or a day; another one whenever anything below is changed."""
    weights: dict[FindingName, _Weight] = {}
    """What each finding weighs; 0 leaves it out."""
    altering: AlteringTable = AlteringTable()
    limits: LimitsTable = LimitsTable()
    sizes: SizesTable = SizesTable()

    @property
    def whose(self) -> str:
        """Name and version, as results name them."""
        return f"{self.practice}, version {self.version}"

    def rules(self) -> ChoosingRules:
        """Return the defaults with what this file states."""
        cost = CostRules()
        return ChoosingRules(
            rules=replace(
                cost,
                weights={**cost.weights, **self.weights},
                owner=self.whose,
                source="own weights; what is not stated stays as the default",
                **_stated(self.altering),
            ),
            limits=replace(
                DEFAULT_LIMITS,
                **_stated(self.limits),
                sizes=replace(DEFAULT_LIMITS.sizes, **_stated(self.sizes), source=self.whose),
                source=self.whose,
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Settable:
    """One number that a practice may set."""

    name: str
    group: str
    words: str
    unit: str
    low: float
    high: float
    default: float


_ALTERING = {"arch_set": "setting the front arch", "flock_changed": "changing the fill"}
_LIMITS = {
    "past_last_rib_mm": ("panels past the last-rib mark", 0.0, 200.0),
    "bars_past_last_rib_mm": ("bars past the last-rib mark", 0.0, 200.0),
    "width_mm": ("front off the back's width, beyond what its arch can be set", 0.0, 200.0),
    "stands_clear_mm": ("room above the withers at which widths are compared", 20.0, 120.0),
}
_SIZES = {
    "seat_most_in": ("seat off the rider's size", "in", 4.0),
    "flap_reach_mm": ("flap off the rider's length", "mm", 200.0),
}
WEIGHTS, ALTERING, LIMITS, SIZES = "weights", "altering", "limits", "sizes"


def settable() -> tuple[Settable, ...]:
    """Return every number that a practice may set, in the order of the file."""
    rules, limits = CostRules(), DEFAULT_LIMITS

    def one(group: str, name: str, words: str, default: float, **more: Any) -> Settable:
        held: dict[str, Any] = {"unit": "", "low": 0.0, "high": MOST_WEIGHT} | more
        return Settable(name=name, group=group, words=words, default=default, **held)

    return (
        *(one(WEIGHTS, name.name.lower(), name.value, weight) for name, weight in rules.weights.items()),
        *(one(ALTERING, name, words, getattr(rules, name)) for name, words in _ALTERING.items()),
        *(
            one(LIMITS, name, words, getattr(limits, name), unit="mm", low=low, high=high)
            for name, (words, low, high) in _LIMITS.items()
        ),
        *(
            one(SIZES, name, words, getattr(limits.sizes, name), unit=unit, high=high)
            for name, (words, unit, high) in _SIZES.items()
        ),
    )


def file_of(practice: str, version: str, stated: Mapping[str, float]) -> ChoosingFile:
    """Return the file that states some numbers, by the names of `settable`."""
    tables: dict[str, dict[str, float]] = {WEIGHTS: {}, ALTERING: {}, LIMITS: {}, SIZES: {}}
    for one in settable():
        if one.name in stated:
            name = FindingName[one.name.upper()].value if one.group == WEIGHTS else one.name
            tables[one.group][name] = stated[one.name]
    return ChoosingFile.model_validate({"practice": practice, "version": version, **tables})


def _stated(table: BaseModel) -> dict[str, Any]:
    return table.model_dump(exclude_none=True)


def read_choosing(path: Path) -> ChoosingRules:
    """Read a file of a practice's own weights, sizes and hard limits.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    try:
        return ChoosingFile.model_validate(read_settings(path)).rules()
    except ValidationError as error:
        raise refused(error, str(path)) from error


def choosing_text(held: ChoosingRules, practice: str, version: str) -> str:
    """Return weights, sizes and hard limits as a file (TOML) to be changed; every line says what it is."""
    limits, sizes, rules = held.limits, held.limits.sizes, held.rules
    lines = [
        "# What weighs how much when saddles are chosen. A weight of 0 leaves a finding out.",
        f"practice = {_quoted(practice)}",
        f"version = {_quoted(version)}",
        "",
        "[weights]",
        *(f"{_quoted(name)} = {weight:g}" for name, weight in rules.weights.items()),
        *_table("altering", {"arch_set": rules.arch_set, "flock_changed": rules.flock_changed}),
        *_table(
            "limits",
            {
                "past_last_rib_mm": limits.past_last_rib_mm,
                "bars_past_last_rib_mm": limits.bars_past_last_rib_mm,
                "width_mm": limits.width_mm,
                "stands_clear_mm": limits.stands_clear_mm,
            },
        ),
        *_table("sizes", {"seat_most_in": sizes.seat_most_in, "flap_reach_mm": sizes.flap_reach_mm}),
    ]
    return "\n".join(lines) + "\n"


def _table(name: str, values: Mapping[str, float]) -> list[str]:
    return ["", f"[{name}]", *(f"{key} = {value:g}" for key, value in values.items())]


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def choosing_schema() -> dict[str, Any]:
    """Return the published JSON Schema (draft 2020-12) of a file of own weights, sizes and limits."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **ChoosingFile.model_json_schema()}
