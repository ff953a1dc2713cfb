"""Energy of a pose, with its exact gradient and Hessian in `(dt, w)`: x ← t + dt + exp([w]×) R X."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.laws import law
from saddlebench.engine.fit._kernels.spline import gap_terms, locate, value

STUCK = 1e30
# A bound on |∇(r − R)|: a point whose radial gap is g cannot touch before it has moved g over this.
STEEPEST = 2.5


@compiled
def add_point(gradient, hessian, moment, r, f, k):
    """Add one point's force `f` (dΠ/dx) and stiffness `k` (xx, xy, xz, yy, yz, zz) at the lever `r`."""
    rx, ry, rz = r
    fx, fy, fz = f
    kxx, kxy, kxz, kyy, kyz, kzz = k
    gradient[0] += fx
    gradient[1] += fy
    gradient[2] += fz
    gradient[3] += ry * fz - rz * fy
    gradient[4] += rz * fx - rx * fz
    gradient[5] += rx * fy - ry * fx
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
def add_contact_and_friction(back, panels, laws, friction, pose, work, gradient, hessian, moment):
    """Add what acts between panels and back; return its energy. Fills pressures and normals."""
    motion = work.numbers[0]
    energy = 0.0
    touched = 0
    sticky = friction.stiffness > 0.0
    for i in range(panels.area.size):
        cap = friction.cap[i] if sticky else 0.0
        if cap == 0.0 and motion < work.free_until[i]:
            continue
        px, py, pz = panels.points[i, 0], panels.points[i, 1], panels.points[i, 2]
        rx = pose[0] * px + pose[1] * py + pose[2] * pz
        ry = pose[3] * px + pose[4] * py + pose[5] * pz
        rz = pose[6] * px + pose[7] * py + pose[8] * pz
        x, y, z = rx + pose[9], ry + pose[10], rz + pose[11]
        area = panels.area[i]
        fx = fy = fz = kxx = kxy = kxz = kyy = kyz = kzz = 0.0
        touches = False
        if motion >= work.free_until[i]:
            touched += 1
            s, phi, radius, up, ci, cj, ta, tb, inside = locate(back, x, y, z)
            work.pressure[i] = 0.0
            if inside:
                gap = radius - value(back.coefficients, ci, cj, basis(ta), basis(tb))
                touches = gap < 0.0
                if not touches:
                    work.free_until[i] = motion + gap / STEEPEST
            if touches:
                d, gx, gy, gz, hxx, hxy, hxz, hyy, hyz, hzz = gap_terms(back, ci, cj, ta, tb, y, up, radius)
                psi, p, slope = law(laws, panels.law[i], -d)
                energy += area * psi
                work.pressure[i] = p
                size = 1.0 / np.sqrt(gx * gx + gy * gy + gz * gz)
                work.normal[i, 0] = gx * size
                work.normal[i, 1] = gy * size
                work.normal[i, 2] = gz * size
                q = area * p
                m = area * slope
                fx, fy, fz = -q * gx, -q * gy, -q * gz
                kxx = m * gx * gx - q * hxx
                kxy = m * gx * gy - q * hxy
                kxz = m * gx * gz - q * hxz
                kyy = m * gy * gy - q * hyy
                kyz = m * gy * gz - q * hyz
                kzz = m * gz * gz - q * hzz
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
            if u * friction.stiffness > cap:
                reach = cap / friction.stiffness
                energy += area * cap * (u - 0.5 * reach)
                stiff = area * cap / u
                along = stiff / (u * u)
            else:
                energy += 0.5 * stiff * u * u
            fx += stiff * ux
            fy += stiff * uy
            fz += stiff * uz
            kxx += stiff * (1.0 - nx * nx) - along * ux * ux
            kxy += -stiff * nx * ny - along * ux * uy
            kxz += -stiff * nx * nz - along * ux * uz
            kyy += stiff * (1.0 - ny * ny) - along * uy * uy
            kyz += -stiff * ny * nz - along * uy * uz
            kzz += stiff * (1.0 - nz * nz) - along * uz * uz
        elif not touches:
            continue
        add_point(gradient, hessian, moment, (rx, ry, rz), (fx, fy, fz), (kxx, kxy, kxz, kyy, kyz, kzz))
    work.counts[1] += 1
    work.counts[3] += touched
    return energy


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
    none = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    energy = 0.0
    for j in range(loads.points.shape[0]):
        force = loads.points[j, 3]
        r = turned(pose, loads.points[j, 0], loads.points[j, 1], loads.points[j, 2])
        energy += force * (pose[11] + r[2])
        add_point(gradient, hessian, moment, r, (0.0, 0.0, force), none)
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
    add_point(gradient, hessian, moment, r, (0.0, 0.0, loads.seat_n), none)
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
        add_point(gradient, hessian, moment, r, (force * x, force * y, force * z), bend)
    if girth.stiffness == 0.0:
        return tension * stretch
    for a in range(6):
        for b in range(a, 6):
            hessian[a, b] += girth.stiffness * pull[a] * pull[b]
    return 0.5 * tension * tension / girth.stiffness


@compiled
def evaluate(back, panels, laws, friction, girth, loads, pose, work, gradient, hessian):
    """Return the energy [N·mm] at a pose; fill the gradient (6,) and the Hessian (6, 6) [N, mm, rad]."""
    gradient[:] = 0.0
    hessian[:] = 0.0
    moment = np.zeros((3, 3))
    energy = add_contact_and_friction(back, panels, laws, friction, pose, work, gradient, hessian, moment)
    energy += add_loads(loads, pose, gradient, hessian, moment)
    energy += add_girth(girth, pose, gradient, hessian, moment)
    close_hessian(hessian, moment)
    return energy
