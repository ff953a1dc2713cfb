"""A back set on an instrument of one's own: ticked, typed in as set, told which joint to move."""

import io
import json
import re

import pypdf
import pytest
from django.test import Client
from replica_cast import CHAIN, COMB, CURVE, back_of, rebuild_of
from web_cast import Cast

from saddlebench.practice import queries
from saddlebench.practice.models import Rebuild


def ticks(page: str) -> dict[str, str]:
    return dict.fromkeys(re.findall(r'name="(tick\.[^"]+)"', page), "yes")


def asked(page: str, name: str) -> float:
    row = page[page.index(f'name="tick.{name}"') :]
    found = re.search(r'class="set-reading">([−\d.]+)', row)
    assert found
    return float(found[1].replace("−", "-"))


def name_of_the_tool(page: str) -> str:
    """Return an instrument's own name, which may hold millimetres."""
    found = re.search(r"<h1>.* on “(.*)”</h1>", page)
    assert found
    return found[1]


def begun(cast: Cast, instrument: str) -> tuple[Client, str]:
    fitter = cast.browser("fitter")
    answer = fitter.post(
        f"/backs/{back_of(cast)}/rebuild/set/", {"instrument": instrument, "tolerance": "1,5"}
    )
    assert answer.status_code == 302, answer.content.decode()[:500]
    return fitter, answer["Location"]


@pytest.mark.parametrize("instrument", [COMB, CHAIN, CURVE])
def test_a_station_ticked_as_asked_is_near_enough(cast: Cast, instrument: str) -> None:
    fitter, address = begun(cast, instrument)
    page = fitter.get(f"{address}part/s2/").content.decode()
    form = ticks(page)
    assert len(form) >= 8
    answer = fitter.post(f"{address}part/s2/", {**form, "on": "yes"})
    assert answer["Location"] == f"{address}part/s3/"
    page = fitter.get(f"{address}part/s2/").content.decode()
    assert "Near enough." in page
    assert page.count(" checked") == len(form)
    assert "1 of" not in page.split("<h1>")[0]
    overview = fitter.get(address).content.decode()
    assert "good ·" in overview
    assert "to do ·" in overview


def test_the_joint_that_is_off_is_named_and_moving_it_makes_it_good(cast: Cast) -> None:
    fitter, address = begun(cast, CHAIN)
    where = f"{address}part/s2/"
    page = fitter.get(where).content.decode()
    form, wanted = ticks(page), asked(page, "s2/near/1")
    wrong = {**form, "as.s2/near/1": f"{wanted + 4:g}"}
    said = fitter.post(where, wrong, headers={"HX-Request": "true"}).content.decode()
    assert "Not yet." in said
    move = re.search(r"Move joint 2 on the near side by −4, to ([−\d.]+)\.", said)
    assert move, said
    right = {**form, "as.s2/near/1": move[1].replace("−", "-")}
    said = fitter.post(where, right, headers={"HX-Request": "true"}).content.decode()
    assert "Near enough." in said
    assert "<html" not in said


def test_joints_that_make_up_for_each_other_are_left_alone(cast: Cast) -> None:
    fitter, address = begun(cast, CURVE)
    where = f"{address}part/s2/"
    page = fitter.get(where).content.decode()
    # A point further along the same curve is no fault, though it is not the one that was asked for.
    names = [one.removeprefix("tick.") for one in ticks(page)]
    following = re.findall(r'class="set-reading">([−\d.]+) out, ([−\d.]+) up', page)
    out, up = (one.replace("−", "-") for one in following[1])
    first = names[0].removesuffix("/out")
    form = {**ticks(page), f"as.{first}/out": out, f"as.{first}/up": up}
    said = fitter.post(where, form, headers={"HX-Request": "true"}).content.decode()
    assert "Near enough." in said


