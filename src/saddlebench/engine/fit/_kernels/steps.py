"""One load step: lagged friction around the Newton solver, and what friction remembers between steps."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import (
    STUCK,
    add_force,
    add_stiffness,
    close_hessian,
    follow_point,
    turned,
)
from saddlebench.engine.fit._kernels.newton import AT_REST, NO_GRIP, follow_through, relax
from saddlebench.engine.fit._kernels.spline import derivatives, gap_terms, locate, value

MAX_PASSES = 20
STICKY_MM = 8.0  # points this near hold in the first pass
LOOSE = 3e-3  # of the load, in all passes but the last
NEARLY_GRIPS = 0.2  # misfit of friction over the load below which the last stage is tried


@compiled
def begin(back, panels, friction, pose, work, pressure, normal):
    """Remember where the step begins, from the pressures and normals at which the last one ended.

    A point that did not touch holds nothing yet: its spring waits where it is.
    """
    flat, row = back.flat, back.row
    for i in range(panels.area.size):
        if pressure[i] > 0.0:
            friction.first_gap[i] = -1.0
            friction.normal[i, 0] = normal[i, 0]
            friction.normal[i, 1] = normal[i, 1]
            friction.normal[i, 2] = normal[i, 2]
            continue
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        x, y, z = r[0] + pose[9], r[1] + pose[10], r[2] + pose[11]
        s, phi, radius, up, ci, cj, ta, tb, inside = locate(back, x, y, z)
        gap = 1e9
        if inside:
            ws = basis(ta)
            wp = basis(tb)
            first = ci * row + 2 * cj
            of_radius = derivatives(flat, row, first, ws, wp, back.per_ds, back.per_dphi)
            of_scale = derivatives(flat, row, first + 1, ws, wp, back.per_ds, back.per_dphi)
            terms = gap_terms(of_radius, of_scale, y, up, radius)
            gap = max(0.0, terms[0])
            size = np.sqrt(terms[1] ** 2 + terms[2] ** 2 + terms[3] ** 2)
            for k in range(3):
                friction.normal[i, k] = terms[1 + k] / size
        friction.first_gap[i] = gap
        friction.first[i, 0], friction.first[i, 1], friction.first[i, 2] = x, y, z
        friction.anchor[i, 0], friction.anchor[i, 1], friction.anchor[i, 2] = x, y, z
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
            r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
            follow_point(friction, work, i, r[0] + pose[9], r[1] + pose[10], r[2] + pose[11])
    if load == 0.0:
        return 0.0, blend
    return misfit / load, blend


@compiled
def load_step(back, panels, laws, friction, girth, loads, pose, box, free, load_n, goal, guessed, work):
    """Bring the saddle to rest under new loads; return how it ended. `goal` is a share of the load.

    `guessed` says that `pose` is already close to the answer, so that the first pass need not stick.
    """
    if friction.stiffness == 0.0:
        return relax(back, panels, laws, friction, girth, loads, pose, box, free, goal * load_n, 0.0, work)
    if guessed:
        status = follow_through(
            back, panels, laws, friction, girth, loads, pose, box, free, goal * load_n, work
        )
        if status == AT_REST:
            return status
    work.misfit[:] = 0.0
    blend = 1.0
    stick(friction, STICKY_MM)
    for _ in range(MAX_PASSES):
        work.counts[2] += 1
        status = relax(back, panels, laws, friction, girth, loads, pose, box, free, LOOSE * load_n, 1.0, work)
        if status != AT_REST:
            return status
        misfit, blend = grip(panels, friction, pose, work, blend)
        if misfit < NEARLY_GRIPS:
            springs = friction.anchor.copy()
            status = follow_through(
                back, panels, laws, friction, girth, loads, pose, box, free, goal * load_n, work
            )
            if status == AT_REST:
                return status
            friction.anchor[:] = springs
    return NO_GRIP


@compiled
def finish(panels, friction, pose, work, fields, grip, held):
    """Fill what friction leaves behind, and let the springs follow what slipped.

    `grip` (6, 6) is friction's part of the tangent, `held` (6, 6) the same for a disturbance that comes after
    the springs have followed, without what resists sliding back. Returns the slip share of the load and the
    energy lost. The springs of this step stay as they were in `friction`; `fields` has those of the next.
    """
    shear, slide, springs = fields.shear, fields.slide, fields.springs
    gradient = np.zeros(6)
    moment = np.zeros((3, 3))
    stuck = np.zeros((6, 6))
    slipping = 0.0
    load = 0.0
    lost = 0.0
    for i in range(panels.area.size):
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        x, y, z = r[0] + pose[9], r[1] + pose[10], r[2] + pose[11]
        force = work.pressure[i] * panels.area[i]
        load += force
        cap = friction.cap[i] if friction.stiffness > 0.0 else 0.0
        if cap <= 0.0:
            springs[i, 0], springs[i, 1], springs[i, 2] = x, y, z
            continue
        nx, ny, nz = friction.normal[i, 0], friction.normal[i, 1], friction.normal[i, 2]
        ux = x - friction.anchor[i, 0]
        uy = y - friction.anchor[i, 1]
        uz = z - friction.anchor[i, 2]
        un = ux * nx + uy * ny + uz * nz
        ux -= un * nx
        uy -= un * ny
        uz -= un * nz
        u = np.sqrt(ux * ux + uy * uy + uz * uz)
        part = min(1.0, cap / max(friction.stiffness * u, 1e-12))
        stiff = panels.area[i] * friction.stiffness
        if part < 1.0:
            slipping += force
            lost += panels.area[i] * cap * u * (1.0 - part)
            dx, dy, dz = ux / u, uy / u, uz / u
            slide[i, 0], slide[i, 1], slide[i, 2] = dx, dy, dz
            across = (
                stiff * (1.0 - nx * nx - dx * dx),
                -stiff * (nx * ny + dx * dy),
                -stiff * (nx * nz + dx * dz),
                stiff * (1.0 - ny * ny - dy * dy),
                -stiff * (ny * nz + dy * dz),
                stiff * (1.0 - nz * nz - dz * dz),
            )
            add_stiffness(grip, r, across, part)
            add_stiffness(held, r, across, 1.0)
        else:
            along_skin = (
                stiff * (1.0 - nx * nx),
                -stiff * nx * ny,
                -stiff * nx * nz,
                stiff * (1.0 - ny * ny),
                -stiff * ny * nz,
                stiff * (1.0 - nz * nz),
            )
            add_stiffness(stuck, r, along_skin, 1.0)
        ux *= part
        uy *= part
        uz *= part
        add_force(gradient, moment, r, (stiff * ux, stiff * uy, stiff * uz))
        shear[i, 0] = -friction.stiffness * ux
        shear[i, 1] = -friction.stiffness * uy
        shear[i, 2] = -friction.stiffness * uz
        springs[i, 0] = x - ux
        springs[i, 1] = y - uy
        springs[i, 2] = z - uz
    for a in range(6):
        for b in range(6):
            grip[a, b] += stuck[a, b]
            held[a, b] += stuck[a, b]
    close_hessian(grip, moment)
    close_hessian(held, moment)
    return slipping / max(load, 1e-9), lost


@compiled
def lower(back, panels, pose):
    """Lower the pose until a panel point comes near; return whether any lies over the back."""
    flat, row = back.flat, back.row
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
                gap = radius - value(flat, row, ci * row + 2 * cj, basis(ta), basis(tb))
                least = min(least, gap)
        if not found:
            return False
        pose[11] -= least
        if abs(least) < 2.0:
            return True
    return True
