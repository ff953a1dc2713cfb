"""Energy of a pose, with its exact gradient and Hessian in `(dt, w)`: x ← t + dt + exp([w]×) R X."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.laws import law
from saddlebench.engine.fit._kernels.spline import derivatives, gap_terms, locate

STUCK = 1e30
# A bound on |∇(r − R)|: a point whose radial gap is g cannot touch before it has moved g over this.
STEEPEST = 2.5


@compiled
def add_stiffness(hessian, r, k, part):
    """Add a part of one point's stiffness `k` (xx, xy, xz, yy, yz, zz) at the lever `r`; upper triangle."""
    rx, ry, rz = r
    kxx, kxy, kxz = part * k[0], part * k[1], part * k[2]
    kyy, kyz, kzz = part * k[3], part * k[4], part * k[5]
    # columns of K·∂x/∂w with ∂x/∂w = (e_x × r, e_y × r, e_z × r)
    ax = kxz * ry - kxy * rz
    ay = kyz * ry - kyy * rz
    az = kzz * ry - kyz * rz
    bx = kxx * rz - kxz * rx
    by = kxy * rz - kyz * rx
    bz = kxz * rz - kzz * rx
    cx = kxy * rx - kxx * ry
    cy = kyy * rx - kxy * ry
    cz = kyz * rx - kxz * ry
    hessian[0, 0] += kxx
    hessian[0, 1] += kxy
    hessian[0, 2] += kxz
    hessian[1, 1] += kyy
    hessian[1, 2] += kyz
    hessian[2, 2] += kzz
    hessian[0, 3] += ax
    hessian[1, 3] += ay
    hessian[2, 3] += az
    hessian[0, 4] += bx
    hessian[1, 4] += by
    hessian[2, 4] += bz
    hessian[0, 5] += cx
    hessian[1, 5] += cy
    hessian[2, 5] += cz
    hessian[3, 3] += ry * az - rz * ay
    hessian[3, 4] += ry * bz - rz * by
    hessian[3, 5] += ry * cz - rz * cy
    hessian[4, 4] += rz * bx - rx * bz
    hessian[4, 5] += rz * cx - rx * cz
    hessian[5, 5] += rx * cy - ry * cx


@compiled
def add_force(gradient, moment, r, f):
    """Add one point's force `f` (dΠ/dx) at the lever `r`."""
    rx, ry, rz = r
    fx, fy, fz = f
    gradient[0] += fx
    gradient[1] += fy
    gradient[2] += fz
    gradient[3] += ry * fz - rz * fy
    gradient[4] += rz * fx - rx * fz
    gradient[5] += rx * fy - ry * fx
    moment[0, 0] += fx * rx
    moment[0, 1] += fx * ry
    moment[0, 2] += fx * rz
    moment[1, 0] += fy * rx
    moment[1, 1] += fy * ry
    moment[1, 2] += fy * rz
    moment[2, 0] += fz * rx
    moment[2, 1] += fz * ry
    moment[2, 2] += fz * rz


@compiled
def add_outer(matrix, r, u, v, part):
    """Add `part`·(Jᵀu)(Jᵀv)ᵀ of two vectors at the lever `r`, J = [I, −[r]×]: all 36 entries."""
    rx, ry, rz = r
    a = (u[0], u[1], u[2], ry * u[2] - rz * u[1], rz * u[0] - rx * u[2], rx * u[1] - ry * u[0])
    b = (v[0], v[1], v[2], ry * v[2] - rz * v[1], rz * v[0] - rx * v[2], rx * v[1] - ry * v[0])
    for m in range(6):
        for n in range(6):
            matrix[m, n] += part * a[m] * b[n]


@compiled
def close_hessian(hessian, moment):
    """Add the rotation's own second order, ½(M + Mᵀ) − tr(M)·I with M = Σ f rᵀ, and fill below the diagonal."""
    trace = moment[0, 0] + moment[1, 1] + moment[2, 2]
    for a in range(3):
        hessian[3 + a, 3 + a] -= trace
        for b in range(a, 3):
            hessian[3 + a, 3 + b] += 0.5 * (moment[a, b] + moment[b, a])
    for a in range(6):
        for b in range(a):
            hessian[a, b] = hessian[b, a]


