"""Tell a mesh file's format from its contents, and whether what its header declares can be in it at all."""

import re
import stat
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from saddlebench.engine.errors import Problem, Weight, Where
from saddlebench.exchange.scans.limits import MAX_BYTES, MAX_FACES, MAX_TEXT_BYTES, MAX_VERTICES

HEAD_BYTES = 65_536
_EXPORT_AGAIN = "Export the scan again."
_SUFFIXES = {".ply": "ply", ".obj": "obj", ".stl": "stl", ".off": "off", ".las": "las"}
_SUFFIXES |= {".glb": "glb", ".gltf": "gltf"} | dict.fromkeys((".xyz", ".txt", ".csv", ".asc", ".pts"), "xyz")
_OTHER_KINDS = (
    (b"PK\x03\x04", "a zip archive (or a 3MF file)", "Unpack it, and give the mesh inside."),
    (b"\x1f\x8b", "compressed with gzip", "Unpack it, and give the mesh inside."),
    (b"\x89PNG", "a PNG picture", "Give the mesh, not a picture of it."),
    (b"\xff\xd8\xff", "a JPEG picture", "Give the mesh, not a picture of it."),
    (b"%PDF", "a PDF document", "Give the mesh itself."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it, and give the mesh inside."),
)


class MeshKind(StrEnum):
    """Formats that can be read."""

    PLY_TEXT = "PLY (text)"
    PLY_BINARY = "PLY (binary)"
    OBJ = "OBJ"
    STL_TEXT = "STL (text)"
    STL_BINARY = "STL (binary)"
    OFF = "OFF"
    GLB = "GLB"
    GLTF = "glTF (text)"
    XYZ = "XYZ"
    LAS = "LAS"

    @property
    def is_text(self) -> bool:
        """Whether numbers are written out."""
        return self not in (MeshKind.PLY_BINARY, MeshKind.STL_BINARY, MeshKind.GLB, MeshKind.LAS)

    @property
    def suffix(self) -> str:
        """The usual file suffix, without its dot."""
        return "gltf" if self is MeshKind.GLTF else self.value[:3].lower()


_MAGIC = {b"glTF": MeshKind.GLB, b"LASF": MeshKind.LAS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sniffed:
    """What a file is, as far as its first bytes and its length tell."""

    kind: MeshKind | None
    problems: tuple[Problem, ...]


def sniff(path: Path) -> Sniffed:
    """Look at a file's beginning and length; nothing is allocated for what it merely declares."""
    where = Where(file=path.name)
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            return _refused(
                "this is not a file",
                "Give the path of a mesh file: PLY, OBJ, STL, OFF, GLB, XYZ or LAS.",
                where,
            )
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
    except OSError as error:
        return _refused(f"the file cannot be opened ({error.strerror})", "Check its path.", where)
    except ValueError:
        return _refused("the path cannot be used", "Give the path of a mesh file.", where)
    kind = _kind_of(head, status.st_size)
    if kind is None:
        return _refused(*_what_else(path, head, status.st_size), where)
    problems = [*_too_large(kind, status.st_size, where), *_declared(kind, head, status.st_size, where)]
    if not problems:
        problems += _other_name(path, kind, where)
    return Sniffed(kind=kind, problems=tuple(problems))


def _refused(what: str, cure: str, where: Where) -> Sniffed:
    return Sniffed(kind=None, problems=(Problem(what=what, cure=cure, where=where),))


def _what_else(path: Path, head: bytes, size: int) -> tuple[str, str]:
    """Return in words what a file is that is no mesh, and what to do."""
    if not head.strip():
        return "the file is empty", _EXPORT_AGAIN
    for magic, what, cure in _OTHER_KINDS:
        if head.startswith(magic):
            return f"the file is {what}, not a mesh", cure
    if path.suffix.lower() == ".stl" and b"\x00" in head:
        declared, room = int.from_bytes(head[80:84], "little"), max(0, (size - 84) // 50)
        return f"the file is damaged: it declares {declared:,} faces and has room for {room:,}", _EXPORT_AGAIN
    return (
        "the file is none of PLY, OBJ, STL, OFF, GLB, XYZ and LAS",
        "Export the scan as one of these; PLY is the smallest.",
    )


def _kind_of(head: bytes, size: int) -> MeshKind | None:
    start = head.lstrip()
    if head[:4] in _MAGIC:
        return _MAGIC[head[:4]]
    if re.match(rb"ply\s", start, re.IGNORECASE):
        text = re.search(rb"^format\s+ascii", head, re.MULTILINE) is not None
        return MeshKind.PLY_TEXT if text else MeshKind.PLY_BINARY
    if len(head) >= 84 and size == 84 + 50 * int.from_bytes(head[80:84], "little"):
        return MeshKind.STL_BINARY
    return None if b"\x00" in head else _kind_of_text(head, start)


def _kind_of_text(head: bytes, start: bytes) -> MeshKind | None:
    looks = {
        MeshKind.GLTF: start.startswith(b"{") and b'"asset"' in head,
        MeshKind.OFF: _first_word(start) in (b"OFF", b"COFF"),
        MeshKind.STL_TEXT: start[:5].lower() == b"solid",
        MeshKind.OBJ: re.search(rb"^\s*v\s+[-+.\d]", head, re.MULTILINE) is not None,
        MeshKind.XYZ: len(_rows_of_numbers(head)) >= 3,
    }
    return next((kind for kind, is_it in looks.items() if is_it), None)


def _rows_of_numbers(head: bytes) -> list[bytes]:
    """Return whole lines of three numbers or more, in the first forty."""
    number = rb"[-+]?\d*\.?\d+([eE][-+]?\d+)?"
    row = re.compile(rb"\s*" + number + rb"([ \t,;]+" + number + rb"){2,}[ \t,;]*$")
    return [line for line in head.splitlines()[:40] if row.match(line)]


def _first_word(text: bytes) -> bytes:
    for line in text.splitlines():
        words = line.split(b"#")[0].split()
        if words:
            return words[0]
    return b""


def _too_large(kind: MeshKind, size: int, where: Where) -> list[Problem]:
    limit = MAX_TEXT_BYTES if kind.is_text else MAX_BYTES
    if size <= limit:
        return []
    cure = (
        "Save it as binary PLY or STL, which is a quarter of the size."
        if kind.is_text
        else "Cut away everything but the horse's trunk, and save it again."
    )
    return [
        Problem(
            what=f"the file has {size / 1e6:,.0f} MB; {kind} files are read up to {limit / 1e6:,.0f} MB",
            cure=cure,
            where=where,
        )
    ]


def _declared(kind: MeshKind, head: bytes, size: int, where: Where) -> list[Problem]:
    """Compare declared counts with what the file has room for, before anything is made of them."""
    if kind is MeshKind.OFF:
        return _declared_off(head, size, where)
    if kind in (MeshKind.PLY_TEXT, MeshKind.PLY_BINARY):
        return _declared_ply(head, size, where, text=kind is MeshKind.PLY_TEXT)
    if kind is MeshKind.LAS:
        return _declared_las(head, size, where)
    if kind is MeshKind.STL_BINARY:
        return _counts({"face": (int.from_bytes(head[80:84], "little"), 50)}, size - 84, where)
    return []


def _declared_las(head: bytes, size: int, where: Where) -> list[Problem]:
    """Read the public header block of LAS 1.0 to 1.4 (ASPRS): offset, record length, counts."""
    if len(head) < 227:
        return [_broken("its header breaks off", where)]
    minor, offset = head[25], int.from_bytes(head[96:100], "little")
    packed, length = head[104] & 0x80, int.from_bytes(head[105:107], "little")
    count = int.from_bytes(head[107:111], "little")
    if minor >= 4 and len(head) >= 255:
        count = max(count, int.from_bytes(head[247:255], "little"))
    if packed:
        cure = "Save it as LAS, without compression, or as PLY."
        return [Problem(what="the points are packed (LAZ), which is not read", cure=cure, where=where)]
    if length < 20:
        return [_broken("its points are shorter than points can be", where)]
    return _counts({"vertex": (count, length)}, size - offset, where)


def _declared_off(head: bytes, size: int, where: Where) -> list[Problem]:
    words = b" ".join(line.split(b"#")[0] for line in head.splitlines()[:50]).split()
    try:
        vertices, faces = int(words[1]), int(words[2])
    except (IndexError, ValueError):
        return [_broken("the line with the counts of vertices and faces is missing", where)]
    return _counts({"vertex": (vertices, 6), "face": (faces, 8)}, size, where)


def _declared_ply(head: bytes, size: int, where: Where, *, text: bool) -> list[Problem]:
    end = re.search(rb"^end_header\s*?\r?\n", head, re.MULTILINE)
    if end is None:
        return [_broken("its header has no end", where)]
    counts: dict[str, tuple[int, int]] = {}
    name = ""
    for line in head[: end.start()].decode("ascii", errors="replace").splitlines():
        words = line.split()
        if words[:1] == ["element"]:
            if len(words) != 3 or not re.fullmatch(r"\d{1,18}", words[2]):
                return [_broken(f"its header has a line that makes no sense: “{line.strip()[:40]}”", where)]
            name = words[1]
            counts[name] = (int(words[2]), 0)
        elif words[:1] == ["property"] and name:
            if len(words) < 3:
                return [_broken(f"its header has a line that makes no sense: “{line.strip()[:40]}”", where)]
            count, least = counts[name]
            counts[name] = (count, least + (2 if text else _least_bytes(words)))
    if "vertex" not in counts:
        return [_broken("its header declares no vertices", where)]
    return _counts(counts, size - end.end(), where)


def _least_bytes(words: list[str]) -> int:
    widths = {"char": 1, "short": 2, "int": 4, "float": 4, "double": 8}
    kind = words[2] if words[1] == "list" else words[1]
    bits = re.search(r"\d+$", kind)
    return int(bits.group()) // 8 if bits else widths.get(kind.removeprefix("u"), 1)


def _counts(counts: dict[str, tuple[int, int]], room: int, where: Where) -> list[Problem]:
    plural = {"vertex": "vertices", "face": "faces"}
    if any(count < 0 for count, _ in counts.values()):
        return [_broken("it declares a count below zero", where)]
    if sum(count * least for count, least in counts.values()) > room:
        said = " and ".join(f"{counts[k][0]:,} {words}" for k, words in plural.items() if k in counts)
        return [_broken(f"it declares {said} but is far too short for them", where)]
    problems = []
    for name, limit in (("vertex", MAX_VERTICES), ("face", MAX_FACES)):
        if name in counts and counts[name][0] > limit:
            problems.append(
                Problem(
                    what=f"the mesh has {counts[name][0]:,} {plural[name]}; up to {limit:,} are read",
                    cure="Cut away everything but the trunk, or export it more coarsely (2 mm is plenty).",
                    where=where,
                )
            )
    return problems


def _broken(what: str, where: Where) -> Problem:
    return Problem(what=f"the file is damaged: {what}", cure=_EXPORT_AGAIN, where=where)


def _other_name(path: Path, kind: MeshKind, where: Where) -> list[Problem]:
    named = _SUFFIXES.get(path.suffix.lower())
    if named == kind.suffix:
        return []
    return [
        Problem(
            what=f"the file's name ends in “{path.suffix}” but its contents are {kind}: read as {kind}",
            cure=f"Rename it to end in .{kind.suffix}.",
            where=where,
            weight=Weight.WARNING,
        )
    ]
