"""Templates, ribs, solids and whole kits: drawn first, made beside the pages, downloaded."""

import io
import re
import uuid as uuids
import zipfile
from xml.etree import ElementTree as ET

import ezdxf
import pypdf
import pytest
from django.test import Client
from replica_cast import CHAIN, COMB, back_of
from web_cast import Cast, do_waiting

from saddlebench.practice.models import Job

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def where(own_cast: Cast) -> str:
    return f"/backs/{back_of(own_cast)}/rebuild/make/"


def made(client: Client, address: str, **chosen: object) -> str:
    """Ask for files, do the work, and return the address of what was made."""
    uuid = uuids.uuid4()
    answer = client.post(address, {"make": "yes", "form": str(uuid), **chosen})
    assert answer.status_code == 302, answer.content.decode()[:800]
    do_waiting()
    job = Job.objects.get(uuid=uuid)
    assert (job.state, job.said) == ("done", "")
    assert job.leads_to == f"/rebuild-files/{uuid}/"
    return job.leads_to


def whole(client: Client, address: str) -> tuple[str, zipfile.ZipFile]:
    answer = client.get(f"{address}all.zip")
    content = b"".join(answer.streaming_content)
    answer.close()
    return answer["Content-Disposition"], zipfile.ZipFile(io.BytesIO(content))


def test_templates_are_corrected_by_the_bars_as_measured(own_cast: Cast, where: str) -> None:
    fitter = own_cast.browser("fitter")
    plain = made(fitter, f"{where}templates/", paper="letter", forms="full")
    right = made(
        fitter,
        f"{where}templates/",
        paper="letter",
        forms="full",
        measured_across="99,4",
        measured_down="100.2",
    )
    texts = []
    for address in (plain, right):
        name, archive = whole(fitter, address)
        assert 'filename="juniper-templates-2026-05-03.zip"' in name
        (pdf,) = [one for one in archive.namelist() if one.endswith(".pdf")]
        assert pdf == "juniper-templates-2026-05-03/templates-full-letter.pdf"
        reader = pypdf.PdfReader(io.BytesIO(archive.read(pdf)))
        sides = sorted((float(reader.pages[0].mediabox.width), float(reader.pages[0].mediabox.height)))
        # US letter is 8.5 by 11 inches of 72 points (ANSI/ASME Y14.1).
        assert sides == pytest.approx([612.0, 792.0], abs=0.5)
        texts.append(reader.pages[0].extract_text())
    assert "Scale not checked" in texts[0]
    assert "99.4 % of a length across and 100.2 % down" in texts[1].replace("\n", " ")


@pytest.mark.parametrize(
    ("what", "chosen", "said"),
    [
        ("templates", {"measured_across": "97"}, "Measure both bars"),
        ("templates", {"measured_across": "50", "measured_down": "100"}, "outside 90 to 110"),
        ("templates", {"at": "here"}, "no list of distances"),
        ("templates", {"at": "5000"}, "5000"),
        ("ribs", {"board": "60"}, "outside 0.2 to 40"),
        ("ribs", {"sheet_width": "120", "sheet_height": "120"}, "does not fit on the sheet"),
        ("solid", {"bed_along": "200"}, "Give all three sides"),
        ("solid", {"bed_along": "250", "bed_across": "250", "bed_high": "80"}, "a higher bed"),
        ("kit", {"kerf": "x"}, "not a number"),
    ],
)
def test_what_cannot_be_made_is_said_beside_the_form(
    own_cast: Cast, where: str, what: str, chosen: dict[str, str], said: str
) -> None:
    fitter = own_cast.browser("fitter")
    for button in ("make", "look"):
        answer = fitter.post(f"{where}{what}/", {button: "yes", **chosen})
        page = answer.content.decode()
        assert answer.status_code == 422, page[:300]
        assert said in page.replace("&quot;", '"')
        for typed in chosen.values():
            assert f'value="{typed}"' in page
    assert not Job.objects.exists()


