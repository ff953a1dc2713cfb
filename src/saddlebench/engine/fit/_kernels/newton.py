"""Eigenvalue-shifted trust-region Newton for the six freedoms of a rigid saddle."""

import numpy as np

from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import evaluate

LEVER = 150.0  # mm of sway that one radian counts for
TRUST_RADIUS = 20.0
MAX_ITERATIONS = 40

AT_REST = 0
NO_REST = 1  # iterations used up
LEFT_BOX = 2
STALLED = 3
NO_GRIP = 4  # friction passes used up


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

    The shift σ solves |s(σ)| = radius (Conn, Gould & Toint, Trust-Region Methods, ch. 7). Where the slope
    along the softest direction vanishes exactly (a symmetric saddle on a ridge) the ridge is kept, so that
    the instability is found and reported, and no side is chosen by rounding.
    """
    softest = values.min()
    largest = max(abs(values.max()), abs(softest))
    low = max(0.0, -softest + 1e-9 * largest)
    norm = 0.0
    for i in range(values.size):
        step[i] = -slopes[i] / (values[i] + low + 1e-300)
        norm += step[i] * step[i]
    if norm <= radius * radius:
        return
    size = 0.0
    for i in range(values.size):
        size += slopes[i] * slopes[i]
    high = low + np.sqrt(size) / radius
    for _ in range(60):
        sigma = 0.5 * (low + high)
        norm = 0.0
        for i in range(values.size):
            step[i] = -slopes[i] / (values[i] + sigma)
            norm += step[i] * step[i]
        norm = np.sqrt(norm)
        if abs(norm - radius) < 0.02 * radius:
            return
        if norm > radius:
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
    """Tell whether a pose has left the box about another."""
    far = 0.0
    trace = 0.0
    for k in range(3):
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
def relax(back, panels, laws, friction, girth, loads, pose, box, free, goal_n, least, work):
    """Move `pose` to where the energy is stationary, minimal if it can be; return how it ended.

    `box` holds a pose (12), how far it may be left [mm], [rad], and the longest lever of a panel point [mm].
    At least `least` iterations are made.
    """
    n = free.size
    gradient = np.zeros(6)
    hessian = np.zeros((6, 6))
    g = np.zeros(n)
    h = np.zeros((n, n))
    values = np.zeros(n)
    vectors = np.zeros((n, n))
    slopes = np.zeros(n)
    along = np.zeros(n)
    step = np.zeros(6)
    trial = np.zeros(12)
    trial_gradient = np.zeros(6)
    trial_hessian = np.zeros((6, 6))
    radius = TRUST_RADIUS
    energy = evaluate(back, panels, laws, friction, girth, loads, pose, work, gradient, hessian)
    fresh = True
    status = NO_REST
    residual = 0.0
    for iteration in range(MAX_ITERATIONS):
        scaled(gradient, hessian, free, g, h)
        residual = np.sqrt(np.sum(g * g))
        if residual <= goal_n and iteration >= least:
            status = AT_REST
            break
        work.counts[0] += 1
        eigen(h, values, vectors)
        for i in range(n):
            slopes[i] = 0.0
            for a in range(n):
                slopes[i] += vectors[a, i] * g[a]
        step_within(values, slopes, radius, along)
        step[:] = 0.0
        predicted = 0.0
        length = 0.0
        for i in range(n):
            predicted -= along[i] * (slopes[i] + 0.5 * values[i] * along[i])
            length += along[i] * along[i]
            for a in range(n):
                step[free[a]] += vectors[a, i] * along[i] / (1.0 if free[a] < 3 else LEVER)
        length = np.sqrt(length)
        moved(pose, step[:3], step[3:], trial)
        motion = np.sqrt(np.sum(step[:3] ** 2)) + box[14] * np.sqrt(np.sum(step[3:] ** 2))
        work.numbers[0] += motion
        trial_energy = evaluate(
            back, panels, laws, friction, girth, loads, trial, work, trial_gradient, trial_hessian
        )
        gained = energy - trial_energy
        noise = 1e-12 * (abs(energy) + abs(trial_energy))
        if predicted < noise:
            # beyond what differences of energy resolve: the force itself must fall
            scaled(trial_gradient, trial_hessian, free, g, h)
            good = np.sqrt(np.sum(g * g)) < residual
            ratio = 1.0 if good else 0.0
        else:
            ratio = gained / predicted
            good = ratio > 0.05
        fresh = good
        if good:
            pose[:] = trial
            energy = trial_energy
            gradient[:] = trial_gradient
            hessian[:] = trial_hessian
            if outside(pose, box[:12], box[12], box[13]):
                status = LEFT_BOX
                break
            if ratio > 0.75 and length > 0.8 * radius:
                radius = min(2.0 * radius, TRUST_RADIUS)
        if ratio < 0.25:
            radius = 0.35 * length
        if radius < 1e-10:
            status = STALLED
            break
    if not fresh:
        energy = evaluate(back, panels, laws, friction, girth, loads, pose, work, gradient, hessian)
    work.numbers[2] = residual
    work.numbers[3] = energy
    return status
