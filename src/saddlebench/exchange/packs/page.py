"""The page and the note by which a pack is read without this program: no script, nothing from elsewhere."""

from collections.abc import Iterable
from html import escape

from saddlebench.engine.fit.findings import Finding
from saddlebench.exchange.packs.document import (
    BackPart,
    FilmPart,
    HorsePart,
    PackDocument,
    PhotoPart,
    SaddlePart,
    StudyPart,
)
from saddlebench.exchange.packs.keys import parse_key_line
from saddlebench.exchange.packs.markup import Files, link, listed, read, rows, table
from saddlebench.exchange.packs.page_found import changes_told, shortlists_told
from saddlebench.exchange.packs.page_work import orders_told, plans_told, visits_told
from saddlebench.exchange.phrases import SYMBOLS, confidence_of, remark_of, sentence_of, sorted_worst_first
from saddlebench.exchange.readers import Language, reader
from saddlebench.exchange.records import BackDocument, StudyDocument, parse_document
from saddlebench.exchange.retelling import retold_where_known
from saddlebench.exchange.vocabulary import said

PAGES = {Language.ENGLISH: "index.html", Language.GERMAN: "index.de.html"}
NOTES = {Language.ENGLISH: "READ-ME.txt", Language.GERMAN: "LIES-MICH.txt"}
_OTHER = {Language.ENGLISH: (Language.GERMAN, "Deutsch"), Language.GERMAN: (Language.ENGLISH, "English")}
_STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 0 auto; padding: 1rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .35rem .75rem .35rem 0; border-bottom: 1px solid; }
img, video { max-width: 100%; height: auto; background: #fff; }
figure { margin: 1rem 0; }
.photos { display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: 1rem; }
.wide { overflow-x: auto; }
.caution { border-inline-start: .3rem solid; padding-inline-start: 1rem; }
"""
_PICTURES = (".svg", ".png", ".jpg")


def index_page(document: PackDocument, files: Files) -> str:
    """Return the page that shows what is in a pack, as HTML for any browser, in the language that is spoken.

    Parameters
    ----------
    document : what the pack says of itself
    files : its files by name, as they lie in the pack
    """
    key = parse_key_line(document.sender.key)
    language = reader().language
    other, name = _OTHER[language]
    title = f"{said('Handover pack from')} {document.sender.label}"
    parts = [
        f'<p lang="{other}"><a href="{PAGES[other]}" hreflang="{other}">{name}</a></p>',
        f"<h1>{escape(title)}</h1>",
        rows(
            (
                ("Made on", document.made_at[:10]),
                ("By", document.sender.person),
                ("For", document.recipient.label if document.recipient else said("whoever has it")),
                ("Key’s fingerprint", key.fingerprint),
            )
        ),
        *_said(document),
        *(_horse(one, document, files) for one in document.horses),
        *(_saddle(one, document) for one in document.saddles),
        *(_study(one, files) for one in document.studies),
        *plans_told(document, files),
        *orders_told(document, files),
        *visits_told(document),
        *changes_told(document, files),
        *shortlists_told(document, files),
        _photos(document),
        _films(document),
        _enclosed(document),
        _cautions(document),
    ]
    return (
        f'<!doctype html>\n<html lang="{"de" if language is Language.GERMAN else "en-GB"}">'
        '<head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src 'self' file:; "
        "media-src 'self' file:; style-src 'unsafe-inline'\">"
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head>\n<body><main>\n"
        + "\n".join(part for part in parts if part)
        + "\n</main></body></html>\n"
    )


def _said(document: PackDocument) -> list[str]:
    told = []
    if document.message:
        paragraphs = "".join(
            f"<p>{escape(line)}</p>" for line in document.message.splitlines() if line.strip()
        )
        told.append(f"<section><h2>{said('What the sender writes')}</h2>{paragraphs}</section>")
    if document.work_done:
        label = {one.uuid: one.label for one in document.saddles}
        lines = [
            f"{reader().day(one.on)}{', ' + label[one.saddle] if one.saddle else ''}: {one.words}"
            for one in document.work_done
        ]
        told.append(f"<section><h2>{said('What was done')}</h2>{listed(map(escape, lines))}</section>")
    if document.questions:
        asked = listed(map(escape, document.questions))
        told.append(f"<section><h2>{said('What the sender asks')}</h2>{asked}</section>")
    return told


def _horse(horse: HorsePart, document: PackDocument, files: Files) -> str:
    facts = rows(
        (
            ("Registered name", horse.registered_name),
            ("Microchip", horse.microchip),
            ("Life number", horse.ueln),
            ("Born in", horse.born_in),
            ("Breed", horse.breed),
            ("Colour", horse.colour),
            ("Height", _amount(horse.height_cm, "cm")),
            ("Work", said(horse.work) if horse.work else ""),
            ("Discipline", horse.discipline),
            ("Rider, dressed", _amount(horse.rider_mass_kg, "kg")),
        )
    )
    backs = "".join(_back(one, files) for one in document.backs if one.horse == horse.uuid)
    return f"<section><h2>{said('Horse')}: {escape(horse.label)}</h2>{facts}{backs}</section>"


def _amount(value: float | None, unit: str) -> str:
    return f"{reader().number(f'{value:g}')} {unit}" if value else ""


def _back(back: BackPart, files: Files) -> str:
    held = parse_document(BackDocument, read(files, back.version.file), back.version.file)
    tool = held.instrument.the_one()
    facts = (
        ("Measured on", reader().day(back.measured_on)),
        ("With", tool.name),
        ("Cross-sections", len(held.stations or held.sections or ())),
        ("Coat", said(held.coat.value)),
        ("Version", back.version.number),
        ("Notes", held.notes),
    )
    readings = _readings(held)
    whole = link(back.version.file, said("Everything that was read, as JSON"))
    return f"<h3>{said('Back record')}: {escape(back.label)}</h3>{rows(facts)}{readings}<p>{whole}</p>"


def _readings(held: BackDocument) -> str:
    """Return the raw readings as a table: the numbers that everything else is made from."""
    if not held.stations:
        return ""
    told: list[list[str]] = []
    for station in held.stations:
        cells = [station.words, f"{station.distance_mm:g}"]
        cells += map(_numbers, (station.left, (station.middle,), station.right))
        told.append(cells)
    heads = (
        "Section",
        "mm behind the shoulder mark",
        "Near (left), outward",
        "Midline",
        "Off (right), outward",
    )
    words = said("Readings, in the instrument’s own divisions")
    return f"<details><summary>{words}</summary>{table(heads, told)}</details>"


def _numbers(readings: Iterable[object]) -> str:
    return " ".join(f"{one:g}" if isinstance(one, int | float) else "–" for one in readings)


def _saddle(saddle: SaddlePart, document: PackDocument) -> str:
    facts = rows(
        (
            ("Kind", said(saddle.family.replace("_", " ")) if saddle.family else ""),
            ("Maker, as recorded", saddle.maker),
            ("Number", saddle.serial),
            ("Seat", _amount(saddle.seat_size_in, "in")),
            ("Colour", saddle.colour),
            ("Made in", saddle.made_in),
        )
    )
    records = [one.version for one in document.saddle_records if one.saddle == saddle.uuid]
    links = listed(
        link(one.file, said(f"Its measured record, version {one.number}, as JSON")) for one in records
    )
    return f"<section><h2>{said('Saddle')}: {escape(saddle.label)}</h2>{facts}{links}</section>"


def _study(study: StudyPart, files: Files) -> str:
    held = parse_document(StudyDocument, read(files, study.version.file), study.version.file)
    findings = sorted_worst_first([one.finding() for one in held.put.findings])
    told = table(("Verdict", "What, its limit, and how sure"), map(_finding, findings))
    whole = link(study.version.file, said("The whole fit check, as JSON"))
    cautions = listed(escape(said(one)) for one in held.cautions)
    return (
        f"<section><h2>{said('Fit check')}: {escape(study.label)}</h2>"
        f"{told}{cautions}<p>{whole}</p></section>"
    )


def _finding(finding: Finding) -> list[str]:
    more = " ".join(filter(None, (sentence_of(finding), remark_of(finding), confidence_of(finding))))
    verdict = f"{SYMBOLS[finding.verdict]} {said(finding.verdict.value)}"
    return [verdict, more]


def _cautions(document: PackDocument) -> str:
    told = listed(escape(said(one)) for one in document.cautions)
    return f'<section class="caution"><h2>{said("Mind")}</h2>{told}</section>'


def _photos(document: PackDocument) -> str:
    told = "".join(
        f'<figure><a href="{escape(one.file)}"><img src="{escape(one.file)}" loading="lazy" '
        f'alt="{escape(_sight_words(one))}"></a><figcaption>{escape(_sight_words(one))}, '
        f"{reader().day(one.day)}</figcaption></figure>"
        for one in document.photos
    )
    return f'<section><h2>{said("Photos")}</h2><div class="photos">{told}</div></section>' if told else ""


def _films(document: PackDocument) -> str:
    told = "".join(
        f'<figure><video src="{escape(one.file)}" controls preload="none"></video>'
        f"<figcaption>{link(one.file, _sight_words(one))}, {reader().day(one.day)}</figcaption></figure>"
        for one in document.films
    )
    return f'<section><h2>{said("Films")}</h2><div class="photos">{told}</div></section>' if told else ""


def _sight_words(one: PhotoPart | FilmPart) -> str:
    kind = said("Film" if isinstance(one, FilmPart) else "Photo")
    # A practice has shots of its own, too: their names are people's words.
    shot = retold_where_known(one.shot.replace("_", " "), reader())
    return one.label or f"{shot[:1].upper()}{shot[1:]}" or kind


def _enclosed(document: PackDocument) -> str:
    pictures = [one for one in document.enclosed if one.file.startswith("drawings/")]
    others = [one for one in document.enclosed if one not in pictures]
    shown = "".join(
        f'<figure><img src="{escape(one.file)}" alt="{escape(one.words)}" loading="lazy">'
        f"<figcaption>{escape(one.words)}</figcaption></figure>"
        for one in pictures
        if one.file.endswith(_PICTURES)
    )
    links = listed(link(one.file, one.words) for one in others)
    told = f"<section><h2>{said('Drawings')}</h2>{shown}</section>" if shown else ""
    return told + (f"<section><h2>{said('Documents and files')}</h2>{links}</section>" if links else "")


def read_me(document: PackDocument) -> str:
    """Return the note that says what is what and how to check the pack, in the language that is spoken."""
    key, language = parse_key_line(document.sender.key), reader().language
    told = {
        PAGES[language]: "shows everything in any browser, without network",
        "pack.json": "says which records and files there are, and from whom",
        "records/": "backs, saddles, fit checks, plans, orders and findings as they were recorded (JSON)",
        "schemas/": "what each field of these means (JSON Schema)",
        "photos/ films/": "those that were chosen, without the place where they were taken",
        "drawings/ documents/ kit/": "where they were asked for",
    }
    lines = [
        f"{said('Handover pack from')} {document.sender.label}, {said('made on')} {document.made_at[:10]}",
        "",
        *(f"{name:27}{said(words)}" for name, words in told.items()),
        "",
        said("Lengths are mm, angles degrees, forces N, pressures kPa, masses kg."),
        "",
        said("The folder above is a bag after RFC 8493: any program for bags checks that no file changed."),
        said("The file signature.json holds an Ed25519 signature (RFC 8032) of tagmanifest-sha256.txt."),
        said("Whose key it is, the pack alone cannot tell: call the sender, compare the fingerprint."),
        "",
        f"    {key.fingerprint}",
        "",
        "saddlebench pack check FILE      saddlebench pack take FILE",
        "",
        *(said(one) for one in document.cautions),
    ]
    return "\n".join(lines) + "\n"
