"""The workshop's report with a plan: what is done where, by how much, and what holds the plan back."""

import pytest

from saddlebench.demo.saddles import EVERYDAY_NUMNAH
from saddlebench.engine.alter import Alteration, ShimPlace
from saddlebench.engine.alter.alteration import Shim
from saddlebench.engine.alter.limits import Binding
from saddlebench.engine.alter.policy import Aim, Policy
from saddlebench.engine.saddle.model import Zone
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.altering import work_lines
from saddlebench.exchange.readers import Language
from saddlebench.exchange.records.plan import PlanDocument
from saddlebench.exchange.retelling import noting_missed
from saddlebench.report import workshop_report
from saddlebench.report.pictures import doubt_pictures
from support.reports import NAMELESS, figures_of, fit_study, setting, text_of

EVERYTHING = Alteration(
    fill_left=Filling(inner_mm=(8.0, 0.0, -3.0, 0.0), outer_mm=(4.0, 0.0, -3.0, 12.0)),
    shims=(
        Shim(on_left=False, zone=Zone.FRONT, thickness_mm=6.0),
        Shim(on_left=False, zone=Zone.REAR, thickness_mm=4.0, stuff="gel", place=ShimPlace.IN_PAD),
    ),
    arch_mm=-5.0,
    pad=EVERYDAY_NUMNAH,
    straps=(NAMELESS, NAMELESS),
)
BINDING = (
    Binding(what="near front, inner half", limit="8 mm of wool more at most", worth=1.0),
    Binding(what="off rear", limit="no wool may be taken out", worth=0.5),
    Binding(what="front arch", limit="a moulded tree is altered by its builder only", worth=0.0),
)


def plan(alteration: Alteration, *, aim: Aim = Aim.EVEN) -> PlanDocument:
    held = fit_study()
    return PlanDocument(
        engine_version="0", inputs=held.inputs, policy=Policy(aim=aim), alteration=alteration,
        misfit_before=0.4, misfit_after=0.2, misfit_free=0.1, tries=16, binding=BINDING, changes=(),
        cautions=held.cautions,
    )  # fmt: skip


@pytest.mark.parametrize("language", Language)
def test_everything_that_may_be_altered_is_said(language: Language) -> None:
    with noting_missed() as missed:
        document = workshop_report(fit_study(), setting(language), plan(EVERYTHING))
    assert missed == []
    text = text_of(document)
    expected = {
        Language.ENGLISH: (
            "Plan, aim “even”", "near front, inner half", "felt shim", "gel shim", "front arch 5 mm narrower",
            "What holds the plan back", "New flock beds down",
            "a moulded tree is altered by its builder only",
        ),
        Language.GERMAN: (
            "Plan, Ziel „gleichmäßig“", "links vorn, innere Hälfte", "Unterlage aus Filz",
            "Unterlage aus Gel", "Kopfeisen 5 mm enger", "Was den Plan begrenzt", "Neue Wolle setzt sich",
            "einen gegossenen Baum ändert nur sein Hersteller",
        ),
    }[language]  # fmt: skip
    for words in expected:
        assert words in text
    for line in work_lines(EVERYTHING):
        assert f"{abs(line.bench_mm):.0f} mm ±{line.tolerance_bench_mm:g} mm" in text
    assert len(figures_of(document)) == 4 + len(doubt_pictures(fit_study().put.doubts))


@pytest.mark.parametrize("aim", Aim)
def test_a_plan_that_alters_nothing_says_so_with_its_aim(aim: Aim) -> None:
    with noting_missed() as missed:
        text = text_of(workshop_report(fit_study(), setting(Language.GERMAN), plan(Alteration(), aim=aim)))
    assert missed == []
    assert "Es ist nichts zu ändern." in text
    assert "Neue Wolle" not in text
