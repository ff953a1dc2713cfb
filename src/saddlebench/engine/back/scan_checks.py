"""Question a scan in words: its marks, its midline, its sections, and whether it is a horse's back at all.

Whatever has a shape is measured, and what is odd about it is said. Only what stands higher than any animal's
back does stops the work.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.back.posture import posture_of, standing_words
from saddlebench.engine.back.scan import ON_TOP, STANDARD_CUTS, AlignedScan, CutSection, ScanMark
from saddlebench.engine.back.scan_align import NO_SUGGESTION
from saddlebench.engine.errors import Problem, Weight, Where, is_known
from saddlebench.engine.frames import FloatArray

OFF_MESH_MM = 25.0
BESIDE_MIDLINE_MM = 40.0
UNEQUAL_MM = 6.0
"""Left minus right radius, root mean square, above which the two sides are said to differ (assumption)."""
ASKEW_DEG = 20.0
USUAL_BACK_MM = (300.0, 900.0)
"""Shoulder mark to last-rib mark of small ponies to big horses (common practice)."""
HUMP, STRAIGHT = 0.05, 0.03
"""Topline above, or below, the line from withers to last rib, over its length: horses' toplines sink 0.05–0.2
below it and rise less than 0.02 above it, whatever the type (from memory, and from meshes at hand)."""
NO_BACK = 0.4
"""Above it no animal's does: a camel's hump rises 0.3 (from a mesh at hand), a rider 0.5 and more."""
STEEPEST_TOPLINE = 1.0
FOLD_NEAR_TOP_DEG = 55.0


def check_scan(aligned: AlignedScan, sections: Sequence[CutSection]) -> tuple[Problem, ...]:
    """Return everything odd about a scan, with what was noticed when it was read.

    Parameters
    ----------
    aligned : AlignedScan
    sections : as `cut_scan` returns them
    """
    found = [
        *_marks_off_the_mesh(aligned),
        *_order_of_marks(aligned),
        *_midline(aligned),
        *_standing(aligned),
        *_proportions(aligned),
        *_sections(sections),
        *_suggestions(aligned),
    ]
    place = Where(file=aligned.scan.name)
    return (
        aligned.scan.remarks
        + tuple(Problem(what=what, cure=cure, where=place, weight=Weight.WARNING) for what, cure in found)
        + tuple(Problem(what=what, cure=cure, where=place) for what, cure in _no_bare_back(aligned))
    )


Words = Iterator[tuple[str, str]]


def _marks_off_the_mesh(aligned: AlignedScan) -> Words:
    vertices = aligned.vertices_back
    corners = vertices[aligned.faces]
    spacing = float(np.median(np.linalg.norm(corners[:, 0] - corners[:, 1], axis=1)))
    for mark, point in aligned.scan.marks.items():
        at = aligned.scan_to_back.points(point[None])[0]
        off = float(np.sqrt(((vertices - at) ** 2).sum(axis=1).min()))
        if off > OFF_MESH_MM + spacing:
            yield f"the {mark} lies {off:.0f} mm off the mesh", "Set it again, on the surface."


def _order_of_marks(aligned: AlignedScan) -> Words:
    marks = aligned.landmarks
    last_rib = marks.last_rib.value_mm if isinstance(marks.last_rib, Mark) else np.inf
    withers = marks.withers.value_mm if isinstance(marks.withers, Mark) else -np.inf
    if not USUAL_BACK_MM[0] <= last_rib <= USUAL_BACK_MM[1]:
        yield (
            f"from shoulder mark to last-rib mark is {last_rib:.0f} mm, which is not usual for a horse",
            "Check the unit or the known length, and the two marks.",
        )
    if np.isfinite(withers) and withers > 40.0:
        yield (
            f"the withers lie {withers:.0f} mm behind the shoulder mark",
            "The shoulder mark is behind the withers on a horse: check both.",
        )
    if isinstance(marks.lowest, Mark) and not withers < marks.lowest.value_mm < last_rib:
        yield "the lowest point does not lie between withers and last rib", "Check the three marks."
    for words, mark in (("near", marks.shoulder_left), ("off", marks.shoulder_right)):
        if isinstance(mark, Mark) and abs(mark.value_mm) > 100.0:
            yield (
                f"the {words} shoulder edge is {abs(mark.value_mm):.0f} mm from the shoulder mark",
                "Both are the rear edge of the shoulder blade: check them.",
            )
    if isinstance(marks.girth_groove, Mark) and not -150.0 <= marks.girth_groove.value_mm <= 300.0:
        yield (
            f"the girth groove lies {marks.girth_groove.value_mm:.0f} mm behind the shoulder mark",
            "It is usually just behind the elbow: check it.",
        )


def _midline(aligned: AlignedScan) -> Words:
    midline = aligned.midline
    askew = float(np.degrees(midline.yaw_rad))
    if abs(askew) > ASKEW_DEG:
        yield (
            f"the back was found to lie {abs(askew):.0f}° askew of the stated direction of the head",
            "Check the direction; the back's own midline is used.",
        )
    if midline.mismatch_mm > UNEQUAL_MM:
        yield (
            f"left and right of the midline that was found differ by {midline.mismatch_mm:.0f} mm",
            "Check that it stood square, its neck straight and no leg rested; it is measured as it stood.",
        )
    for mark in ON_TOP:
        if mark not in aligned.scan.marks:
            continue
        beside = float(aligned.scan_to_back.points(aligned.scan.marks[mark][None])[0, 1])
        if abs(beside) > BESIDE_MIDLINE_MM:
            side = "left" if beside > 0.0 else "right"
            yield (
                f"the {mark} lies {abs(beside):.0f} mm {side} of the midline that was found from the shape",
                "Check the mark, which way is up, and whether the horse leans.",
            )


def _standing(aligned: AlignedScan) -> Words:
    posture = posture_of(aligned)
    if is_known(posture):
        yield from standing_words(posture)


def _above_the_line(aligned: AlignedScan) -> tuple[FloatArray, FloatArray, float] | None:
    """Return places s (k,) [mm] from withers to last rib, heights over their line's length, the length."""
    s, z = aligned.topline_s_mm, aligned.topline_z_mm
    marks = aligned.landmarks
    start = marks.withers.value_mm if isinstance(marks.withers, Mark) else -60.0
    stop = marks.last_rib.value_mm if isinstance(marks.last_rib, Mark) else float(s[-1])
    inside = (s >= start) & (s <= stop)
    if inside.sum() < 4 or stop <= start:
        return None
    ends = np.interp([start, stop], s, z)
    length = stop - start
    return s[inside], (z - np.interp(s, [start, stop], ends))[inside] / length, length


