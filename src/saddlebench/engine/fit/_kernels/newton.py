"""Eigenvalue-shifted trust-region Newton for the six freedoms of a rigid saddle."""

import numpy as np

from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import evaluate

LEVER = 150.0  # mm of sway that one radian counts for
TRUST_RADIUS = 20.0
MAX_ITERATIONS = 40
FOLLOW_ITERATIONS = 10
FOLLOW_REACH = 8.0  # mm that a panel point may go in one step of the last stage

AT_REST = 0
NO_REST = 1  # iterations used up
LEFT_BOX = 2
STALLED = 3
NO_GRIP = 4  # friction passes used up


@compiled
def norm(vector):
    """Return the length of a vector."""
    total = 0.0
    for k in range(vector.size):
        total += vector[k] * vector[k]
    return np.sqrt(total)


@compiled
def eigen(matrix, values, vectors):
    """Fill eigenvalues and column vectors of a small symmetric matrix, by cyclic Jacobi rotations."""
    n = values.size
    a = matrix.copy()
    vectors[:] = 0.0
    for i in range(n):
        vectors[i, i] = 1.0
    for _ in range(30):
        off = 0.0
        size = 0.0
        for p in range(n):
            size += a[p, p] * a[p, p]
            for q in range(p):
                off += a[p, q] * a[p, q]
        if off <= 1e-30 * size:
            break
        for p in range(n):
            for q in range(p + 1, n):
                if a[p, q] == 0.0:
                    continue
                theta = 0.5 * (a[q, q] - a[p, p]) / a[p, q]
                t = 1.0 / (abs(theta) + np.sqrt(theta * theta + 1.0))
                if theta < 0.0:
                    t = -t
                c = 1.0 / np.sqrt(t * t + 1.0)
                s = t * c
                for k in range(n):
                    akp, akq = a[k, p], a[k, q]
                    a[k, p] = c * akp - s * akq
                    a[k, q] = s * akp + c * akq
                for k in range(n):
                    apk, aqk = a[p, k], a[q, k]
                    a[p, k] = c * apk - s * aqk
                    a[q, k] = s * apk + c * aqk
                    vkp, vkq = vectors[k, p], vectors[k, q]
                    vectors[k, p] = c * vkp - s * vkq
                    vectors[k, q] = s * vkp + c * vkq
    for i in range(n):
        values[i] = a[i, i]


@compiled
def step_within(values, slopes, radius, step):
    """Fill the minimiser of the quadratic model within the radius, all in the eigenbasis.

    The shift σ solves |s(σ)| = radius (Conn, Gould & Toint, Trust-Region Methods, ch. 7). It is at least twice
    the depth of the softest direction, so that a symmetric saddle on a ridge, whose slope sideways is rounding
    alone, stays on it: the instability is found and reported, and no side is chosen by rounding.
    """
    softest = values[0]
    largest = abs(values[0])
    for i in range(values.size):
        softest = min(softest, values[i])
        largest = max(largest, abs(values[i]))
    low = max(0.0, -2.0 * softest)
    if softest < 1e-12 * largest:
        low += 1e-9 * largest
    for i in range(values.size):
        step[i] = -slopes[i] / (values[i] + low)
    if norm(step) <= radius:
        return
    high = low + norm(slopes) / radius
    for _ in range(60):
        sigma = 0.5 * (low + high)
        for i in range(values.size):
            step[i] = -slopes[i] / (values[i] + sigma)
        length = norm(step)
        if abs(length - radius) < 0.02 * radius:
            return
        if length > radius:
            low = sigma
        else:
            high = sigma