@compiled
def add_contact_and_friction(
    back, panels, laws, friction, pose, work, follow, gradient, hessian, moment, extra
):
    """Add what acts between panels and back; return its energy. Fills pressures and normals.

    With `follow` 1 (0 otherwise; floats, as each constant of another type is compiled for anew), caps, normals
    and springs follow the pressures found here instead of lagging behind; what that adds to the derivative of the forces, which is not symmetric, goes to `extra`.
    """
    flat, row = back.flat, back.row
    motion = work.numbers[0]
    sticky = friction.stiffness > 0.0
    follows = follow > 0.0 and sticky
    energy = 0.0
    touched = 0
    for i in range(panels.area.size):
        cap = friction.cap[i] if sticky else 0.0
        if cap == 0.0 and motion < work.free_until[i]:
            continue
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        x, y, z = r[0] + pose[9], r[1] + pose[10], r[2] + pose[11]
        area = panels.area[i]
        fx = fy = fz = kxx = kxy = kxz = kyy = kyz = kzz = 0.0
        gx = gy = gz = slope = 0.0
        touches = False
        of_radius = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        if motion >= work.free_until[i]:
            touched += 1
            s, phi, radius, up, ci, cj, ta, tb, inside = locate(back, x, y, z)
            work.pressure[i] = 0.0
            if inside:
                ws = basis(ta)
                wp = basis(tb)
                first = ci * row + 2 * cj
                of_radius = derivatives(flat, row, first, ws, wp, back.per_ds, back.per_dphi)
                gap = radius - of_radius[0]
                touches = gap < 0.0
                if not touches:
                    work.free_until[i] = motion + gap / STEEPEST
            if touches:
                of_scale = derivatives(flat, row, first + 1, ws, wp, back.per_ds, back.per_dphi)
                d, gx, gy, gz, hxx, hxy, hxz, hyy, hyz, hzz = gap_terms(of_radius, of_scale, y, up, radius)
                m = panels.law[i]
                if laws.end[m, 0] == 0.0:
                    slope = laws.end[m, 3]
                    p = -slope * d
                    psi = -0.5 * p * d
                else:
                    psi, p, slope = law(laws, m, -d)
                energy += area * psi
                work.pressure[i] = p
                size = 1.0 / np.sqrt(gx * gx + gy * gy + gz * gz)
                work.normal[i, 0] = gx * size
                work.normal[i, 1] = gy * size
                work.normal[i, 2] = gz * size
                q = area * p
                k = area * slope
                fx, fy, fz = -q * gx, -q * gy, -q * gz
                kxx = k * gx * gx - q * hxx
                kxy = k * gx * gy - q * hxy
                kxz = k * gx * gz - q * hxz
                kyy = k * gy * gy - q * hyy
                kyz = k * gy * gz - q * hyz
                kzz = k * gz * gz - q * hzz
        part = down = 0.0
        if follows:
            cap = friction.coefficient * work.pressure[i]
            friction.cap[i] = cap
            if cap > 0.0:
                part, down = follow_point(friction, work, i, x, y, z)
        if cap > 0.0:
            nx, ny, nz = friction.normal[i, 0], friction.normal[i, 1], friction.normal[i, 2]
            ux = x - friction.anchor[i, 0]
            uy = y - friction.anchor[i, 1]
            uz = z - friction.anchor[i, 2]
            un = ux * nx + uy * ny + uz * nz
            ux -= un * nx
            uy -= un * ny
            uz -= un * nz
            u = np.sqrt(ux * ux + uy * uy + uz * uz)
            stiff = area * friction.stiffness
            along = 0.0
            slips = u * friction.stiffness > cap
            if slips:
                reach = cap / friction.stiffness
                energy += area * cap * (u - 0.5 * reach)
                stiff = area * cap / u
                along = stiff / (u * u)
            else:
                energy += 0.5 * stiff * u * u
            held = (
                stiff * (1.0 - nx * nx) - along * ux * ux,
                -stiff * nx * ny - along * ux * uy,
                -stiff * nx * nz - along * ux * uz,
                stiff * (1.0 - ny * ny) - along * uy * uy,
                -stiff * ny * nz - along * uy * uz,
                stiff * (1.0 - nz * nz) - along * uz * uz,
            )
            fx += stiff * ux
            fy += stiff * uy
            fz += stiff * uz
            kxx += held[0]
            kxy += held[1]
            kxz += held[2]
            kyy += held[3]
            kyz += held[4]
            kzz += held[5]
            if follows:
                if slips:
                    rise = -area * friction.coefficient * slope / u
                    add_outer(extra, r, (ux, uy, uz), (gx, gy, gz), rise)
                elif part > 0.0 and part < 1.0:
                    add_outer(extra, r, (ux, uy, uz), (nx, ny, nz), -stiff * part / ((1.0 - part) * down))
                if part > 0.0:
                    add_held(extra, r, held, part)
        elif not touches:
            continue
        add_force(gradient, moment, r, (fx, fy, fz))
        add_stiffness(hessian, r, (kxx, kxy, kxz, kyy, kyz, kzz), 1.0)
    work.counts[1] += 1
    work.counts[3] += touched
    return energy


