"""A saddle's numbers that were typed and not recorded yet: kept on the server, each person's own."""

from test_web_capture_saddles import PANELLED, where
from web_cast import Cast

TYPED = PANELLED | {"seen": "1", "typed": "1"}


def test_what_was_typed_is_there_on_another_device(cast: Cast) -> None:
    phone, laptop = cast.browser("fitter"), cast.browser("fitter")
    kept = phone.post(f"{where(cast)}measure/picture/", TYPED | {"tree.width": "271,5"})
    assert "not recorded yet" in kept.content.decode()
    text = laptop.get(f"{where(cast)}measure/").content.decode()
    assert 'name="tree.width" value="271,5"' in text
    assert "Taken up where you left it" in text
    assert 'name="panel.channel.rear" value="7.6 cm"' in text


def test_looking_at_the_form_keeps_nothing(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    answer = fitter.post(f"{where(cast)}measure/picture/", PANELLED | {"typed": ""})
    assert "not recorded yet" not in answer.content.decode()
    assert "Taken up where" not in fitter.get(f"{where(cast)}measure/").content.decode()


def test_a_colleagues_numbers_are_offered_and_nobody_writes_over_them(cast: Cast) -> None:
    fitter, owner = cast.browser("fitter"), cast.browser("owner")
    fitter.post(f"{where(cast)}measure/picture/", TYPED | {"tree.width": "250"})
    owner.post(f"{where(cast)}measure/picture/", TYPED | {"tree.width": "290"})
    text = owner.get(f"{where(cast)}measure/").content.decode()
    assert 'name="tree.width" value="290"' in text
    offered = text.split('href="?draft=')[1].split("&amp;")[0]
    theirs = owner.get(f"{where(cast)}measure/", {"draft": offered}).content.decode()
    assert 'name="tree.width" value="250"' in theirs
    assert 'name="tree.width" value="250"' in fitter.get(f"{where(cast)}measure/").content.decode()


def test_recording_or_letting_go_ends_it(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    for last, path in ((TYPED, "measure/"), ({}, "measure/leave/")):
        fitter.post(f"{where(cast)}measure/picture/", TYPED | {"tree.width": "281"})
        assert fitter.post(f"{where(cast)}{path}", last).status_code == 302
        assert "Taken up where" not in fitter.get(f"{where(cast)}measure/").content.decode()


def test_a_form_of_nonsense_is_refused_in_words(cast: Cast) -> None:
    answer = cast.browser("fitter").post(f"{where(cast)}measure/picture/", TYPED | {"notes": "x" * 20_001})
    assert answer.status_code == 422
    assert "more words than a form" in answer.content.decode()