@compiled
def moved(pose, dt, w, out):
    """Fill `out` with the pose after a step: t + dt, exp([w]×) R (Rodrigues)."""
    angle = np.sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2])
    if angle < 1e-6:
        a = 1.0 - angle * angle / 6.0
        b = 0.5 - angle * angle / 24.0
    else:
        a = np.sin(angle) / angle
        b = 2.0 * (np.sin(0.5 * angle) / angle) ** 2
    for col in range(3):
        x, y, z = pose[col], pose[3 + col], pose[6 + col]
        cx = w[1] * z - w[2] * y
        cy = w[2] * x - w[0] * z
        cz = w[0] * y - w[1] * x
        out[col] = x + a * cx + b * (w[1] * cz - w[2] * cy)
        out[3 + col] = y + a * cy + b * (w[2] * cx - w[0] * cz)
        out[6 + col] = z + a * cz + b * (w[0] * cy - w[1] * cx)
    for k in range(3):
        out[9 + k] = pose[9 + k] + dt[k]


@compiled
def outside(pose, box_pose, box_mm, box_rad):
    """Tell whether a pose has left the box about another; sinking in is not leaving."""
    far = 0.0
    trace = 0.0
    for k in range(2):
        far += (pose[9 + k] - box_pose[9 + k]) ** 2
    for k in range(9):
        trace += pose[k] * box_pose[k]
    turn = np.arccos(min(1.0, max(-1.0, 0.5 * (trace - 1.0))))
    return far > box_mm * box_mm or turn > box_rad


@compiled
def scaled(gradient, hessian, free, g, h):
    """Fill gradient and Hessian in lengths `(dt, ℓw)` over the free directions."""
    n = free.size
    for a in range(n):
        la = 1.0 if free[a] < 3 else 1.0 / LEVER
        g[a] = gradient[free[a]] * la
        for b in range(n):
            lb = 1.0 if free[b] < 3 else 1.0 / LEVER
            h[a, b] = hessian[free[a], free[b]] * la * lb


@compiled
def take_step(pose, free, step, lever, trial):
    """Fill the pose after a step in the free directions [mm, mm of lever]; return how far a point may move."""
    dt = np.zeros(3)
    w = np.zeros(3)
    for a in range(free.size):
        if free[a] < 3:
            dt[free[a]] = step[a]
        else:
            w[free[a] - 3] = step[a] / LEVER
    moved(pose, dt, w, trial)
    return norm(dt) + lever * norm(w)


@compiled
def model_step(h, g, radius, step):
    """Fill the step to the model's lowest point within the radius; return the fall it foretells."""
    n = g.size
    values = np.zeros(n)
    vectors = np.zeros((n, n))
    slopes = np.zeros(n)
    along = np.zeros(n)
    eigen(h, values, vectors)
    for i in range(n):
        for a in range(n):
            slopes[i] += vectors[a, i] * g[a]
    step_within(values, slopes, radius, along)
    fall = 0.0
    step[:] = 0.0
    for i in range(n):
        fall -= along[i] * (slopes[i] + 0.5 * values[i] * along[i])
        for a in range(n):
            step[a] += vectors[a, i] * along[i]
    return fall