def _no_bare_back(aligned: AlignedScan) -> Words:
    found = _above_the_line(aligned)
    if found is not None and found[1].max() > NO_BACK:
        height = f"{found[1].max() * found[2]:.0f} mm above the line from withers to last rib"
        yield (
            f"something stands {height}, as high as no back does",
            "Scan the horse bare, without rider, saddle or rug; or check the marks.",
        )


def _proportions(aligned: AlignedScan) -> Words:
    found = _above_the_line(aligned)
    if found is None:
        return
    s, over, length = found
    if over.max() > HUMP:
        yield (
            f"the topline rises {over.max() * length:.0f} mm above the line from withers to last rib",
            "No horse's does: check for a rider, saddle or rug, the marks, and the animal.",
        )
    elif over.min() > -STRAIGHT:
        yield (
            "the topline runs almost straight from withers to last rib, unlike a horse's",
            "Check the marks, and the animal.",
        )
    if _steepest(aligned, s) > STEEPEST_TOPLINE:
        yield (
            "the topline has a step between withers and last rib that no back has",
            "Check that nothing is on the back: rider, saddle, rug, hands.",
        )


def _steepest(aligned: AlignedScan, s: FloatArray) -> float:
    z = np.interp(s, aligned.topline_s_mm, aligned.topline_z_mm)
    return float(np.abs(np.diff(z) / np.diff(s)).max())


def _sections(sections: Sequence[CutSection]) -> Words:
    folded = [
        section
        for section in sections
        if any(abs(at) < np.deg2rad(FOLD_NEAR_TOP_DEG) for at in section.outline.folds_at)
    ]
    if folded:
        yield (
            f"the section turns back on itself near the top {_at(folded)}: no bare back does",
            "Check that nothing is on the back (rider, saddle, rug, hands); only the part above is measured.",
        )
    holed = [section for section in sections if section.outline.gaps]
    if holed:
        yield f"the mesh has a hole {_at(holed)}", "Nothing is measured inside it; scan that part again."
    empty = [section for section in sections if len(section.yz) < STANDARD_CUTS.fewest_points]
    if empty:
        yield (
            f"the mesh has no back, or hardly any, {_at(empty)}: left out",
            "Scan more of the back, or ask for sections that lie on it.",
        )


def _at(sections: Sequence[CutSection]) -> str:
    places = [f"{section.distance_mm:.0f}" for section in sections]
    shown = ", ".join(places[:6]) + (f" and {len(places) - 6} more" if len(places) > 6 else "")
    return f"{shown} mm behind the shoulder mark"


def _behind(s_mm: float) -> str:
    return f"{abs(s_mm):.0f} mm {'in front of' if s_mm < 0.0 else 'behind'} the shoulder mark"


def _suggestions(aligned: AlignedScan) -> Words:
    proposed = sorted(aligned.scan.proposed)
    if proposed:
        yield (
            f"only proposed from the shape, and felt by nobody: {', '.join(proposed)}",
            "Feel for them on the horse, and set them where they are.",
        )
    where = {ScanMark.WITHERS: aligned.landmarks.withers, ScanMark.LOWEST: aligned.landmarks.lowest}
    for mark in sorted(aligned.scan.suggest):
        place = where[mark]
        if is_known(place):
            yield (
                f"only proposed from the shape: the {mark}, {_behind(place.value_mm)}; nobody felt for it",
                "Feel for it on the horse.",
            )
        elif place is NO_SUGGESTION:
            yield f"the {mark} cannot be proposed: {place.reason}", "Set it by hand."
