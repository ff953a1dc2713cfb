"""Choosing saddles in German: every word has its German, and a list with reasons is told wholly."""

import html
import uuid as uuids
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from django.utils.translation import gettext, override
from web_cast import Cast

from saddlebench.engine.choose import CostRules
from saddlebench.engine.fit.doubt_sources import SourceKind
from saddlebench.exchange.doubt_of_order import ORDER_NOTE, order_as_json, told_of_order
from saddlebench.exchange.retelling import noting_missed
from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice import services
from saddlebench.practice.enums import ChoiceKind, Holding, Subject
from saddlebench.practice.services import StockFacts
from saddlebench.practice.services.plans import record_choice
from support.order_doubts import doubt_led_by
from support.untold import messages_of, plain_words_of

STOCK = Path(str(files("saddlebench.web"))) / "stock"
NAMES = (
    "shortlist",
    "ask_shortlist",
    "choices",
    "choice_rows",
    "takers",
    "ask_takers",
    "season",
    "ask_season",
)
TEMPLATES = tuple(STOCK / "templates" / "stock" / f"{name}.html" for name in (*NAMES, "horses"))
MODULES = (STOCK / "asking.py", STOCK / "choices.py", STOCK / "ordered.py")
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-DE,de;q=0.9,en;q=0.5"}
ENTRY = {
    "rank": 1,
    "saddle": "Dunlin (invented)",
    "cost": 0.53,
    "cost_as_it_stands": 0.93,
    "change": "set the front arch 5 mm wider; change the fill (near waist +6 mm, off rear -3 mm inside)",
    "level": "Cannot tell which is better: this or place 2, 3.",
    "for": ["Room beside the withers: fine, 20 mm (fine from 12 mm, not right below 6 mm); least room here"],
    "against": [
        "Rocking: cannot tell, 6 mm. Near the limit: 48 % of the tries agree: it lies too near the limit."
    ],
    "sure": "In 60 of 100 tries within the measuring errors it is among the best 10; "
    "85 of 100 verdicts hold, if the model holds.",
    "doubt": "Cannot be told: Level of the seat. "
    "Measure station 11 (600 mm behind the shoulder mark) again on the near side (left), and it likely can.",
    "alike": [],
}
FOUND: dict[str, Any] = {
    "complete": True,
    "ruled_out": {"front too narrow": 57},
    "not_judged": [],
    "work_words": [
        "293 saddles: 78 ruled out by a tape, 2 not to be judged.",
        "213 tried on the back, in 373 shapes: saddles with equal numbers share one.",
        "373 shapes at a first look, 160 in a quick pass, 32 in full.",
        "The quick pass may err by 1 before a saddle could be lost; here it erred by 0.18 at most.",
    ],
    "cost": {"words": list(CostRules().words)},
    "would_help": [
        "Measure station 11 again on the near side (left): 2 findings of 2 saddles could likely be told."
    ],
    "cautions": [
        "The list orders saddles by one sum; look at the findings, and try more than one on the horse."
    ],
}
DOUBT = doubt_led_by("the width of the channel (Sallow)", SourceKind.SADDLE)


@pytest.mark.parametrize("path", [*TEMPLATES, *MODULES], ids=lambda path: path.name)
def test_every_word_has_its_german(path: Path) -> None:
    with override("de"):
        assert [one for one in messages_of(path) if gettext(one) == one] == []


def test_no_plain_words_stand_in_the_templates() -> None:
    assert {path.name for path in TEMPLATES if plain_words_of(path)} == set()


def test_a_list_with_its_reasons_is_told_in_german(cast: Cast) -> None:
    fitter, actor = cast.browser("fitter"), cast.actors["fitter"]
    saddle = services.take_on_saddle(actor, {"label": "Dunlin (invented)"}, holding=Holding.STOCK)
    services.set_stock(
        actor,
        saddle.uuid,
        StockFacts(
            stock_number="D-1",
            where=Whereabouts.RACK,
            price=2950.0,
            currency="EUR",
        ),
    )
    services.put_on_trial(actor, saddle.uuid, uuids.UUID(cast.here[Subject.CLIENT]), date(2099, 6, 1))
    order = {
        "order": order_as_json([DOUBT]),
        "order_words": list(told_of_order([DOUBT])),
        "order_note": ORDER_NOTE,
    }
    chosen = record_choice(
        actor,
        ChoiceKind.SHORTLIST,
        {**FOUND, **order, "entries": [{**ENTRY, "number": str(saddle.uuid)}]},
        label="Saddles for Juniper",
        asked={"rider_mass": 70.5},
        horse_uuid=uuids.UUID(cast.here[Subject.HORSE]),
    ).uuid
    with noting_missed() as missed:
        page = html.unescape(fitter.get(f"/choices/{chosen}/", **GERMAN).content.decode())
        drawn = html.unescape(fitter.get(f"/choices/{chosen}/order.svg", **GERMAN).content.decode())
        listed = html.unescape(fitter.get("/stock/choices/", **GERMAN).content.decode())
    assert sorted(set(missed)) == []
    assert "In 60 von 100 Versuchen innerhalb der Messfehler gehört er zu den besten 10" in page
    assert "In 58 von 100 Versuchen kostet Rowan weniger als Sallow" in page
    assert "bis 1.\N{NO-BREAK SPACE}Juni 2099" in page
    assert "2.950 EUR" in page
    assert "Reiter 70,5 kg" in page
    assert "Breite des Wirbelsäulenkanals (Sallow)" in drawn
    assert "Sättel für ein Pferd" in listed
    english = fitter.get(f"/choices/{chosen}/").content.decode()
    assert "In 60 of 100 tries" in english
    assert "2,950 EUR" in english


def test_the_pages_that_ask_are_told_in_german(cast: Cast) -> None:
    fitter, horse, saddle = cast.browser("fitter"), cast.here[Subject.HORSE], cast.here[Subject.SADDLE]
    with noting_missed() as missed:
        asked = [
            html.unescape(fitter.get(address, **GERMAN).content.decode())
            for address in (f"/saddles/{saddle}/takers/", "/stock/season/", f"/horses/{horse}/shortlist/")
        ]
        refused = fitter.post(f"/horses/{horse}/shortlist/", {"rider_mass": "7"}, **GERMAN)
    assert sorted(set(missed)) == []
    assert "Wer könnte ihn brauchen?" in asked[0]
    assert "Die Saison planen" in asked[1]
    assert "Einen Sattel für" in asked[2]
    assert refused.status_code == 422
