"""The pages at a glance."""

import pytest
from web_cast import Cast

from saddlebench.practice.enums import Subject

PAGES = (
    "/",
    "/diary/",
    "/horses/",
    "/people/",
    "/yards/",
    "/saddles/",
    "/withdrawn/",
    "/crossing/",
    "/account/",
)


@pytest.mark.parametrize("path", PAGES)
def test_each_list_is_a_whole_page(cast: Cast, path: str) -> None:
    answer = cast.browser("owner").get(path)
    assert answer.status_code == 200
    assert "Tussock Saddles (invented)" in answer.content.decode()


def test_a_horse_is_shown_with_its_people(cast: Cast) -> None:
    text = cast.browser("fitter").get(f"/horses/{cast.here[Subject.HORSE]}/").content.decode()
    assert "Juniper" in text
    assert "Wilma Fernlea" in text
