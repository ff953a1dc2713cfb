"""The command that writes reports: for owner, workshop, and vet or therapist."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, progress, require_free, words
from saddlebench.engine.units import Length

if TYPE_CHECKING:
    from saddlebench.report import Followed, Noted, Photo, Setting


class For(StrEnum):
    """Whom a report is for."""

    OWNER = "owner"
    WORKSHOP = "workshop"
    VET = "vet"


class In(StrEnum):
    """The language it is written in."""

    ENGLISH = "en"
    AMERICAN = "en-us"
    GERMAN = "de"


class Sheet(StrEnum):
    """The paper it is set for."""

    A4 = "a4"
    LETTER = "letter"


class Lengths(StrEnum):
    """How lengths are given."""

    MM = "mm"
    INCH = "in"


def report(
    study: Annotated[Path, typer.Argument(help="A fit check; for the vet, a change study.", readable=False)],
    output: Annotated[Path, typer.Option("--output", "-o", help="Where the PDF is written.", readable=False)],
    whom: Annotated[For, typer.Option("--for", help="Whom it is for.")] = For.OWNER,
    language: Annotated[In, typer.Option("--in", help="Language: en, en-us or de.")] = In.ENGLISH,
    lengths: Annotated[Lengths, typer.Option("--lengths", help="mm or in.")] = Lengths.MM,
    paper: Annotated[Sheet, typer.Option("--paper", help="a4 or letter.")] = Sheet.A4,
    practice: Annotated[str, typer.Option("--practice", help="Name on the letterhead.")] = "",
    lines: Annotated[
        list[str] | None,
        typer.Option("--line", help="A line below that name: address, telephone; may be given again."),
    ] = None,
    logo: Annotated[
        Path | None, typer.Option("--logo", help="Logo, PNG or JPEG; needs --practice.", readable=False)
    ] = None,
    plan: Annotated[
        Path | None,
        typer.Option("--plan", help="Alteration plan for the workshop's report.", readable=False),
    ] = None,
    noted: Annotated[
        list[str] | None,
        typer.Option(
            "--noted", help="For the vet: “what | first day | last day”, as noted; may be given again."
        ),
    ] = None,
    first_photos: Annotated[
        list[Path] | None,
        typer.Option("--first-photo", help="For the vet: a photo of the first day.", readable=False),
    ] = None,
    last_photos: Annotated[
        list[Path] | None,
        typer.Option("--last-photo", help="For the vet: a photo of the last day.", readable=False),
    ] = None,
    trend: Annotated[
        Path | None,
        typer.Option("--trend", help="For the vet: the trend over all visits (trend -o).", readable=False),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Write a report as PDF: one page for the owner, every number for the workshop, change for the vet.

    The PDF is tagged for screen readers and describes its pictures in words. Language, lengths and paper are
    the reader's: ask for them.

    \b
    Examples:
      saddlebench report bramble.fit.json -o bramble.pdf
      saddlebench report bramble.fit.json --for workshop --plan bramble.plan.json --in de -o werkstatt.pdf
      saddlebench report bramble.change.json --for vet --trend bramble.trend.json -o vet.pdf
      saddlebench report bramble.change.json --for vet --in en-us --lengths in --paper letter -o vet.pdf
    """
    with guarded("report", as_json=as_json):
        from saddlebench.exchange.vocabulary import AMERICAN, BRITISH, speaking
        from saddlebench.exchange.whole_file import write_whole

        _only_for(
            whom, plan=plan, noted=noted, photos=[*(first_photos or []), *(last_photos or [])], trend=trend
        )
        require_free(output, overwrite=overwrite)
        setting = _setting(language, lengths, paper, practice, tuple(lines or ()), logo)
        rows = tuple(_noted(one) for one in noted or [])
        photos = _photos(first_photos or [], last_photos or [])
        with progress(quiet=as_json) as show:
            show("report", 0, 1, "drawing and setting")
            with speaking(AMERICAN if language is In.AMERICAN else BRITISH):
                content = _made(study, whom, setting, plan, rows, photos, trend)
            write_whole(output, content)
            show("report", 1, 1, "done")
        if as_json:
            print_json("report", result={"written": str(output)})
        else:
            words().print(f"Written: {output}")


def _only_for(
    whom: For, *, plan: Path | None, noted: list[str] | None, photos: list[Path], trend: Path | None
) -> None:
    if plan is not None and whom is not For.WORKSHOP:
        message = "A plan goes into the workshop's report."
        raise typer.BadParameter(message, param_hint="--plan")
    if (noted or photos) and whom is not For.VET:
        message = "What was noted, and photos of both days, go into the vet's report."
        raise typer.BadParameter(message, param_hint="--noted" if noted else "--first-photo, --last-photo")
    if trend is not None and whom is not For.VET:
        message = "A trend goes into the vet's report."
        raise typer.BadParameter(message, param_hint="--trend")


def _setting(
    language: In, lengths: Lengths, paper: Sheet, practice: str, lines: tuple[str, ...], logo: Path | None
) -> "Setting":
    from saddlebench.exchange.readers import Language, Reader
    from saddlebench.report import Paper, Setting, letterhead

    if (lines or logo is not None) and not practice.strip():
        message = "A letterhead begins with the practice's name."
        raise typer.BadParameter(message, param_hint="--practice")
    return Setting(
        reader=Reader(
            language=Language.GERMAN if language is In.GERMAN else Language.ENGLISH,
            length=Length.MM if lengths is Lengths.MM else Length.INCH,
        ),
        paper=Paper.A4 if paper is Sheet.A4 else Paper.LETTER,
        letterhead=letterhead(practice, lines, logo) if practice.strip() else None,
    )


def _noted(given: str) -> "Noted":
    from saddlebench.report import Noted

    parts = [part.strip() for part in given.split("|")]
    if len(parts) != 3:
        message = f"“{given}” is not of the form “what | first day | last day”."
        raise typer.BadParameter(message, param_hint="--noted")
    return Noted(what=parts[0], earlier=parts[1], later=parts[2])


def _photos(first: list[Path], last: list[Path]) -> "tuple[Photo, ...]":
    from saddlebench.report import checked_photo

    held = []
    for is_later, paths in ((False, first), (True, last)):
        held += [
            checked_photo(path.read_bytes(), path.stem, is_later=is_later, file=str(path)) for path in paths
        ]
    return tuple(held)


def _made(
    study: Path,
    whom: For,
    setting: "Setting",
    plan: Path | None,
    noted: "tuple[Noted, ...]",
    photos: "tuple[Photo, ...]",
    trend: Path | None,
) -> bytes:
    from saddlebench.exchange.records import read_study
    from saddlebench.exchange.records.change import read_change
    from saddlebench.exchange.records.plan import read_plan
    from saddlebench.report import owner_report, vet_report, workshop_report

    if whom is For.VET:
        followed = None if trend is None else _followed(trend)
        return vet_report(read_change(study), setting, noted=noted, photos=photos, followed=followed)
    held = read_study(study)
    if whom is For.OWNER:
        return owner_report(held, setting)
    return workshop_report(held, setting, None if plan is None else read_plan(plan))


def _followed(path: Path) -> "Followed":
    from saddlebench.exchange.records.trend import read_trend
    from saddlebench.report import Followed

    held = read_trend(path)
    return Followed(trends=held.trends, odd_visits=held.odd_visits, advice=held.advice)