@compiled
def follow_point(friction, work, i, x, y, z):
    """Renew a point's normal, and start the spring of one that was free when the step began where it first
    touched; return which part of its way it had gone by then, and that way along the normal."""
    nx, ny, nz = work.normal[i, 0], work.normal[i, 1], work.normal[i, 2]
    friction.normal[i, 0] = nx
    friction.normal[i, 1] = ny
    friction.normal[i, 2] = nz
    gap = friction.first_gap[i]
    if gap <= 0.0:
        return 0.0, 0.0
    ux = x - friction.first[i, 0]
    uy = y - friction.first[i, 1]
    uz = z - friction.first[i, 2]
    down = max(gap, -(ux * nx + uy * ny + uz * nz))
    part = gap / down
    friction.anchor[i, 0] = friction.first[i, 0] + part * ux
    friction.anchor[i, 1] = friction.first[i, 1] + part * uy
    friction.anchor[i, 2] = friction.first[i, 2] + part * uz
    return part, down


@compiled
def add_held(extra, r, k, part):
    """Take a part of a symmetric stiffness off the full matrix `extra`."""
    upper = np.zeros((6, 6))
    add_stiffness(upper, r, k, -part)
    for a in range(6):
        for b in range(6):
            extra[a, b] += upper[min(a, b), max(a, b)]


@compiled
def turned(pose, x, y, z):
    """Return R·(x, y, z)."""
    return (
        pose[0] * x + pose[1] * y + pose[2] * z,
        pose[3] * x + pose[4] * y + pose[5] * z,
        pose[6] * x + pose[7] * y + pose[8] * z,
    )


@compiled
def add_loads(loads, pose, gradient, hessian, moment):
    """Add weights at fixed points, and the rider, who sits where the seat is lowest; return their energy."""
    energy = 0.0
    for j in range(loads.points.shape[0]):
        force = loads.points[j, 3]
        r = turned(pose, loads.points[j, 0], loads.points[j, 1], loads.points[j, 2])
        energy += force * (pose[11] + r[2])
        add_force(gradient, moment, r, (0.0, 0.0, force))
    if loads.seat_n == 0.0:
        return energy
    slope = pose[6]
    bend = pose[8] * loads.seat_curvature
    reach = loads.seat_reach
    if bend * reach > abs(slope):
        u = -slope / bend
    else:
        u = -reach if slope > 0.0 else reach
    r = turned(pose, loads.seat_x + u, loads.seat_y, loads.seat_z + 0.5 * loads.seat_curvature * u * u)
    energy += loads.seat_n * (pose[11] + r[2])
    add_force(gradient, moment, r, (0.0, 0.0, loads.seat_n))
    if bend * reach > abs(slope):
        # the rider slides to the new lowest point: −z_uw z_uwᵀ / z_uu, along the seat's tangent (tx, ty)
        tx, ty, _ = turned(pose, 1.0, 0.0, loads.seat_curvature * u)
        soft = loads.seat_n / bend
        hessian[3, 3] -= soft * ty * ty
        hessian[3, 4] += soft * tx * ty
        hessian[4, 4] -= soft * tx * tx
    return energy