@compiled
def relax(back, panels, laws, friction, girth, loads, pose, box, free, goal_n, least, work):
    """Move `pose` to where the energy is stationary, minimal if it can be; return how it ended.

    `box` holds a pose (12), how far it may be left [mm], [rad], and the longest lever of a panel point [mm].
    At least `least` iterations are made.
    """
    n = free.size
    gradient = np.zeros(6)
    hessian = np.zeros((6, 6))
    extra = np.zeros((6, 6))
    g = np.zeros(n)
    h = np.zeros((n, n))
    trial_g = np.zeros(n)
    trial_h = np.zeros((n, n))
    step = np.zeros(n)
    trial = pose.copy()
    radius = TRUST_RADIUS
    energy = residual = foretold = length = 0.0
    iterations = 0.0
    closing = False
    status = NO_REST
    while True:
        trial_energy = evaluate(
            back, panels, laws, friction, girth, loads, trial, work, 0.0, gradient, hessian, extra
        )
        scaled(gradient, hessian, free, trial_g, trial_h)
        ratio = 1.0
        if iterations > 0 and not closing:
            if foretold > 1e-12 * (abs(energy) + abs(trial_energy)):
                ratio = (energy - trial_energy) / foretold
            elif norm(trial_g) >= residual:
                # beyond what differences of energy resolve the force itself must fall
                ratio = 0.0
        taken = ratio > 0.05
        if taken:
            pose[:] = trial
            energy = trial_energy
            g[:] = trial_g
            h[:] = trial_h
            residual = norm(g)
            work.tangent[:] = hessian
            if closing:
                break
            if outside(pose, box[:12], box[12], box[13]):
                status = LEFT_BOX
                break
            if ratio > 0.75 and length > 0.8 * radius:
                radius = min(2.0 * radius, TRUST_RADIUS)
        if ratio < 0.25:
            radius = 0.35 * length
        if residual <= goal_n and iterations >= least:
            status = AT_REST
        elif radius < 1e-10:
            status = STALLED
        elif iterations < MAX_ITERATIONS:
            iterations += 1
            foretold = model_step(h, g, radius, step)
            length = norm(step)
            work.numbers[0] += take_step(pose, free, step, box[14], trial)
            continue
        if taken:
            break
        # pressures must be those of the pose that is kept
        closing = True
        trial[:] = pose
    work.counts[0] += int(iterations)
    work.numbers[2] = residual
    work.numbers[3] = energy
    return status


@compiled
def solve_small(a, b):
    """Solve a·x = b in place by elimination with row pivots; return whether it went. `b` becomes x."""
    n = b.size
    for k in range(n):
        pivot = k
        for i in range(k + 1, n):
            if abs(a[i, k]) > abs(a[pivot, k]):
                pivot = i
        if a[pivot, k] == 0.0:
            return False
        if pivot != k:
            for j in range(n):
                a[k, j], a[pivot, j] = a[pivot, j], a[k, j]
            b[k], b[pivot] = b[pivot], b[k]
        for i in range(k + 1, n):
            factor = a[i, k] / a[k, k]
            for j in range(k, n):
                a[i, j] -= factor * a[k, j]
            b[i] -= factor * b[k]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            b[k] -= a[k, j] * b[j]
        b[k] /= a[k, k]
    return True


@compiled
def follow_through(back, panels, laws, friction, girth, loads, pose, box, free, goal_n, work):
    """Finish with friction that follows the pressures: plain Newton on the balance of forces, from close by.

    Its answer is the one that lagging converges to. Where it does not come nearer quickly the pose is put
    back and the lagging goes on.
    """
    n = free.size
    gradient = np.zeros(6)
    hessian = np.zeros((6, 6))
    extra = np.zeros((6, 6))
    g = np.zeros(n)
    h = np.zeros((n, n))
    kept = pose.copy()
    trial = np.zeros(12)
    last = 1e300
    for _ in range(FOLLOW_ITERATIONS):
        energy = evaluate(
            back, panels, laws, friction, girth, loads, pose, work, 1.0, gradient, hessian, extra
        )
        work.tangent[:] = hessian
        for a in range(6):
            for b in range(6):
                hessian[a, b] += extra[a, b]
        scaled(gradient, hessian, free, g, h)
        residual = norm(g)
        work.numbers[2] = residual
        work.numbers[3] = energy
        if residual <= goal_n:
            return AT_REST
        if residual > 0.7 * last:
            break
        last = residual
        work.counts[0] += 1
        if not solve_small(h, g):
            break
        for a in range(n):
            g[a] = -g[a]
        motion = take_step(pose, free, g, box[14], trial)
        if motion > FOLLOW_REACH:
            break
        pose[:] = trial
        work.numbers[0] += motion
        if outside(pose, box[:12], box[12], box[13]):
            break
    work.numbers[0] += FOLLOW_REACH * FOLLOW_ITERATIONS
    pose[:] = kept
    return NO_GRIP
