"""The drift of gauges: the line by scipy's regression, its interval by Student's distribution, its reach by a root."""

import math

import numpy as np
from scipy import stats

from cases import comparison, near, random, root, uniform

DAYS_AHEAD = 36525


@comparison("gauge-drift", 1e-9, floor=1e-6)
def drift():
    n, sure = int(random.integers(3, 25)), uniform(0.6, 0.99)
    day = np.concatenate([[0], np.sort(uniform(1, 2000, n - 1))])
    # What it would be found at had nobody touched it, and what was done to it after each check.
    untouched = uniform(-3e-3, 3e-3) + uniform(-5e-6, 5e-6) * day + random.normal(0, 3e-4, n)
    done = np.where(uniform(size=n) < 0.3, uniform(-2e-3, 2e-3, n), 0)
    found = untouched + np.concatenate([[0], np.cumsum(done)[:-1]])
    left, total = found + done, done.sum()
    fit = stats.linregress(day, untouched)
    s = math.sqrt(((untouched - fit.intercept - fit.slope * day) ** 2).sum() / (n - 2))
    t, mean, spread = stats.t.ppf(0.5 + sure / 2, n - 2), day.mean(), ((day - day.mean()) ** 2).sum()
    if near(fit.pvalue, 1 - sure):
        return None

    def bound(x, way):
        return fit.intercept + fit.slope * x + total + way * t * s * math.sqrt(1 + 1 / n + (x - mean) ** 2 / spread)

    room, last, due = uniform(1e-4, 2e-2), day[-1], day[-1] + uniform(1, 900)
    lower, upper = total + untouched.min() - room, total + untouched.max() + room * uniform(0.5, 2)
    reached = []
    for name, limit, way in (("lower", lower, -1), ("upper", upper, 1)):
        beyond = lambda x: way * (bound(x, way) - limit)  # noqa: E731, B023, it is used at once
        if beyond(last) >= 0:
            reached.append((last, name))
        elif beyond(last + DAYS_AHEAD) >= 0:
            reached.append((root(beyond, last, last + DAYS_AHEAD), name))
    reached.sort()
    if len(reached) == 2 and near(reached[0][0], reached[1][0]) and reached[0][0] > last:
        return None
    expected = {
        "/answer": "line", "/slope": fit.slope, "/slope_standard_uncertainty": fit.stderr,
        "/significant": bool(fit.pvalue < 1 - sure), "/residual_standard_deviation": s, "/adjusted": total,
        "/at_due/expected": fit.intercept + fit.slope * due + total, "/at_due/lower": bound(due, -1),
        "/at_due/upper": bound(due, 1), f"/points/{n - 1}/drifted": untouched[-1] + total,
        "/reaches/day": reached[0][0] if reached else None}
    if reached and not (len(reached) == 2 and reached[0][0] == reached[1][0]):
        expected["/reaches/limit"] = reached[0][1]
    findings = [{"day": a, "found": b, "left": c} for a, b, c in zip(day, found, left)]
    return {"findings": findings, "lower_limit": lower, "upper_limit": upper, "due": due, "confidence": sure}, expected
