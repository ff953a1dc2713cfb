"""An invented horse scanned in two pieces becomes a back record with its picture."""

from saddlebench.demo.walked_round import walk_round
from saddlebench.engine.back.landmarks import Mark
from saddlebench.exchange.records import read_back


def test_two_pieces_become_one_back(tmp_path):
    done = walk_round(tmp_path / "walked-round")
    assert sorted(path.name for path in done.folder.iterdir()) == [
        "back.json",
        "marks.toml",
        "near.ply",
        "off.ply",
        "pieces.png",
    ]
    near, off = done.sentences
    assert near.startswith("near.ply: it stays where it is")
    assert off.startswith("off.ply: it is laid to within")
    record = read_back(done.back)
    assert "invented" in record.label
    assert record.instrument.joined.names == ("near.ply", "off.ply")
    assert isinstance(record.landmarks.withers, Mark)
    assert len(record.readings.stations) > 15
