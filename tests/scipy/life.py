"""What edges of form tools have left, learned from others: scipy's fit, incomplete gamma functions and distributions."""

import math

import numpy as np
from scipy import special, stats

from cases import comparison, pick, random, root, uniform


def fit(failures, suspensions):
    """The likeliest shape and scale, by a root of the shape's equation, and the covariance of their logarithms, by complex
    steps in the slopes of the likelihood."""
    lives = np.concatenate([failures, suspensions])
    logs, failed = np.log(lives), np.log(failures)
    top = logs.max()

    def score(b):
        power = np.exp(b * (logs - top))
        return (power * logs).sum() / power.sum() - 1 / b - failed.mean()

    shape = root(score, 1e-2, 500)
    r = len(failures)
    log_scale = top + math.log(np.exp(shape * (logs - top)).sum() / r) / shape

    def slopes(u, v):
        w = np.exp(u) * (logs - v)
        wf = np.exp(u) * (failed - v)
        return np.array([r + wf.sum() - (w * np.exp(w)).sum(), np.exp(u) * (np.exp(w).sum() - r)])

    u, step = math.log(shape), 1e-30j
    information = -np.array([slopes(u + step, log_scale).imag, slopes(u, log_scale + step).imag]) / 1e-30
    return shape, math.exp(log_scale), np.linalg.inv(information)


def after(shape, scale, made):
    """Mean, variance and third central moment of what an edge has left that has made so many, from the moments of whole lives
    beyond it: upper incomplete gamma functions of the hazard so far."""
    hazard = (made / scale) ** shape

    def power(k):
        a = 1 + k / shape
        return special.gammaincc(a, hazard) * special.gamma(a) * math.exp(hazard)

    one, two, three = (power(k) for k in (1, 2, 3))
    return scale * one - made, scale**2 * (two - one**2), scale**3 * (three - 3 * one * two + 2 * one**3)


def chances(shape, scale, in_use, fresh):
    """The distribution function of what is left."""
    if len(in_use) + fresh == 1:
        made = in_use[0] if in_use else 0
        survival = stats.weibull_min(shape, scale=scale)
        return lambda x: -math.expm1(survival.logsf(made + x) - survival.logsf(made))
    new = after(shape, scale, 0)
    mean, variance, third = fresh * np.array(new) + sum((np.array(after(shape, scale, t)) for t in in_use), np.zeros(3))
    deviation = math.sqrt(variance)
    g = min(max(third / deviation**3, -2), 2)

    def at(x):
        k = (x - mean) / deviation
        return special.ndtr(6 / g * (np.cbrt(1 + g * k / 2) - 1) + g / 6)

    return at


@comparison("edges-left", 1e-5)
def edges():
    shape, scale = uniform(1.2, 5), uniform(800, 20000)
    # As pieces are: whole numbers.
    failures = np.ceil(scale * random.weibull(shape, random.integers(5, 25)))
    suspensions = np.ceil(scale * random.weibull(shape, random.integers(0, 12)) * uniform(0.2, 1))
    in_use = [int(t) for t in np.ceil(uniform(0.02, 1.3, random.integers(0, 4)) * scale)]
    fresh = int(pick(0, 1, 5, random.integers(0, 60)))
    if len(set(failures)) < 3 or (not in_use and not fresh):
        return None
    b, e, covariance = fit(failures, suspensions)
    r = len(failures)
    L = np.linalg.cholesky(covariance * r / (r - 2))
    centre = np.array([math.log(b * (r - 2) / (r - 0.68)), math.log(e)])
    nodes, weights = special.roots_hermitenorm(3)
    weights = weights / weights.sum()
    parts = []
    for i, p in zip(nodes, weights):
        for j, q in zip(nodes, weights):
            at = np.exp(centre + L @ np.array([i, j]))
            if in_use and (min(in_use) / at[1]) ** at[0] < 1e-11:
                return None
            parts.append((p * q, chances(*at, in_use, fresh)))
    expected = sum(after(b, e, t)[0] for t in in_use) + fresh * after(b, e, 0)[0]

    def point(p):
        high = 2 * expected
        while sum(w * f(high) for w, f in parts) < p:
            high *= 2
        if sum(w * f(0.0) for w, f in parts) >= p:
            return None
        return root(lambda x: sum(w * f(x) for w, f in parts) - p, 0, high)

    lower, upper = point(0.05), point(0.95)
    if lower is None:
        return None
    return {"failures": failures.tolist(), "suspensions": suspensions.tolist(), "in_use": in_use, "fresh": fresh}, {
        "/result/shape": b, "/result/scale": e, "/result/expected": expected, "/result/lower": lower, "/result/upper": upper}
