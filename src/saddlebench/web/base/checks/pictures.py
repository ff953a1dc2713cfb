"""Pictures of a fit check, drawn by the server: as addresses name them, and as files."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.utils.cache import patch_cache_control, patch_vary_headers

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import BRITISH, spoken
from saddlebench.web.base.checks.loading import Drawn, compressed, drawings

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.exchange.drawings import Drawing, Scene

SVG = "image/svg+xml"
NAMES = ("overview", "section", "sections", "plan", "side", "load", "findings", "doubt")
PHONE, PAGE = "phone", "page"
WIDTHS = (PHONE, PAGE)
HALT = "halt"
PUT, WORKS_TO = "where it is put", "where it works to"
PLACES = {"put": PUT, "works": WORKS_TO}


def draw(study: "FitStudy", scene: "Scene", name: str, *, width: str, s_mm: float) -> "Drawing":
    """Return one picture.

    Raises
    ------
    InputProblemsError
        If there is no such picture.
    """
    from saddlebench.exchange import drawings as drawn  # noqa: PLC0415

    width_mm = drawn.PHONE_WIDTH_MM if width == PHONE else drawn.PAGE_WIDTH_MM
    makers: dict[str, Callable[[], Drawing]] = {
        "overview": lambda: (
            drawn.back_view(scene, width_mm=width_mm)
            if width == PHONE
            else drawn.overview(scene, study.findings)
        ),
        "section": lambda: drawn.sections(
            scene, [drawn.SectionPlace(name="Section", s_mm=s_mm)], width_mm=drawn.PHONE_WIDTH_MM
        ),
        "sections": lambda: drawn.sections(scene, width_mm=width_mm),
        "plan": lambda: drawn.plan(scene, width_mm=width_mm),
        "side": lambda: drawn.side(scene, width_mm=width_mm),
        "load": lambda: drawn.line_load(scene, width_mm=width_mm),
        "doubt": lambda: _doubt(study, scene.pair, width_mm),
        "findings": lambda: drawn.findings_strip(study.findings, pair=scene.pair, width_mm=width_mm),
    }
    if name not in makers:
        msg = f"there is no picture “{name[:40]}”"
        raise input_problem(msg, f"Choose one of: {', '.join(NAMES)}.")
    return makers[name]()


def _doubt(study: "FitStudy", pair: str, width_mm: float) -> "Drawing":
    from saddlebench.exchange.doubt_words import MOST_DOUBTS, worth_telling  # noqa: PLC0415
    from saddlebench.exchange.drawings.doubt import doubt_chart  # noqa: PLC0415

    return doubt_chart(worth_telling(study.put.doubts)[:MOST_DOUBTS], pair=pair, width_mm=width_mm)


def picture(
    key: tuple[object, ...],
    study: "FitStudy",
    make_scene: "Callable[[], Scene]",
    name: str,
    *,
    width: str,
    s_mm: float = 0.0,
) -> Drawn:
    """Return one picture as SVG; `key` names the check and the state that it shows."""
    from saddlebench.exchange.drawings import as_svg  # noqa: PLC0415

    def make() -> Drawn:
        drawing = draw(study, make_scene(), name, width=width, s_mm=s_mm)
        return compressed(as_svg(drawing).encode(), SVG)

    # The words of a drawing follow the practice's vocabulary and its reader.
    words = () if (spoken() == BRITISH and reader().is_usual) else (spoken(), reader())
    return drawings.get((*key, name, width, s_mm, *words), make)


def sent(request: HttpRequest, drawn: Drawn, etag: str, *, file_name: str = "") -> HttpResponse:
    """Answer with a file, or that the browser has it already; compressed where the browser takes that.

    It is kept by the browser but asked about each time: another person at this browser gets nothing.
    """
    tag = f'W/"{etag}-{spoken()}-{reader().language}"'
    if tag in request.headers.get("If-None-Match", "").split(", "):
        return HttpResponseNotModified(headers={"ETag": tag, "Cache-Control": "private, no-cache"})
    takes = drawn.is_compressed and "gzip" in request.headers.get("Accept-Encoding", "")
    response = HttpResponse(drawn.content if takes else drawn.plain(), content_type=drawn.content_type)
    if takes:
        response["Content-Encoding"] = "gzip"
    response["ETag"] = tag
    patch_vary_headers(response, ["Accept-Encoding"])
    patch_cache_control(response, private=True, no_cache=True)
    if file_name:
        response["Content-Disposition"] = f'attachment; filename="{file_name}"'
    return response
