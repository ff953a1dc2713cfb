"""A practice's own limits: read from a file with every fault named, written back, used, named as its own."""

from dataclasses import replace
from functools import cache
from math import inf
from pathlib import Path

import pytest

from exchange.studies import back_record
from saddlebench.demo.saddles import EVERYDAY_NUMNAH, TOO_NARROW
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.fit.criteria import FindingName, LimitPlace
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.measures.names import MeasureName, Part
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import DEFAULT_OWNER, Levels, Verdict
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.model import Family
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.job import StudyRequest, study_of
from saddlebench.exchange.limits import OwnLimits, limit_groups, limits_text, own_limits_of, read_limits
from saddlebench.exchange.phrases import judged_in_words

F, M = FindingName, MeasureName
FILE = """
practice = "Rowan Saddlery (invented)"

[[limits]]
finding = "withers, top, rider up"
saddles = ["panelled", "bars"]
fine_from = "35,5"
borderline_from = 22

[[limits]]
finding = "load along the saddle"
part = "rear"
fine_to = 30.0
borderline_to = 40.0
"""


def _file(folder: Path, text: str) -> Path:
    path = folder / "practice-limits.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _said(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputProblemsError) as refused:
        read_limits(_file(folder, text))
    return [f"{one.where.field}: {one.what}" for one in refused.value.problems]


def test_a_file_says_which_limits_are_the_practices_own(tmp_path: Path) -> None:
    own = read_limits(_file(tmp_path, FILE))
    top = Levels(fine=(35.5, inf), borderline=(22.0, inf))
    rear = Levels(fine=(-inf, 30.0), borderline=(-inf, 40.0))
    assert own.owner == "Rowan Saddlery (invented)"
    assert dict(own.levels) == {
        **{
            LimitPlace(finding=F.WITHERS_TOP, measure=M.WITHERS_TOP, family=family): top
            for family in (Family.PANELLED, Family.BARS)
        },
        **{
            LimitPlace(finding=F.LOAD_ALONG, measure=M.THIRD_SHARE, part=Part.REAR, family=family): rear
            for family in (Family.PANELLED, Family.CUT_BACK, Family.SIDE_SADDLE)
        },
    }


def test_what_is_written_is_read_back_the_same(tmp_path: Path) -> None:
    """Every limit of the table, a little stricter, by a practice whose name has every mark in it."""
    levels = {
        place: replace(group.levels, fine=group.levels.fine)
        for group in limit_groups()
        for place in group.places
    }
    own = OwnLimits(owner='“Rowan” \\ "Elm"\n& Söhne', levels=levels)
    again = read_limits(_file(tmp_path, limits_text(own)))
    assert again.owner == own.owner
    assert dict(again.levels) == levels


def test_every_limit_of_the_default_table_can_be_set() -> None:
    covered = {place for group in limit_groups() for place in group.places}
    wanted = {
        LimitPlace(finding=row.finding, measure=limit.measure.name, part=limit.measure.part, family=family)
        for row in DEFAULT_CRITERIA.rows
        for limit in row.limits
        for family in row.families
    }
    assert covered == wanted
    assert len({group.slug for group in limit_groups()}) == len(limit_groups())


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('finding = "withers"', "limits.1.finding: the field "),
        (
            'finding = "withers, top, rider up"\nsaddles = ["panelled"]\nborderline_from = 20',
            "limits.1.fine_from: this end of the limit is missing",
        ),
        (
            (
                'finding = "withers, top, rider up"\nsaddles = ["bars"]\nfine_to = 90\n'
                "fine_from = 30\nborderline_from = 9"
            ),
            "limits.1.fine_to: this limit is open at this end",
        ),
        (
            'finding = "withers, top, rider up"\nsaddles = ["bars"]\nfine_from = 20\nborderline_from = 30',
            "limits.1: “fine” does not lie within “borderline”",
        ),
        (
            'finding = "withers, top, rider up"\nsaddles = ["bars"]\nfine_from = 3000\nborderline_from = 30',
            "limits.1.fine_from: 3000 mm is outside -500 to 500 mm",
        ),
        (
            'finding = "load along the saddle"\npart = "rear"\nfine_to = 30\nborderline_to = 140',
            "limits.1.borderline_to: 140 % is outside 0 to 100 %",
        ),
        (
            'finding = "bridging, rider up"\nfine_to = 3\nborderline_to = 5',
            "limits.1: the finding has several measures",
        ),
        (
            'finding = "withers, top, rider up"\nmeasure = "yaw"\nfine_to = 3\nborderline_to = 5',
            "limits.1: there is no such limit",
        ),
        (
            'finding = "load on the ends"\npart = "rear"\nsaddles = ["bars", "panelled"]\nfine_to = 3',
            "limits.1: there is no such limit for panelled saddles",
        ),
        ('finding = "rocking"\nfine_to = "1,250"\nborderline_to = 5', "limits.1.fine_to: the field "),
        ('finding = "rocking"\nfine_to = 1\nborderline_to = 5\nwhy = "x"', "limits.1.why: the field is not"),
        ('finding = "rocking"\nfine_to = nan\nborderline_to = 5', "limits.1.fine_to: the field must be"),
    ],
)
def test_a_fault_is_named_with_its_limit_and_field(tmp_path: Path, table: str, said: str) -> None:
    (only,) = _said(tmp_path, f'practice = "Rowan"\n[[limits]]\n{table}\n')
    assert only.startswith(said)


