"""Papers for other programs: in the language that their user reads, unless the address says another."""

import io

import pypdf
import pytest
from api_cast import Caller, caller
from web_cast import Cast

SHEET = "trace-sheets/topline/letter"


@pytest.fixture
def reader(cast: Cast) -> Caller:
    return caller(cast, "reader")


def title_of(content: bytes) -> str:
    return str(pypdf.PdfReader(io.BytesIO(content)).metadata.title)


@pytest.mark.parametrize(
    ("accepted", "query", "title"),
    [
        ("", "", "Trace sheet"),
        ("de-AT, en;q=0.5", "", "Abzeichenblatt"),
        ("fr, de;q=0.9, en;q=0.8", "", "Abzeichenblatt"),
        ("fr, en;q=0.9, de;q=0.8", "", "Trace sheet"),
        ("de", "?language=en", "Trace sheet"),
        ("en", "?language=de", "Abzeichenblatt"),
        ("*; nonsense,,=", "", "Trace sheet"),
    ],
)
def test_a_paper_is_in_the_language_that_is_read(
    reader: Caller, accepted: str, query: str, title: str
) -> None:
    answer = reader.get(f"{SHEET}{query}", **({"Accept-Language": accepted} if accepted else {}))
    assert answer["Content-Type"] == "application/pdf"
    assert title_of(answer.content).startswith(title)
