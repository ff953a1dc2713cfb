"""Damaged meshes and marks, made up at random: an answer or a sentence, nothing else."""

import io
import tomllib
import warnings
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import example, given, settings
from hypothesis import strategies as st

from saddlebench.engine.errors import InputProblemsError, Weight
from saddlebench.exchange.scans.marks import marks_from_table, read_marks
from saddlebench.exchange.scans.read_apart import answer_job
from saddlebench.exchange.scans.sniff import sniff
from support.meshes import MARKS

BOX = trimesh.creation.box(extents=(3.0, 2.0, 1.0))
FORMATS = ("ply", "obj", "stl", "off", "stl_ascii")


def valid(kind):
    content = BOX.export(file_type=kind)
    return content if isinstance(content, bytes) else content.encode()


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz") / "mesh.bin"


def read_here(path: Path):
    """Do what the reader does, without the cost of a process: what is small needs no limits."""
    sniffed = sniff(path)
    if sniffed.kind is None or any(p.weight is Weight.ERROR for p in sniffed.problems):
        assert sniffed.problems
        return
    job = {"path": str(path), "kind": sniffed.kind.suffix, "near": [], "keep": [], "max_faces": 10**6}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        answer, arrays = answer_job(job | {"crop_above_faces": 10**6})
    if "reason" in answer:
        assert arrays == []
        return
    vertices, faces = arrays
    assert np.isfinite(vertices).all()
    assert len(faces) > 0
    assert 0 <= faces.min() <= faces.max() < len(vertices)


@settings(max_examples=60, deadline=None)
@given(content=st.binary(max_size=400))
def test_any_bytes(path, content):
    path.write_bytes(content)
    read_here(path)


@settings(max_examples=200, deadline=None)
@given(data=st.data(), kind=st.sampled_from(FORMATS))
def test_a_valid_file_with_parts_changed_cut_or_doubled(path, data, kind):
    content = bytearray(valid(kind))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content) - 1))
        match data.draw(st.sampled_from(("byte", "cut", "double", "number"))):
            case "byte":
                content[at] = data.draw(st.integers(0, 255))
            case "cut":
                del content[at : at + data.draw(st.integers(1, 60))]
            case "double":
                content[at:at] = content[at : at + 40]
            case "number":
                content[at:at] = data.draw(
                    st.sampled_from((b"nan", b"-1", b" 1e400 ", b"99999999999", b"0", b"\n", b"inf"))
                )
        if not content:
            return
    path.write_bytes(bytes(content))
    read_here(path)


def test_a_header_line_cut_after_its_first_word_is_told(path):
    whole = valid("ply")
    assert b"property float x" in whole
    path.write_bytes(whole.replace(b"property float x", b"property\nfloat x"))
    assert [problem.what for problem in sniff(path).problems] == [
        "the file is damaged: its header has a line that makes no sense: “property”"
    ]


_toml_values = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(10**20), 10**20),
        st.floats(),
        st.text(max_size=8),
        st.sampled_from(("suggest", "+z", "mm", "shoulder")),
    ),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
_fields = ("unit", "known_length", "up", "head", "marks", "points", "errors", "label", "measured_on", "spine")


@settings(max_examples=150, deadline=None)
@given(
    table=st.dictionaries(st.sampled_from(_fields), _toml_values),
    marks=st.dictionaries(st.sampled_from(("shoulder", "last_rib", "withers", "lowest")), _toml_values),
)
@example(table={"known_length": {"¹": False}}, marks={})
def test_any_table_of_marks_gives_marks_or_sentences(table, marks):
    try:
        marks_from_table({"marks": marks} | table, "marks.toml")
    except InputProblemsError as error:
        # Either outcome is right; a third there must not be.
        told = [str(problem) for problem in error.problems if problem.what and problem.cure]
    else:
        told = ["marks"]
    assert told


@settings(max_examples=60, deadline=None)
@given(
    content=st.one_of(
        st.binary(max_size=200), st.text(max_size=200).map(lambda text: (MARKS + text).encode())
    )
)
def test_any_bytes_as_marks(path, content):
    path.write_bytes(content)
    try:
        read_marks(path)
    except InputProblemsError as error:
        told = [str(problem) for problem in error.problems]
    else:
        told = ["marks"]
    assert told


def test_the_formats_that_are_mutated_are_read_when_whole(path):
    for kind in FORMATS:
        path.write_bytes(valid(kind))
        assert sniff(path).kind is not None
        assert len(trimesh.load(io.BytesIO(valid(kind)), file_type=kind[:3]).faces) == 12
    assert tomllib.loads(MARKS)["unit"] == "mm"