def test_all_faults_are_told_together_and_a_limit_stands_once(tmp_path: Path) -> None:
    one = '[[limits]]\nfinding = "rocking"\nfine_to = 8\nborderline_to = 16\n'
    broken = '[[limits]]\nfinding = "rocking"\nfine_to = 8\n'
    assert _said(tmp_path, f'practice = "Rowan"\n{one}{one}{broken}') == [
        "limits.2: this limit is stated a second time for bars, cut-back, panelled, side-saddle saddles",
        "limits.3.borderline_to: this end of the limit is missing",
    ]
    assert _said(tmp_path, one) == ["practice: the field is missing"]


@cache
def _judged_by(level: float | None) -> FitStudy:
    """Return a check of a saddle that bears too long behind, judged with an own limit of bridging."""
    place = LimitPlace(finding=F.EDGE_SHARE, measure=M.EDGE_SHARE, family=Family.PANELLED)
    levels = {} if level is None else {place: Levels(fine=(-inf, level), borderline=(-inf, level))}
    record = SaddleRecord(
        label=TOO_NARROW.label,
        numbers=TOO_NARROW,
        alterable=usual_alterations(TOO_NARROW),
        pads=(EVERYDAY_NUMNAH,),
    )
    own = OwnLimits(owner="Rowan Saddlery (invented)", levels=levels) if levels else None
    request = StudyRequest(rider=Rider(mass_kg=70.0), draws=0, own_limits=own)
    study = study_of(measured(back_record()), record, request)
    assert isinstance(study, FitStudy)
    return study


def _edge_share(study: FitStudy) -> Finding:
    return next(one for one in study.put.findings if one.name is F.EDGE_SHARE)


def test_an_own_limit_decides_and_is_named_as_the_practices_own() -> None:
    default, strict, lax = (_edge_share(_judged_by(level)) for level in (None, 0.0, 100.0))
    assert default.decided_by.limit.owner == DEFAULT_OWNER
    assert (strict.verdict, lax.verdict) == (Verdict.NOT_RIGHT, Verdict.FINE)
    # The same number, held against another limit.
    assert strict.decided_by.measure == lax.decided_by.measure == default.decided_by.measure
    assert strict.decided_by.limit.owner == "Rowan Saddlery (invented)"
    assert strict.decided_by.limit.source == "the practice's own"
    assert judged_in_words(strict.decided_by).endswith("Rowan Saddlery (invented)")
    others = [one for one in _judged_by(0.0).put.findings if one.name is not F.EDGE_SHARE]
    assert {one.decided_by.limit.owner for one in others} == {DEFAULT_OWNER}


def test_a_fit_check_tells_the_limits_it_was_judged_by() -> None:
    study = _judged_by(0.0)
    assert study.inputs.criteria_label.startswith("Rowan Saddlery (invented): own limits")
    found = own_limits_of(study)
    assert found is not None
    assert found.label == study.inputs.criteria_label
    assert found.criteria() == found.criteria()
    (held,) = found.levels.values()
    assert held == Levels(fine=(-inf, 0.0), borderline=(-inf, 0.0))
    assert own_limits_of(_judged_by(None)) is None
