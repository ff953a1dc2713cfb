"""The page and the note by which a pack is read without this program: no script, nothing from elsewhere."""

from collections.abc import Iterable, Mapping
from html import escape
from pathlib import Path

from saddlebench.engine.fit.findings import Finding
from saddlebench.exchange.packs.document import BackPart, HorsePart, PackDocument, SaddlePart, StudyPart
from saddlebench.exchange.packs.keys import parse_key_line
from saddlebench.exchange.phrases import SYMBOLS, confidence_of, remark_of, sentence_of, sorted_worst_first
from saddlebench.exchange.records import BackDocument, StudyDocument, parse_document

Files = Mapping[str, bytes | Path]
_STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 0 auto; padding: 1rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .35rem .75rem .35rem 0; border-bottom: 1px solid; }
img { max-width: 100%; height: auto; background: #fff; }
figure { margin: 1rem 0; }
.photos { display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: 1rem; }
.wide { overflow-x: auto; }
.caution { border-inline-start: .3rem solid; padding-inline-start: 1rem; }
"""
_PICTURES = (".svg", ".png", ".jpg")


def _read(files: Files, name: str) -> str:
    content = files[name]
    return (content.read_bytes() if isinstance(content, Path) else content).decode("utf-8")


def _rows(rows: Iterable[tuple[str, object]]) -> str:
    told = "".join(
        f'<tr><th scope="row">{escape(name)}</th><td>{escape(str(value))}</td></tr>'
        for name, value in rows
        if value not in ("", None)
    )
    return f'<div class="wide"><table>{told}</table></div>' if told else ""


def _link(file: str, words: str) -> str:
    return f'<a href="{escape(file)}">{escape(words)}</a>'


def _listed(words: Iterable[str]) -> str:
    told = "".join(f"<li>{one}</li>" for one in words)
    return f"<ul>{told}</ul>" if told else ""


def index_page(document: PackDocument, files: Files) -> str:
    """Return the page that shows what is in a pack, as HTML for any browser.

    Parameters
    ----------
    document : what the pack says of itself
    files : its files by name, as they lie in the pack
    """
    key = parse_key_line(document.sender.key)
    title = f"Handover pack from {document.sender.label}"
    parts = [
        f"<h1>{escape(title)}</h1>",
        _rows(
            (
                ("Made on", document.made_at[:10]),
                ("By", document.sender.person),
                ("For", document.recipient.label if document.recipient else "whoever has it"),
                ("Key’s fingerprint", key.fingerprint),
            )
        ),
        *_said(document),
        *(_horse(one, document, files) for one in document.horses),
        *(_saddle(one, document) for one in document.saddles),
        *(_study(one, files) for one in document.studies),
        _photos(document),
        _enclosed(document),
        f'<section class="caution"><h2>Mind</h2>{_listed(map(escape, document.cautions))}</section>',
    ]
    return (
        '<!doctype html>\n<html lang="en-GB"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src 'self' file:; "
        "style-src 'unsafe-inline'\">"
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
        told.append(f"<section><h2>What the sender writes</h2>{paragraphs}</section>")
    if document.work_done:
        label = {one.uuid: one.label for one in document.saddles}
        rows = [
            f"{one.on.isoformat()}{', ' + label[one.saddle] if one.saddle else ''}: {one.words}"
            for one in document.work_done
        ]
        told.append(f"<section><h2>What was done</h2>{_listed(map(escape, rows))}</section>")
    if document.questions:
        asked = _listed(map(escape, document.questions))
        told.append(f"<section><h2>What the sender asks</h2>{asked}</section>")
    return told


def _horse(horse: HorsePart, document: PackDocument, files: Files) -> str:
    facts = _rows(
        (
            ("Registered name", horse.registered_name),
            ("Microchip", horse.microchip),
            ("Life number", horse.ueln),
            ("Born in", horse.born_in),
            ("Breed", horse.breed),
            ("Colour", horse.colour),
            ("Height", f"{horse.height_cm:g} cm" if horse.height_cm else ""),
            ("Work", horse.work),
            ("Discipline", horse.discipline),
            ("Rider, dressed", f"{horse.rider_mass_kg:g} kg" if horse.rider_mass_kg else ""),
        )
    )
    backs = "".join(_back(one, files) for one in document.backs if one.horse == horse.uuid)
    return f"<section><h2>Horse: {escape(horse.label)}</h2>{facts}{backs}</section>"


def _back(back: BackPart, files: Files) -> str:
    held = parse_document(BackDocument, _read(files, back.version.file), back.version.file)
    tool = held.instrument.the_one()
    rows = (
        ("Measured on", back.measured_on.isoformat()),
        ("With", tool.name),
        ("Cross-sections", len(held.stations or held.sections or ())),
        ("Coat", held.coat.value),
        ("Version", back.version.number),
        ("Notes", held.notes),
    )
    readings = _readings(held)
    link = _link(back.version.file, "Everything that was read, as JSON")
    return f"<h3>Back record: {escape(back.label)}</h3>{_rows(rows)}{readings}<p>{link}</p>"


def _readings(held: BackDocument) -> str:
    """Return the raw readings as a table: the numbers that everything else is made from."""
    if not held.stations:
        return ""
    told = []
    for station in held.stations:
        cells = [station.words, f"{station.distance_mm:g}"]
        cells += map(_numbers, (station.left, (station.middle,), station.right))
        told.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>")
    heads = (
        "Section",
        "mm behind the shoulder mark",
        "Near (left), outward",
        "Midline",
        "Off (right), outward",
    )
    head = "".join(f'<th scope="col">{one}</th>' for one in heads)
    return (
        "<details><summary>Readings, in the instrument’s own divisions</summary>"
        f'<div class="wide"><table><tr>{head}</tr>{"".join(told)}</table></div></details>'
    )


def _numbers(readings: Iterable[object]) -> str:
    return " ".join(f"{one:g}" if isinstance(one, int | float) else "–" for one in readings)


def _saddle(saddle: SaddlePart, document: PackDocument) -> str:
    facts = _rows(
        (
            ("Kind", saddle.family.replace("_", " ")),
            ("Maker, as recorded", saddle.maker),
            ("Number", saddle.serial),
            ("Seat", f"{saddle.seat_size_in:g} in" if saddle.seat_size_in else ""),
            ("Colour", saddle.colour),
            ("Made in", saddle.made_in),
        )
    )
    records = [one.version for one in document.saddle_records if one.saddle == saddle.uuid]
    links = _listed(_link(one.file, f"Its measured record, version {one.number}, as JSON") for one in records)
    return f"<section><h2>Saddle: {escape(saddle.label)}</h2>{facts}{links}</section>"


def _study(study: StudyPart, files: Files) -> str:
    held = parse_document(StudyDocument, _read(files, study.version.file), study.version.file)
    findings = sorted_worst_first([one.finding() for one in held.put.findings])
    rows = "".join(map(_finding, findings))
    head = "".join(f'<th scope="col">{one}</th>' for one in ("Verdict", "What, its limit, and how sure"))
    link = _link(study.version.file, "The whole fit check, as JSON")
    cautions = _listed(map(escape, held.cautions))
    return (
        f"<section><h2>Fit check: {escape(study.label)}</h2>"
        f'<div class="wide"><table><tr>{head}</tr>{rows}</table></div>{cautions}<p>{link}</p></section>'
    )


def _finding(finding: Finding) -> str:
    more = " ".join(filter(None, (sentence_of(finding), remark_of(finding), confidence_of(finding))))
    verdict = f"{SYMBOLS[finding.verdict]} {finding.verdict.value}"
    return f"<tr><td>{escape(verdict)}</td><td>{escape(more)}</td></tr>"


def _photos(document: PackDocument) -> str:
    told = "".join(
        f'<figure><a href="{escape(one.file)}"><img src="{escape(one.file)}" loading="lazy" '
        f'alt="{escape(_photo_words(one.label, one.shot))}"></a>'
        f"<figcaption>{escape(_photo_words(one.label, one.shot))}, {one.day.isoformat()}</figcaption>"
        "</figure>"
        for one in document.photos
    )
    return f'<section><h2>Photos</h2><div class="photos">{told}</div></section>' if told else ""


def _photo_words(label: str, shot: str) -> str:
    return label or shot.replace("_", " ").capitalize() or "Photo"


def _enclosed(document: PackDocument) -> str:
    pictures = [one for one in document.enclosed if one.file.startswith("drawings/")]
    others = [one for one in document.enclosed if one not in pictures]
    shown = "".join(
        f'<figure><img src="{escape(one.file)}" alt="{escape(one.words)}" loading="lazy">'
        f"<figcaption>{escape(one.words)}</figcaption></figure>"
        for one in pictures
        if one.file.endswith(_PICTURES)
    )
    links = _listed(_link(one.file, one.words) for one in others)
    told = f"<section><h2>Drawings</h2>{shown}</section>" if shown else ""
    return told + (f"<section><h2>Documents and files</h2>{links}</section>" if links else "")


def read_me(document: PackDocument) -> str:
    """Return the note that says what is what, and how to check the pack with other programs."""
    key = parse_key_line(document.sender.key)
    lines = [
        f"Handover pack from {document.sender.label}, made on {document.made_at[:10]}",
        "",
        "index.html   shows everything in any browser, without network",
        "pack.json    says which records and files there are, and from whom",
        "records/     backs, saddles and fit checks as they were recorded (JSON)",
        "schemas/     what each field of these means (JSON Schema)",
        "photos/      the photos that were chosen, without the place where they were taken",
        "drawings/ documents/ kit/   where they were asked for",
        "",
        "Lengths are mm, angles degrees, forces N, pressures kPa, masses kg.",
        "",
        "The folder above is a bag after RFC 8493: any program for bags checks that no file changed.",
        "signature.json holds an Ed25519 signature (RFC 8032) of tagmanifest-sha256.txt, byte for byte.",
        "Whose key it is, nobody can tell from the pack alone. Call the sender, and compare the fingerprint:",
        "",
        f"    {key.fingerprint}",
        "",
        "With saddlebench:   saddlebench pack check FILE      saddlebench pack take FILE",
        "",
        *document.cautions,
    ]
    return "\n".join(lines) + "\n"