@compiled
def girth_length(girth, pose):
    """Return the free length of the girth, both sides, mean over the strap pairs."""
    length = 0.0
    for j in range(girth.anchors.shape[0]):
        r = turned(pose, girth.anchors[j, 0], girth.anchors[j, 1], girth.anchors[j, 2])
        x = r[0] + pose[9] - girth.wraps[j, 0]
        y = r[1] + pose[10] - girth.wraps[j, 1]
        z = r[2] + pose[11] - girth.wraps[j, 2]
        length += girth.share * np.sqrt(x * x + y * y + z * z)
    return length


@compiled
def girth_tension(girth, pose):
    """Return the tension; a slack girth pulls nothing."""
    return max(0.0, girth.tension + girth.stiffness * (girth_length(girth, pose) - girth.length))


@compiled
def add_girth(girth, pose, gradient, hessian, moment):
    """Add the girth, V = ⟨T₀ + k(L − L₀)⟩²/2k, or T₀·(L − L₀) while it is being tightened; return its energy."""
    stretch = girth_length(girth, pose) - girth.length
    tension = max(0.0, girth.tension + girth.stiffness * stretch)
    if tension == 0.0:
        return 0.0
    pull = np.zeros(6)
    for j in range(girth.anchors.shape[0]):
        r = turned(pose, girth.anchors[j, 0], girth.anchors[j, 1], girth.anchors[j, 2])
        x = r[0] + pose[9] - girth.wraps[j, 0]
        y = r[1] + pose[10] - girth.wraps[j, 1]
        z = r[2] + pose[11] - girth.wraps[j, 2]
        length = np.sqrt(x * x + y * y + z * z)
        x, y, z = x / length, y / length, z / length
        force = tension * girth.share
        k = force / length
        pull[0] += girth.share * x
        pull[1] += girth.share * y
        pull[2] += girth.share * z
        pull[3] += girth.share * (r[1] * z - r[2] * y)
        pull[4] += girth.share * (r[2] * x - r[0] * z)
        pull[5] += girth.share * (r[0] * y - r[1] * x)
        bend = (k * (1.0 - x * x), -k * x * y, -k * x * z, k * (1.0 - y * y), -k * y * z, k * (1.0 - z * z))
        add_force(gradient, moment, r, (force * x, force * y, force * z))
        add_stiffness(hessian, r, bend, 1.0)
    if girth.stiffness == 0.0:
        return tension * stretch
    for a in range(6):
        for b in range(a, 6):
            hessian[a, b] += girth.stiffness * pull[a] * pull[b]
    return 0.5 * tension * tension / girth.stiffness


@compiled
def evaluate(back, panels, laws, friction, girth, loads, pose, work, follow, gradient, hessian, extra):
    """Return the energy [N·mm] at a pose; fill the gradient (6,) and the Hessian (6, 6) [N, mm, rad].

    With `follow` 1 (see above) hessian + extra is the derivative of the gradient.
    """
    gradient[:] = 0.0
    hessian[:] = 0.0
    extra[:] = 0.0
    moment = np.zeros((3, 3))
    energy = add_contact_and_friction(
        back, panels, laws, friction, pose, work, follow, gradient, hessian, moment, extra
    )
    energy += add_loads(loads, pose, gradient, hessian, moment)
    energy += add_girth(girth, pose, gradient, hessian, moment)
    close_hessian(hessian, moment)
    return energy
