"""Several files of one invented horse: looked at, recorded with the error of their joining, or refused."""

import datetime as dt
import hashlib
import json
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.engine.back.record import measure_points
from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.units import Length
from saddlebench.exchange.back_job import scan_record
from saddlebench.exchange.drawings.scan_look import scan_picture
from saddlebench.exchange.records import read_back, write_back
from saddlebench.exchange.scans import ScanPiece, look_at_pieces, marks_text, read_pieces_file, several_pieces
from saddlebench.exchange.scans.held_look import look_of_plain, plain_of_look
from saddlebench.exchange.scans.pieces import read_pieces
from support.pieces import invented_pieces, written


def sentence(deed):
    with pytest.raises(InputProblemsError) as caught:
        deed()
    return " | ".join(str(problem) for problem in caught.value.problems)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return written(invented_pieces(11), tmp_path_factory.mktemp("pieces"))


@pytest.fixture(scope="module")
def looked(files):
    told = []
    found = look_at_pieces(
        [ScanPiece(path=path, unit=Length.M) for path in files],
        tell=lambda done, of, doing: told.append((done, of, doing)),
    )
    assert [done for done, _, _ in told] == [0, 1, 2, 3]
    assert told[0] == (0, 4, "reading piece-1.ply")
    return found


def test_pieces_are_looked_at_as_one_horse(looked):
    assert looked.name == "piece-1.ply + piece-2.ply"
    assert looked.ground is not None
    assert set(looked.marks) >= {ScanMark.WITHERS, ScanMark.LAST_RIB}
    assert 1350.0 < looked.height_mm(Length.M) < 1700.0
    first, second = looked.pieces
    assert (first.sure_mm, first.unit, first.common) == (0.0, Length.M, ())
    assert 0.0 < second.sure_mm < 2.0
    assert 0.15 < second.overlap < 0.8
    assert "laid to within" in second.said
    said = " | ".join(str(one) for one in looked.remarks)
    assert "piece-2.ply: it is laid to within" in said
    # Both pieces are in what is drawn.
    assert len(looked.piece_of) == len(looked.outline)
    assert set(looked.piece_of) == {0, 1}


def test_the_picture_shows_each_piece_and_differs_from_that_of_one_file(looked):
    together = scan_picture(looked)
    alone = scan_picture(replace(looked, pieces=(), piece_of=()))
    assert together[:8] == alone[:8] == b"\x89PNG\r\n\x1a\n"
    assert together != alone


def test_a_look_is_kept_and_taken_up_again(looked):
    plain = json.loads(json.dumps(plain_of_look(looked)))
    again = look_of_plain(plain)
    assert again.pieces == looked.pieces
    assert again.piece_of == looked.piece_of
    assert marks_text(again) == marks_text(looked)


def test_the_record_carries_what_the_joining_may_be_off_by(looked, files, tmp_path):
    marks = tmp_path / "marks.toml"
    marks.write_text(marks_text(looked, measured_on=dt.date(2026, 5, 14)), encoding="utf-8")
    made = scan_record(files[0], marks, more=files[1:])
    assert made.record.label == "piece-1 + piece-2"
    joined = made.record.instrument.joined
    assert joined.names == ("piece-1.ply", "piece-2.ply")
    points = measure_points(made.record)
    errors = [k for k, source in enumerate(points.error_source) if "pieces" in source]
    assert len(errors) >= 6
    moved = np.sqrt(np.square(points.sensitivity[:, :, errors]).sum(axis=(1, 2)))
    near = points.points_back[:, 1] > 120.0
    off = points.points_back[:, 1] < -120.0
    # The first piece stayed where it is; the other side moves with the second.
    sides = sorted([float(np.median(moved[near])), float(np.median(moved[off]))])
    assert sides[1] > 2.0 * sides[0]
    assert sides[1] < 5.0
    listed = "".join(f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n" for path in files)
    assert made.scan_file.sha256 == hashlib.sha256(listed.encode()).hexdigest()
    path = tmp_path / "mare.back.json"
    write_back(made.record, path, scan_file=made.scan_file)
    assert read_back(path).instrument.joined == joined
    # Other files, or another order, are not what the marks are of.
    assert "in the same order" in sentence(lambda: scan_record(files[1], marks, more=files[:1]))
    assert "in the same order" in sentence(lambda: scan_record(files[0], marks))


def test_a_height_or_another_unit_comes_too_late(looked):
    assert "in m" in sentence(lambda: marks_text(looked, height_mm=1600.0))
    assert "in m" in sentence(lambda: marks_text(looked, unit=Length.CM))


def test_what_is_wrong_with_any_file_is_told_of_all(files, tmp_path):
    empty, words = tmp_path / "empty.ply", tmp_path / "words.ply"
    empty.write_bytes(b"")
    words.write_text("ply\nformat ascii 1.0\nelement vertex many\n")
    told = sentence(
        lambda: read_pieces([ScanPiece(path=path, unit=Length.M) for path in (files[0], empty, words)])
    )
    assert "empty.ply" in told
    assert "words.ply" in told
    assert "piece-1.ply" not in told


def test_what_cannot_be_pieces_is_refused_before_anything_is_read(files, tmp_path):
    missing = [ScanPiece(path=tmp_path / "a.ply", unit=Length.M)]
    assert "Give two to 6" in sentence(lambda: read_pieces(missing))
    assert "the same name" in sentence(lambda: read_pieces(missing * 2))
    marked = replace(missing[0], common=(np.zeros(3),) * 3)
    other = ScanPiece(path=tmp_path / "b.ply", unit=Length.M)
    assert "not marked alike" in sentence(lambda: read_pieces([marked, other]))
    absurd = [
        ScanPiece(path=path, unit=unit) for path, unit in zip(files, (Length.M, Length.MM), strict=True)
    ]
    assert "in mm what it shows would be 0.0" in sentence(lambda: read_pieces(absurd))


def test_a_file_of_pieces_states_units_and_common_points(tmp_path):
    path = tmp_path / "pieces.toml"
    path.write_text(
        '[[pieces]]\nfile = "a.ply"\nunit = "cm"\ncommon = [[0, 0, 1], [1, 0, 0], [0, 1, 0]]\n'
        '[[pieces]]\nfile = "b.ply"\nup = [0, 1, 0]\n',
        encoding="utf-8",
    )
    stated = read_pieces_file(path).pieces
    paths = [tmp_path / "a.ply", tmp_path / "b.ply"]
    first, second = several_pieces(paths, stated, Length.M, None)
    assert (first.unit, second.unit) == (Length.CM, Length.M)
    assert len(first.common) == 3
    assert second.up.tolist() == [0.0, 1.0, 0.0]
    assert "unit of b.ply is not stated" in sentence(lambda: several_pieces(paths, stated, None, None))
    path.write_text('[[pieces]]\nfile = "a.ply"\ncommon = [[0, 0], [1, nan, 0]]\n', encoding="utf-8")
    assert "pieces.1.common" in sentence(lambda: read_pieces_file(path))
