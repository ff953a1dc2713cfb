"""What the page of a pack shows of change studies and shortlists."""

from collections.abc import Iterator
from html import escape

from saddlebench.exchange.change_words import headline, sentences
from saddlebench.exchange.packs.document import PackDocument
from saddlebench.exchange.packs.markup import Files, link, listed, read, rows
from saddlebench.exchange.readers import reader
from saddlebench.exchange.records import ChangeDocument, parse_document
from saddlebench.exchange.records.shortlist import PlacePart, ShortlistDocument
from saddlebench.exchange.vocabulary import said


def changes_told(document: PackDocument, files: Files) -> Iterator[str]:
    """Yield a section for each change study: its answer, sentence by sentence, with its cautions."""
    for part in document.changes:
        held = parse_document(ChangeDocument, read(files, part.version.file), part.version.file)
        study = held.study()
        first, *rest = dict.fromkeys((headline(study), *sentences(study)))
        whole = link(part.version.file, said("The whole change study, as JSON"))
        yield (
            f"<section><h2>{said('What changed')}: {escape(part.label)}</h2>"
            f"<p><strong>{escape(first)}</strong></p>{listed(map(escape, rest))}"
            f"{listed(escape(said(one)) for one in study.cautions)}<p>{whole}</p></section>"
        )


def shortlists_told(document: PackDocument, files: Files) -> Iterator[str]:
    """Yield a section for each shortlist: the saddles in their order, with what speaks for and against."""
    horses = {one.uuid: one.label for one in document.horses}
    for part in document.shortlists:
        held = parse_document(ShortlistDocument, read(files, part.version.file), part.version.file)
        early = "Stopped early: this list is partial, and better saddles may be missing from it."
        note = "" if held.complete else f"<p><strong>{said(early)}</strong></p>"
        whole = link(part.version.file, said("The whole shortlist, as JSON"))
        yield (
            f"<section><h2>{said('Saddles for')} {escape(horses[part.horse])}</h2>{note}"
            f"{''.join(map(_place, held.places))}"
            f"{listed(escape(said(one)) for one in held.cautions)}<p>{whole}</p></section>"
        )


def _place(place: PlacePart) -> str:
    facts = rows(
        (
            ("To be altered first", said(place.change) if place.change else ""),
            ("For it", "; ".join(map(said, place.speaks_for))),
            ("Against it", "; ".join(map(said, place.speaks_against))),
            ("How sure", said(place.sure)),
            ("Level", said(place.level) if place.level else ""),
            ("Cost", reader().number(f"{place.cost:.1f}")),
        )
    )
    return f"<h3>{place.rank}. {escape(place.saddle)}</h3>{facts}"
