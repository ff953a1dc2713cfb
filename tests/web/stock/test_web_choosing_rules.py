"""By what a practice chooses saddles: seen, set as a new version, refused in words, as a file, undone."""

import tomllib

import pytest
from web_cast import Cast

from saddlebench.exchange.shop.rules import settable
from saddlebench.practice.models import Practice
from saddlebench.practice.queries.choosing_rules import choosing_page, own_choosing
from saddlebench.practice.services.choosing_rules import set_choosing

AS_IT_IS = {one.name: f"{one.default:g}" for one in settable()}


def test_the_owner_sets_them_and_results_name_the_version(cast: Cast) -> None:
    owner = cast.browser("owner")
    assert (
        owner.post("/stock/rules/set/", {**AS_IT_IS, "rocking": "4,5", "width_mm": "25"}).status_code == 302
    )
    held = own_choosing(cast.actors["fitter"])
    assert held is not None
    practice = Practice.objects.get(pk=cast.actors["owner"].practice_id)
    assert held.rules.owner == held.limits.source
    assert held.rules.owner.startswith(f"{practice.label}, version 1 of ")
    assert {name.name: w for name, w in held.rules.weights.items()}["ROCKING"] == 4.5
    assert held.limits.width_mm == 25.0
    seen = cast.browser("reader").get("/stock/rules/").content.decode()
    assert "Version 1: 2 numbers of your own" in seen
    assert "Choose by these" not in seen
    file = tomllib.loads(owner.get("/stock/rules/practice-choosing.toml").content.decode())
    assert (file["weights"]["rocking"], file["limits"]["width_mm"]) == (4.5, 25)


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("rocking", "much", "not a number"),
        ("rocking", "11", "outside 0 to 10"),
        ("width_mm", "-1", "outside 0 to 200"),
        ("arch_set", "", "not a number"),
    ],
)
def test_what_cannot_be_is_said_at_its_number(cast: Cast, name: str, typed: str, said: str) -> None:
    answer = cast.browser("owner").post("/stock/rules/set/", {**AS_IT_IS, name: typed})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert said in page.split(f'id="{name}-note"')[1].split("</div>")[0].lower()
    assert own_choosing(cast.actors["owner"]) is None


def test_only_the_owner_may(cast: Cast) -> None:
    for who in ("fitter", "workshop", "reader"):
        assert cast.browser(who).post("/stock/rules/set/", AS_IT_IS).status_code == 403
        assert cast.browser(who).post("/stock/rules/default/").status_code == 403
    assert choosing_page(cast.actors["owner"]).version == 0


def test_back_to_the_defaults_is_a_version_and_the_others_stay(cast: Cast) -> None:
    owner = cast.browser("owner")
    set_choosing(cast.actors["owner"], {**AS_IT_IS, "arch_set": "3"})
    assert owner.post("/stock/rules/default/").status_code == 302
    assert own_choosing(cast.actors["owner"]) is None
    page = choosing_page(cast.actors["owner"])
    assert [(one.number, one.n_own) for one in page.versions] == [(2, 0), (1, 1)]
    assert choosing_page(cast.actors["other"]).version == 0