def test_what_is_no_number_is_said_and_the_rest_kept(cast: Cast) -> None:
    fitter, address = begun(cast, CHAIN)
    where = f"{address}part/s1/"
    form = ticks(fitter.get(where).content.decode())
    answer = fitter.post(where, {**form, "as.s1/near/0": "twelve"})
    assert answer.status_code == 422
    assert "joint 1, near" in answer.content.decode()
    assert 'value="twelve"' in answer.content.decode()
    assert Rebuild.objects.get().as_set == {}
    said = fitter.post(where, {**form, "as.s1/near/0": "twelve"}, headers={"HX-Request": "true"})
    assert "joint 1, near" in said.content.decode()
    held = Rebuild.objects.get().as_set
    assert "s1/near/0" not in held
    assert held["s1/near/1"] is True


def test_unticking_takes_a_setting_back(cast: Cast) -> None:
    fitter, address = begun(cast, COMB)
    where = f"{address}part/topline/"
    page = fitter.get(where).content.decode()
    fitter.post(where, ticks(page))
    assert len(Rebuild.objects.get().as_set) == len(ticks(page))
    fitter.post(where, {})
    assert Rebuild.objects.get().as_set == {}


def test_the_settings_come_as_a_sheet_and_for_machines(cast: Cast) -> None:
    back = back_of(cast)
    address = rebuild_of(cast, back, CHAIN)
    reader = cast.browser("reader")
    sheet = reader.get(f"{address}settings.pdf")
    assert sheet["Content-Disposition"].startswith('attachment; filename="juniper-settings-')
    text = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(sheet.content)).pages)
    assert "Station 1" in text
    assert "Juniper" in text
    held = json.loads(reader.get(f"{address}settings.json").content)
    page = queries.rebuild_source(cast.actors["reader"], Rebuild.objects.get().back.uuid)
    assert (held["format"], held["back_version"]) == ("saddlebench settings", page.sha256)


def test_lengths_stay_in_inches_once_chosen_and_readings_are_the_instruments(cast: Cast) -> None:
    fitter, address = begun(cast, COMB)
    in_mm = fitter.get(f"{address}part/s2/").content.decode()
    overview = fitter.get(f"{address}?lengths=in").content.decode()
    # 1.5 mm of 25.4 mm an inch.
    assert "within 0.06″ counts as set" in overview
    assert not re.search(r"\d mm\b", overview.replace(name_of_the_tool(overview), ""))
    part = fitter.get(f"{address}part/s2/").content.decode()
    assert re.search(r"\d+\.\d″ (behind|in front of) the shoulder mark", part)
    assert asked(part, "s2/near/1") == asked(in_mm, "s2/near/1")
    said = fitter.post(f"{address}part/s2/", {**ticks(part)}, headers={"HX-Request": "true"})
    assert re.search(r"Off by up to 0\.0\d+″, 0\.06″ allowed", said.content.decode())
    topline = fitter.get(f"{address}part/topline/").content.decode()
    heights = [float(one.replace("−", "-")) for one in re.findall(r'set-reading">([−\d.]+)<', topline)]
    assert max(map(abs, heights)) < 6.0
    assert "heights of the midline against the shoulder mark, inches" in topline
    assert "1.5 mm counts as set" in fitter.get(f"{address}?lengths=mm").content.decode()


def test_a_scan_cannot_be_set(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    where = f"/backs/{back_of(cast)}/rebuild/set/"
    form = fitter.get(where).content.decode()
    assert "scan" not in form.lower().split("<select")[1].split("</select>")[0]
    assert fitter.post(where, {"instrument": "no-such", "tolerance": "2"}).status_code == 404
    assert fitter.post(where, {"instrument": COMB, "tolerance": "50"}).status_code == 422


def test_the_workshop_sets_and_a_reader_only_looks(cast: Cast) -> None:
    address = rebuild_of(cast, back_of(cast))
    workshop, reader = cast.browser("workshop"), cast.browser("reader")
    page = workshop.get(f"{address}part/s1/").content.decode()
    assert workshop.post(f"{address}part/s1/", ticks(page)).status_code == 302
    assert reader.get(f"{address}part/s1/").status_code == 403
    seen = reader.get(address).content.decode()
    assert "good ·" in seen
    assert "/part/" not in seen
    assert workshop.post(f"{address}away/").status_code == 302
    assert reader.get(address).status_code == 404