@pytest.mark.parametrize("what", ["templates", "ribs", "solid"])
def test_each_part_is_drawn_before_it_is_made(own_cast: Cast, where: str, what: str) -> None:
    fitter = own_cast.browser("fitter")
    page = fitter.get(f"{where}{what}/").content.decode()
    addresses = [one.replace("&amp;", "&") for one in re.findall(r'<img src="([^"]+\.svg[^"]*)"', page)]
    assert addresses
    drawn = fitter.get(addresses[0])
    assert drawn["Content-Type"] == "image/svg+xml"
    root = ET.fromstring(drawn.content)  # noqa: S314 - our own answer
    paths = list(root.iter(f"{SVG}path"))
    assert len(paths) > 3
    assert all(one.get("vector-effect") == "non-scaling-stroke" for one in paths)
    assert "style" not in drawn.content.decode()
    assert fitter.get(addresses[0].replace("/0.svg", "/999.svg")).status_code == 404


def test_ribs_are_named_by_the_horse_and_open_as_drawings(own_cast: Cast, where: str) -> None:
    fitter = own_cast.browser("fitter")
    address = made(fitter, f"{where}ribs/", board="4", sheet_width="800", sheet_height="600", kerf="0.2")
    page = fitter.get(address).content.decode()
    numbers = re.findall(r'file/(\d+)/"><strong>([^<]+)</strong>', page)
    assert {name.rsplit(".")[-1] for _, name in numbers} == {"svg", "dxf"}
    number = next(number for number, name in numbers if name.endswith(".dxf"))
    one = fitter.get(f"{address}file/{number}/")
    assert one["Content-Disposition"] == 'attachment; filename="juniper-ribs-sheet-1.dxf"'
    drawing = ezdxf.read(io.StringIO(one.content.decode()))
    assert drawing.header["$INSUNITS"] == 4
    assert "a rebuild is hard" in page.lower()
    assert fitter.get(f"{address}file/99/").status_code == 404


def test_a_solid_is_sliced_to_the_bed(own_cast: Cast, where: str) -> None:
    fitter = own_cast.browser("fitter")
    bed = {"bed_along": "400", "bed_across": "400", "bed_high": "500"}
    page = fitter.post(f"{where}solid/", {"look": "yes", **bed}).content.decode()
    said = re.search(r"(\d+) pieces, held together by dowels", page)
    assert said
    _, archive = whole(fitter, made(fitter, f"{where}solid/", **bed))
    for kind in ("3mf", "stl", "glb"):
        assert len([one for one in archive.namelist() if one.endswith(kind)]) == int(said[1])


def test_a_whole_kit_holds_everything_and_says_what_is_what(own_cast: Cast, where: str) -> None:
    fitter = own_cast.browser("fitter")
    page = fitter.get(f"{where}kit/").content.decode()
    assert page.count('name="instrument"') > 2
    address = made(fitter, f"{where}kit/", instrument=[CHAIN, COMB], paper="a3")
    name, archive = whole(fitter, address)
    assert "juniper-kit-2026-05-03.zip" in name
    folders = {one.split("/")[1] for one in archive.namelist()}
    assert folders >= {"READ-ME-FIRST.txt", "settings", "templates", "ribs", "solid"}
    assert len([one for one in archive.namelist() if "/settings/" in one and one.endswith(".pdf")]) == 2
    assert fitter.get(address).status_code == 200


def test_files_asked_for_twice_are_made_once_and_gone_files_are_not_found(own_cast: Cast, where: str) -> None:
    fitter = own_cast.browser("fitter")
    form = {"make": "yes", "form": str(uuids.uuid4()), "board": "5"}
    fitter.post(f"{where}ribs/", form)
    fitter.post(f"{where}ribs/", form)
    assert Job.objects.count() == 1
    assert fitter.get(f"/rebuild-files/{form['form']}/").status_code == 404
    assert own_cast.browser("reader").post(f"{where}ribs/", form).status_code == 403
