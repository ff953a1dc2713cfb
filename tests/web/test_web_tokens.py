"""The page of tokens: made within one's role, shown once, withdrawn by their maker or the owner."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from web_cast import Cast

from saddlebench.practice.enums import Role
from saddlebench.practice.models import Token
from saddlebench.practice.services.tokens import actor_of_token, make_token

PAGE = "/account/tokens/"


def test_a_token_is_made_shown_once_and_works(cast: Cast) -> None:
    browser = cast.browser("fitter")
    answer = browser.post(PAGE, {"label": "van laptop", "role": "reader", "days": "30"})
    kept = Token.objects.get()
    assert (kept.label, kept.role) == ("van laptop", "reader")
    assert kept.expires_on == timezone.now().date() + timedelta(days=30)
    secret = answer.context["made"].secret
    assert answer.content.decode().count(secret) == 1
    assert "no-store" in answer["Cache-Control"]
    assert secret not in browser.get(PAGE).content.decode()
    assert "van laptop" in browser.get(PAGE).content.decode()
    given = {"Authorization": f"Bearer {secret}"}
    assert Client().get("/api/v1/me", headers=given).json()["role"] == "reader"
    used = browser.get(PAGE).content.decode()
    assert "last used" in used
    assert "never used" not in used


def test_a_token_is_withdrawn_by_its_maker_and_by_the_owner(cast: Cast) -> None:
    for who in ("fitter", "owner"):
        made = make_token(cast.actors["fitter"], "x", Role.READER)
        assert cast.browser("reader").post(f"{PAGE}{made.token.uuid}/withdraw/").status_code == 404
        assert cast.browser("other").post(f"{PAGE}{made.token.uuid}/withdraw/").status_code == 404
        assert actor_of_token(made.secret) is not None
        assert cast.browser(who).get(f"{PAGE}{made.token.uuid}/withdraw/").status_code == 405
        assert cast.browser(who).post(f"{PAGE}{made.token.uuid}/withdraw/").status_code == 302
        assert actor_of_token(made.secret) is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"label": "", "role": "reader", "days": ""}, "needs a name"),
        ({"label": "x", "role": "king", "days": ""}, "no role was chosen"),
        ({"label": "x", "role": "reader", "days": "12"}, "no period was chosen"),
    ],
)
def test_what_cannot_be_made_is_said(cast: Cast, typed: dict[str, str], said: str) -> None:
    answer = cast.browser("fitter").post(PAGE, typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Token.objects.exists()


def test_nobody_makes_a_token_above_their_role(cast: Cast) -> None:
    answer = cast.browser("reader").post(PAGE, {"label": "x", "role": "owner", "days": ""})
    assert answer.status_code == 403
    assert not Token.objects.exists()
    shown = cast.browser("reader").get(PAGE).content.decode()
    assert 'value="reader"' in shown
    assert 'value="owner"' not in shown
