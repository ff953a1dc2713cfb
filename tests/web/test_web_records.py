"""Taking on, editing with two people at once, withdrawing with undo, erasing."""

import re
import uuid as uuids
from typing import Any

import pytest
from django.test import Client
from web_cast import CHIP, Cast, back_document

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Saddle
from saddlebench.practice.queries.yards import yard_page


def fields_of(html: str) -> dict[str, str]:
    """Return what a form would send if nothing were touched."""
    found = {}
    for tag in re.findall(r"<input[^>]*>", html):
        name, value = re.search(r' name="([^"]+)"', tag), re.search(r' value="([^"]*)"', tag)
        is_off = 'type="radio"' in tag and " checked" not in tag
        if name and not is_off:
            found[name[1]] = value[1] if value else ""
    found |= dict(re.findall(r'<textarea[^>]* name="([^"]+)"[^>]*>([^<]*)</textarea>', html))
    for name, inside in re.findall(r'<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>', html, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', inside)
        found[name] = chosen[1] if chosen else ""
    found.pop("csrfmiddlewaretoken", None)
    return {
        name: value for name, value in found.items() if name not in {"q", "sign-in-email", "sign-in-password"}
    }


def form_at(client: Client, path: str) -> dict[str, str]:
    return fields_of(client.get(path).content.decode())


def horse_of(cast: Cast) -> queries.HorsePage:
    return queries.horse_page(cast.actors["owner"], uuids.UUID(cast.here[Subject.HORSE]))


@pytest.mark.parametrize("who", ["owner", "fitter"])
def test_takes_on_a_horse_with_a_new_owner_and_yard(cast: Cast, who: str) -> None:
    client = cast.browser(who)
    form = form_at(client, "/horses/new/")
    given = {
        **form,
        "label": "Sorrel",
        "client.new": "Nell New",
        "yard.new": "New Yard",
        "height_cm": "15.2 hh",
    }
    answer = client.post("/horses/new/", given, follow=True)
    text = answer.content.decode()
    assert "Sorrel is taken on." in text
    assert re.search(r"Saved at \d\d:\d\d", text)
    assert "Nell New" in text
    assert "New Yard" in text
    assert "15.2 hh (157.5\N{NO-BREAK SPACE}cm)" in text


def test_a_form_sent_twice_makes_one_horse_and_one_owner(cast: Cast) -> None:
    client = cast.browser("fitter")
    given = {**form_at(client, "/horses/new/"), "label": "Twice", "client.new": "Tessa Twice"}
    first, second = client.post("/horses/new/", given), client.post("/horses/new/", given)
    assert first["Location"] == second["Location"]
    assert queries.find_horses(cast.actors["owner"], "twice").total == 1
    assert queries.find_clients(cast.actors["owner"], "Tessa").total == 1


def test_every_problem_is_shown_at_its_field_and_what_was_typed_stays(cast: Cast) -> None:
    client = cast.browser("fitter")
    given = {
        **form_at(client, "/horses/new/"),
        "label": "",
        "microchip": CHIP[:-1],
        "rider_mass_kg": "1.234",
        "born_in": "1066",
        "note": "kept <words>",
    }
    answer = client.post("/horses/new/", given)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert text.count('class="field-problem"') == 4
    assert "can be read as 1234 or as 1.234" in text
    assert "kept &lt;words&gt;" in text
    assert 'value="1.234"' in text


def test_a_chip_that_another_horse_has_is_told(cast: Cast) -> None:
    client = cast.browser("fitter")
    answer = client.post(
        "/horses/new/", {**form_at(client, "/horses/new/"), "label": "Copy", "microchip": CHIP}
    )
    assert answer.status_code == 422
    assert "is already the number of Juniper" in answer.content.decode()


def test_looking_up_an_owner_without_script_keeps_the_form(cast: Cast) -> None:
    client = cast.browser("fitter")
    given = {
        **form_at(client, "/horses/new/"),
        "label": "Half typed",
        "client.find": "wilma",
        "look_up": "client",
    }
    answer = client.post("/horses/new/", given)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="Half typed"' in text
    assert f'value="{cast.here[Subject.CLIENT]}"' in text
    assert queries.find_horses(cast.actors["owner"], "half").total == 0


def test_another_practices_owner_cannot_be_chosen(cast: Cast) -> None:
    client = cast.browser("fitter")
    given = {**form_at(client, "/horses/new/"), "label": "Sly", "client": cast.elsewhere[Subject.CLIENT]}
    answer = client.post("/horses/new/", given)
    assert answer.status_code == 422
    assert "Percy" not in answer.content.decode()


@pytest.mark.parametrize(
    ("path", "page"),
    [("/people/new/", "/people/"), ("/yards/new/", "/yards/"), ("/saddles/new/", "/saddles/")],
)
def test_takes_on_the_other_kinds(cast: Cast, path: str, page: str) -> None:
    client = cast.browser("owner")
    answer = client.post(path, {**form_at(client, path), "label": "Brand New", "holding": "stock"})
    assert answer["Location"].startswith(page)
    assert "Brand New" in client.get(page).content.decode()


def test_the_workshop_takes_on_a_saddle_without_seeing_people(cast: Cast) -> None:
    client = cast.browser("workshop")
    form = client.get("/saddles/new/").content.decode()
    assert "Owner or client" not in form
    given = {**fields_of(form), "label": "Bench saddle", "client": cast.here[Subject.CLIENT]}
    saddle = client.post("/saddles/new/", given)["Location"].strip("/").split("/")[-1]
    assert queries.saddle_page(cast.actors["owner"], uuids.UUID(saddle)).client is None


def test_only_what_was_changed_is_entered(cast: Cast) -> None:
    client, path = cast.browser("fitter"), f"/horses/{cast.here[Subject.HORSE]}/edit/"
    before = len(queries.entries_of(cast.actors["owner"], uuids.UUID(cast.here[Subject.HORSE])))
    answer = client.post(path, {**form_at(client, path), "breed": "Connemara"}, follow=True)
    assert "what you changed is kept" in answer.content.decode()
    after = queries.entries_of(cast.actors["owner"], uuids.UUID(cast.here[Subject.HORSE]))
    assert [one.field for one in after[: len(after) - before]] == ["breed"]


def test_two_people_editing_other_fields_lose_nothing(cast: Cast) -> None:
    path = f"/horses/{cast.here[Subject.HORSE]}/edit/"
    one, two = cast.browser("owner"), cast.browser("fitter")
    first, second = form_at(one, path), form_at(two, path)
    assert one.post(path, {**first, "breed": "Connemara"}).status_code == 302
    assert two.post(path, {**second, "colour": "dun"}).status_code == 302
    assert (horse_of(cast).values["breed"], horse_of(cast).values["colour"]) == ("Connemara", "dun")


def test_the_second_to_edit_a_field_is_shown_both_and_chooses(cast: Cast) -> None:
    path = f"/horses/{cast.here[Subject.HORSE]}/edit/"
    one, two = cast.browser("owner"), cast.browser("fitter")
    first, second = form_at(one, path), form_at(two, path)
    one.post(path, {**first, "breed": "Connemara"})
    answer = two.post(path, {**second, "breed": "Welsh", "colour": "dun"})
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "Orla Invented entered “Connemara”" in text
    assert 'value="Welsh"' in text
    assert (horse_of(cast).values["breed"], horse_of(cast).values["colour"]) == ("Connemara", "dun")
    again = two.post(path, fields_of(text))
    assert again.status_code == 302
    assert horse_of(cast).values["breed"] == "Welsh"
    held = [
        one for one in queries.entries_of(cast.actors["owner"], horse_of(cast).uuid) if one.outcome == "held"
    ]
    assert [one.value for one in held] == ["Welsh"]


def test_keeping_theirs_leaves_theirs(cast: Cast) -> None:
    path = f"/horses/{cast.here[Subject.HORSE]}/edit/"
    one, two = cast.browser("owner"), cast.browser("fitter")
    first, second = form_at(one, path), form_at(two, path)
    one.post(path, {**first, "breed": "Connemara"})
    text = two.post(path, {**second, "breed": "Welsh"}).content.decode()
    two.post(path, {**fields_of(text), "breed": "Connemara"})
    assert horse_of(cast).values["breed"] == "Connemara"


def test_two_people_giving_a_horse_two_owners_are_told(cast: Cast) -> None:
    actor = cast.actors["owner"]
    nell, ned = (services.take_on_client(actor, {"label": name}) for name in ("Nell", "Ned"))
    path = f"/horses/{cast.here[Subject.HORSE]}/edit/"
    one, two = cast.browser("owner"), cast.browser("fitter")
    first, second = form_at(one, path), form_at(two, path)
    assert one.post(path, {**first, "client": str(nell.uuid)}).status_code == 302
    answer = two.post(path, {**second, "client": str(ned.uuid)})
    assert answer.status_code == 409
    assert "entered “Nell”" in answer.content.decode()
    assert two.post(path, fields_of(answer.content.decode())).status_code == 302
    page = horse_of(cast)
    assert page.client is not None
    assert page.client.label == "Ned"


def test_a_bad_value_in_an_edit_keeps_the_form_and_still_notices_others(cast: Cast) -> None:
    path = f"/horses/{cast.here[Subject.HORSE]}/edit/"
    one, two = cast.browser("owner"), cast.browser("fitter")
    first, second = form_at(one, path), form_at(two, path)
    one.post(path, {**first, "breed": "Connemara"})
    answer = two.post(path, {**second, "breed": "Welsh", "born_in": "soon"})
    assert answer.status_code == 422
    assert horse_of(cast).values["breed"] == "Connemara"
    mended = two.post(path, {**fields_of(answer.content.decode()), "born_in": "2015"})
    assert mended.status_code == 409
    assert horse_of(cast).values["born_in"] == 2015


class TestOneFieldAtATime:
    """A field saves itself when it is left, and says so."""

    def send(self, cast: Cast, who: str, **given: str) -> Any:
        path = f"/records/horse/{cast.here[Subject.HORSE]}/field/"
        fields = {"breed.was": "", "breed.seen": "0", "breed.key": str(uuids.uuid4()), **given}
        return cast.browser(who).post(path, fields, headers={"HX-Request": "true"})

    def test_says_when_it_was_saved(self, cast: Cast) -> None:
        answer = self.send(cast, "fitter", breed="Connemara")
        assert answer.status_code == 200
        assert re.search(r"saved at \d\d:\d\d", answer.content.decode())
        assert horse_of(cast).values["breed"] == "Connemara"

    def test_sent_twice_counts_once(self, cast: Cast) -> None:
        key = str(uuids.uuid4())
        for _ in range(2):
            assert self.send(cast, "fitter", breed="Connemara", **{"breed.key": key}).status_code == 200
        rows = queries.entries_of(cast.actors["owner"], horse_of(cast).uuid, field="breed")
        assert len(rows) == 1

    def test_shows_what_another_entered(self, cast: Cast) -> None:
        self.send(cast, "owner", breed="Connemara")
        answer = self.send(cast, "fitter", breed="Welsh")
        text = answer.content.decode()
        assert answer.status_code == 409
        assert "Orla Invented entered “Connemara”" in text
        assert 'value="Welsh"' in text
        assert self.send(cast, "fitter", **fields_of(text)).status_code == 200
        assert horse_of(cast).values["breed"] == "Welsh"

    def test_a_bad_value_stays_typed_and_is_not_saved(self, cast: Cast) -> None:
        given = {
            "born_in": "soon",
            "born_in.was": "2014",
            "born_in.seen": "1",
            "born_in.key": str(uuids.uuid4()),
        }
        path = f"/records/horse/{cast.here[Subject.HORSE]}/field/"
        answer = cast.browser("fitter").post(path, given)
        assert answer.status_code == 422
        assert 'value="soon"' in answer.content.decode()
        assert horse_of(cast).values["born_in"] == 2014

    def test_no_field_at_all_is_not_there(self, cast: Cast) -> None:
        path = f"/records/horse/{cast.here[Subject.HORSE]}/field/"
        assert cast.browser("fitter").post(path, {"practice_id": "2"}).status_code == 404


def test_withdrawing_is_undone_from_the_next_page(cast: Cast) -> None:
    client, uuid = cast.browser("fitter"), cast.here[Subject.HORSE]
    text = client.post(f"/records/horse/{uuid}/withdraw/", follow=True).content.decode()
    assert "Juniper is withdrawn." in text
    assert f"/records/horse/{uuid}/put-back/" in text
    assert client.get(f"/horses/{uuid}/").status_code == 404
    assert "Juniper" in client.get("/withdrawn/").content.decode()
    assert client.post(f"/records/horse/{uuid}/put-back/").status_code == 302
    assert client.get(f"/horses/{uuid}/").status_code == 200
    # Said once, and not again.
    assert "is back" not in client.get("/withdrawn/").content.decode()


def test_erasing_needs_the_name_and_leaves_nothing_but_a_receipt(own_cast: Cast) -> None:
    client, uuid = own_cast.browser("owner"), own_cast.here[Subject.CLIENT]
    refused = client.post(f"/people/{uuid}/erase/", {"name": "wilma"})
    assert refused.status_code == 422
    assert client.get(f"/people/{uuid}/").status_code == 200
    done = client.post(f"/people/{uuid}/erase/", {"name": "Wilma Fernlea"})
    receipt = done.content.decode()
    assert "Receipt: a person was erased" in receipt
    assert "Wilma" not in receipt
    assert client.get(f"/people/{uuid}/").status_code == 404
    for path in ("/people/", "/horses/", "/saddles/", "/withdrawn/", "/erasures/", "/"):
        assert "Wilma" not in client.get(path).content.decode(), path


def test_versions_show_what_differed(cast: Cast) -> None:
    back = uuids.UUID(cast.here[Subject.BACK])
    services.correct_back(cast.actors["fitter"], back, back_document(71), why="read again", seen=1)
    text = cast.browser("reader").get(f"/records/back/{back}/versions/").content.decode()
    assert "read again" in text
    assert "<td>68</td><td>71</td>" in text
    timeline = cast.browser("reader").get(f"/horses/{cast.here[Subject.HORSE]}/timeline/").content.decode()
    assert "Back record, version 2" in timeline
    assert "Fitter Invented" in timeline


def test_a_fit_check_says_what_it_was_made_of(cast: Cast) -> None:
    path = f"/records/study/{cast.here[Subject.STUDY]}/versions/"
    assert "both are current" in cast.browser("reader").get(path).content.decode()
    back = uuids.UUID(cast.here[Subject.BACK])
    services.correct_back(cast.actors["fitter"], back, back_document(71), why="read again", seen=1)
    assert "a newer version exists" in cast.browser("reader").get(path).content.decode()


def test_who_entered_what_is_shown_in_words(cast: Cast) -> None:
    path = f"/records/horse/{cast.here[Subject.HORSE]}/entries/"
    text = cast.browser("fitter").get(path).content.decode()
    assert "<td>Year of birth</td>" in text
    assert "<td>2014</td>" in text
    assert cast.browser("reader").get(path).status_code == 403


def test_one_box_finds_a_horse_by_any_part_of_anything(cast: Cast) -> None:
    client = cast.browser("fitter")
    for part in ("unip", CHIP[-5:], "WILMA", "livery zz9", "brown jump", "2014"):
        assert "Juniper" in client.get("/horses/", {"q": part}).content.decode(), part
    assert "Nothing is called so" in client.get("/horses/", {"q": "no such thing"}).content.decode()
    assert "Juniper" not in cast.browser("workshop").get("/horses/", {"q": "wilma"}).content.decode()


def test_a_saddle_moves_to_stock_and_onto_another_horse(cast: Cast) -> None:
    client, saddle, horse = cast.browser("fitter"), cast.here[Subject.SADDLE], cast.here[Subject.HORSE]
    page = f"/saddles/{saddle}/"
    assert "Used on" in client.get(page).content.decode()
    client.post(f"{page}to-stock/")
    assert "In stock" in client.get(page).content.decode()
    assert queries.saddle_page(cast.actors["owner"], uuids.UUID(saddle)).horses == ()
    client.post(f"{page}used-on/", {"horse": [horse, "not-a-uuid"]})
    used = queries.saddle_page(cast.actors["owner"], uuids.UUID(saddle)).horses
    assert [str(one.uuid) for one in used] == [horse]


def test_a_yard_shows_its_horses(cast: Cast) -> None:
    page = yard_page(cast.actors["reader"], uuids.UUID(cast.here[Subject.YARD]))
    assert [one.label for one in page.horses] == ["Juniper"]


def test_members_come_and_go(cast: Cast) -> None:
    client = cast.browser("owner")
    new = {"label": "Nia New", "email": "nia@tussock.example", "password": "a-long-enough-phrase"}
    assert "no role was chosen" in client.post("/practice/members/", new).content.decode()
    assert client.post("/practice/members/", {**new, "role": "fitter"}).status_code == 302
    assert "Nia New" in client.get("/practice/members/").content.decode()
    refused = client.post(f"/practice/members/{cast.here.member}/end/")
    assert refused.status_code == 422
    assert client.post(f"/practice/members/{cast.here.member}/role/", {"role": "fitter"}).status_code == 302
    assert cast.browser("reader").get("/horses/new/").status_code == 200


def test_the_practice_is_renamed(cast: Cast) -> None:
    client = cast.browser("owner")
    given = {"label": "Tussock & Daughter", "zone": "Europe/Berlin", "vocabulary": "american"}
    assert client.post("/practice/", given).status_code == 302
    assert "Tussock &amp; Daughter" in client.get("/").content.decode()
    assert client.post("/practice/", {**given, "zone": "Mars/Olympus"}).status_code == 422


def test_a_saddle_for_a_horse_is_its_owners_used_on_it_and_measured_next(cast: Cast) -> None:
    fitter, horse = cast.browser("fitter"), cast.here[Subject.HORSE]
    offered = fitter.get(f"/horses/{horse}/").content.decode()
    assert f'href="/saddles/new/?horse={horse}"' in offered
    form = fitter.get(f"/saddles/new/?horse={horse}").content.decode()
    assert "For <strong>Juniper</strong>" in form
    assert re.search(r'name="client" value="[0-9a-f-]{36}" checked', form)
    uuid = str(uuids.uuid4())
    posted = {"form": uuid, "horse": horse, "label": "Old brown", "family": "panelled", "holding": "client"}
    for _ in range(2):
        assert fitter.post("/saddles/new/", posted)["Location"] == f"/saddles/{uuid}/measure/"
    page = queries.saddle_page(cast.actors["fitter"], uuids.UUID(uuid))
    assert [str(one.uuid) for one in page.horses] == [horse]


@pytest.mark.parametrize("named", ["x", "00000000-0000-4000-8000-000000000000"])
def test_a_saddle_is_not_taken_on_for_a_horse_that_is_not_there(cast: Cast, named: str) -> None:
    assert cast.browser("fitter").get(f"/saddles/new/?horse={named}").status_code == 404
    posted = {"form": str(uuids.uuid4()), "horse": named, "label": "Old brown", "family": "panelled"}
    before = Saddle.objects.count()
    assert cast.browser("fitter").post("/saddles/new/", posted).status_code == 404
    theirs = {**posted, "horse": cast.elsewhere[Subject.HORSE]}
    assert cast.browser("fitter").post("/saddles/new/", theirs).status_code == 404
    assert Saddle.objects.count() == before


def test_a_check_without_a_measured_saddle_says_what_comes_first_and_leads_there(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    horse = services.take_on_horse(cast.actors["fitter"], {"label": "Sorrel"}).uuid
    bare = fitter.get(f"/horses/{horse}/check/").content.decode()
    assert f'href="/measure/new/?horse={horse}"' in bare
    assert f'href="/saddles/new/?horse={horse}"' in bare
    saddle = services.take_on_saddle(cast.actors["fitter"], {"label": "Old brown", "family": "panelled"}).uuid
    services.use_saddle_on(cast.actors["fitter"], saddle, [horse])
    led = fitter.get(f"/horses/{horse}/check/").content.decode()
    assert f'href="/saddles/{saddle}/measure/"' in led
