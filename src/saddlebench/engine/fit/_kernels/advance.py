"""One attempt at a step, from girth to report, without coming back to Python in between."""

import numpy as np

from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.barrel import laid_girth
from saddlebench.engine.fit._kernels.energy import girth_tension
from saddlebench.engine.fit._kernels.report import fill_fields, softest, softest_disturbed
from saddlebench.engine.fit._kernels.steps import begin, finish, load_step

# Turned or moved by less than this (rad, mm) a saddle counts as lying where it was put.
ASTRAY = 1e-6


@compiled
def put_straight(pose, put):
    """Give a pose the heading, x and y of another; return whether it had strayed from them."""
    heading = np.arctan2(put[3], put[0]) - np.arctan2(pose[3], pose[0])
    strayed = abs(heading) > ASTRAY or abs(pose[9] - put[9]) > ASTRAY or abs(pose[10] - put[10]) > ASTRAY
    cos, sin = np.cos(heading), np.sin(heading)
    for col in range(3):
        x, y = pose[col], pose[3 + col]
        pose[col] = cos * x - sin * y
        pose[3 + col] = sin * x + cos * y
    pose[9] = put[9]
    pose[10] = put[10]
    return strayed


@compiled
def total_load(loads):
    """Return all weights together [N]."""
    total = loads.seat_n
    for k in range(loads.points.shape[0]):
        total += loads.points[k, 3]
    return total


@compiled
def advance(
    back,
    nodes,
    panels,
    laws,
    friction,
    straps,
    rest_back,
    rest_pose,
    loads,
    pose,
    guess,
    guessed,
    box,
    free,
    goal,
    pressure,
    normal,
    reported,
    work,
    fields,
    summary,
):
    """Go from one state at rest to the next; return how it ended.

    `rest_back` and `rest_pose` are those before the back was lifted, where the girth was still as long as it
    was; `pressure` and `normal` those at which the last step ended; `pose` is moved, from `guess` if there is
    one; `fields` and `summary` are filled, distances and stability only where `reported`.
    """
    placing = free.size == 3
    girth = laid_girth(rest_back, straps, rest_pose)
    begin(back, panels, friction, pose, work, pressure, normal)
    if guessed:
        pose[:] = guess
        if placing:
            put_straight(pose, box)
    load_n = total_load(loads) + 2.0 * girth.tension
    status = load_step(
        back, panels, laws, friction, girth, loads, pose, box, free, load_n, goal, guessed, work
    )
    # small rolls and pitches add up to a turn: put straight, and settled once more from close by
    if placing and put_straight(pose, box):
        status = load_step(
            back, panels, laws, friction, girth, loads, pose, box, free, load_n, goal, guessed, work
        )
    grip = np.zeros((6, 6))
    held = np.zeros((6, 6))
    slip, lost = finish(panels, friction, pose, work, fields, grip, held)
    summary.numbers[0] = slip
    summary.numbers[1] = lost
    summary.numbers[2] = girth_tension(girth, pose) if girth.anchors.shape[0] > 0 else 0.0
    summary.numbers[3] = load_n
    if reported:
        fill_fields(back, nodes, panels, pose, fields.gap, fields.measured)
        for a in range(6):
            for b in range(6):
                grip[a, b] = work.tangent[a, b] - grip[a, b]
                held[a, b] += grip[a, b]
        summary.numbers[5] = softest(grip, free, summary.direction)
        summary.numbers[4] = softest_disturbed(
            panels, friction.stiffness, pose, fields.slide, held, free, summary.direction
        )
    return status
