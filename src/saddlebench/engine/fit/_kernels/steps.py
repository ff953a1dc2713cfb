"""One load step: lagged friction around the Newton solver, and what friction remembers between steps."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import STUCK, evaluate, turned
from saddlebench.engine.fit._kernels.newton import AT_REST, NO_GRIP, relax
from saddlebench.engine.fit._kernels.spline import gap_terms, locate, value

MAX_PASSES = 20
STICKY_MM = 8.0  # points this near hold in the first pass
LOOSE = 1e-3  # of the load, in all passes but the last
GRIP_CHANGE = 2e-3


@compiled
def begin(back, panels, friction, pose, work):
    """Remember where the step begins; a point that does not touch holds nothing yet."""
    for i in range(panels.area.size):
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        x, y, z = r[0] + pose[9], r[1] + pose[10], r[2] + pose[11]
        s, phi, radius, up, ci, cj, ta, tb, inside = locate(back, x, y, z)
        gap = 1e9
        if inside:
            terms = gap_terms(back, ci, cj, ta, tb, y, up, radius)
            gap = terms[0]
            size = np.sqrt(terms[1] ** 2 + terms[2] ** 2 + terms[3] ** 2)
            for k in range(3):
                friction.normal[i, k] = terms[1 + k] / size
        friction.first_gap[i] = gap
        friction.first[i, 0], friction.first[i, 1], friction.first[i, 2] = x, y, z
        if gap >= 0.0:
            friction.anchor[i] = friction.first[i]
    work.free_until[:] = 0.0
    work.numbers[0] = 0.0


@compiled
def stick(friction, reach_mm):
    """Let every point that touches, or nearly does, hold without limit."""
    for i in range(friction.cap.size):
        friction.cap[i] = STUCK if friction.first_gap[i] < reach_mm else 0.0


@compiled
def grip(panels, friction, pose, work, blend):
    """Move the lagged caps towards μp and renew normals and springs; return the misfit over the load, and
    the blend for the next pass.

    Pitching a saddle moves pressure from end to end and friction with it, so that plain lagging overshoots
    and may swing for ever: the blend is Aitken's, ω ← −ω·⟨r, r' − r⟩/|r' − r|² (Irons & Tuck 1969).
    """
    misfit = 0.0
    load = 0.0
    along = 0.0
    across = 0.0
    for i in range(panels.area.size):
        area = panels.area[i]
        p = work.pressure[i]
        goal = friction.coefficient * p
        load += area * goal
        if friction.cap[i] >= STUCK:
            misfit += area * goal
            work.misfit[i] = 0.0
            friction.cap[i] = goal
        else:
            old = work.misfit[i]
            new = goal - friction.cap[i]
            misfit += area * abs(new)
            along += area * old * (new - old)
            across += area * (new - old) * (new - old)
            work.misfit[i] = new
    if across > 0.0 and along != 0.0:
        blend = min(1.0, max(0.2, -blend * along / across))
    for i in range(panels.area.size):
        friction.cap[i] += blend * work.misfit[i]
        if work.pressure[i] > 0.0:
            friction.normal[i] = work.normal[i]
            touch(panels, friction, pose, i)
    if load == 0.0:
        return 0.0, blend
    return misfit / load, blend


@compiled
def touch(panels, friction, pose, i):
    """Start the spring of a point that was free when the step began where it first touched."""
    gap = friction.first_gap[i]
    if gap <= 0.0:
        return
    r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
    n = friction.normal[i]
    ux = r[0] + pose[9] - friction.first[i, 0]
    uy = r[1] + pose[10] - friction.first[i, 1]
    uz = r[2] + pose[11] - friction.first[i, 2]
    down = -(ux * n[0] + uy * n[1] + uz * n[2])
    part = min(1.0, gap / max(down, gap))
    friction.anchor[i, 0] = friction.first[i, 0] + part * ux
    friction.anchor[i, 1] = friction.first[i, 1] + part * uy
    friction.anchor[i, 2] = friction.first[i, 2] + part * uz


@compiled
def load_step(back, panels, laws, friction, girth, loads, pose, box, free, load_n, goal, guessed, work):
    """Bring the saddle to rest under new loads; return how it ended. `goal` is a share of the load.

    `guessed` says that `pose` is already close to the answer, so that the first pass need not stick.
    """
    if friction.stiffness == 0.0:
        return relax(back, panels, laws, friction, girth, loads, pose, box, free, goal * load_n, 0, work)
    work.misfit[:] = 0.0
    blend = 1.0
    if guessed:
        gradient = np.zeros(6)
        hessian = np.zeros((6, 6))
        friction.cap[:] = 0.0
        evaluate(back, panels, laws, friction, girth, loads, pose, work, gradient, hessian)
        friction.cap[:] = STUCK
        grip(panels, friction, pose, work, blend)
    else:
        stick(friction, STICKY_MM)
    for _ in range(MAX_PASSES):
        work.counts[2] += 1
        status = relax(back, panels, laws, friction, girth, loads, pose, box, free, LOOSE * load_n, 1, work)
        if status != AT_REST:
            return status
        work.numbers[1], blend = grip(panels, friction, pose, work, blend)
        if work.numbers[1] < GRIP_CHANGE:
            work.counts[2] += 1
            return relax(back, panels, laws, friction, girth, loads, pose, box, free, goal * load_n, 0, work)
    return NO_GRIP


@compiled
def finish(panels, friction, pose, work, shear):
    """Fill the tractions on the saddle (n, 3) and let the springs follow; return slip share and dissipation."""
    slipping = 0.0
    load = 0.0
    lost = 0.0
    for i in range(panels.area.size):
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        p = work.pressure[i]
        load += p * panels.area[i]
        cap = friction.cap[i] if friction.stiffness > 0.0 else 0.0
        n = friction.normal[i]
        ux = r[0] + pose[9] - friction.anchor[i, 0]
        uy = r[1] + pose[10] - friction.anchor[i, 1]
        uz = r[2] + pose[11] - friction.anchor[i, 2]
        un = ux * n[0] + uy * n[1] + uz * n[2]
        ux -= un * n[0]
        uy -= un * n[1]
        uz -= un * n[2]
        u = np.sqrt(ux * ux + uy * uy + uz * uz)
        held = 0.0
        if cap > 0.0:
            held = 1.0
            if u * friction.stiffness > cap:
                held = cap / (friction.stiffness * u)
                slipping += p * panels.area[i]
                lost += panels.area[i] * cap * u * (1.0 - held)
        ux *= held
        uy *= held
        uz *= held
        shear[i, 0] = -friction.stiffness * ux
        shear[i, 1] = -friction.stiffness * uy
        shear[i, 2] = -friction.stiffness * uz
        friction.anchor[i, 0] = r[0] + pose[9] - ux
        friction.anchor[i, 1] = r[1] + pose[10] - uy
        friction.anchor[i, 2] = r[2] + pose[11] - uz
    return slipping / max(load, 1e-9), lost


@compiled
def lower(back, panels, pose):
    """Lower the pose until the first panel point touches; return whether any lies over the back."""
    found = False
    for _ in range(12):
        least = 1e9
        for i in range(panels.area.size):
            r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
            s, phi, radius, up, ci, cj, ta, tb, inside = locate(
                back, r[0] + pose[9], r[1] + pose[10], r[2] + pose[11]
            )
            if inside:
                found = True
                gap = radius - value(back.coefficients, ci, cj, basis(ta), basis(tb))
                least = min(least, gap)
        if not found:
            return False
        pose[11] -= least
        if abs(least) < 0.3:
            return True
    return True
