"""Gauges, uncertainty, capability, trends, lives and charts, by scipy's distributions."""

import functools
import math
from fractions import Fraction

import numpy as np
from scipy import optimize, signal, special, stats

from cases import chance, comparison, derivatives, near, pick, random, root, uniform


@comparison("gauge-conformity", 1e-12)
def conformity():
    lower, width, u = uniform(-5, 50), uniform(0.005, 0.05), uniform(0.0005, 0.01)
    measured, sure = lower + uniform(-0.3, 1.3) * width, uniform(0.6, 0.999)
    sides = pick("both", "lower", "upper")
    low, high = (lower if sides != "upper" else -math.inf), (lower + width if sides != "lower" else math.inf)
    k = special.ndtri(sure)
    to_low, to_high = (low - measured) / u, (high - measured) / u
    # The difference of the two smaller tails keeps its digits.
    inside = special.ndtr(to_high) - special.ndtr(to_low) if to_low + to_high > 0 or to_high <= 0 else (
        special.ndtr(-to_low) - special.ndtr(-to_high))
    guarded = (low + k * u, high - k * u)
    empty = guarded[0] >= guarded[1]
    if any(near(a, b) for a, b in [(measured, guarded[0]), (measured, guarded[1]), (inside, sure), guarded,
                                   (measured, low - k * u), (measured, high + k * u)]):
        return None
    verdict = "undecided"
    if not empty and guarded[0] <= measured <= guarded[1] and inside >= sure:
        verdict = "accept"
    elif measured < low - k * u or measured > high + k * u:
        verdict = "reject"
    request = {"unit": "mm", "measured": measured, "standard_uncertainty": u}
    request |= {"lower_limit": low} if low > -math.inf else {}
    request |= {"upper_limit": high} if high < math.inf else {}
    request |= {"conformance": sure} if chance() else {"guard_factor": k}
    return request, {
        "/result/conformance_probability": inside, "/result/guard_factor": k, "/result/guard_band": k * u,
        "/result/acceptance_lower": None if empty or low == -math.inf else guarded[0],
        "/result/acceptance_upper": None if empty or high == math.inf else guarded[1], "/result/verdict": verdict}


@comparison("uncertainty-budget", 1e-10)
def budget():
    n = random.integers(1, 6)
    u, c, nu = uniform(0.1, 2, n), uniform(-3, 3, n), uniform(2, 40, n)
    known = random.random(n) < 0.8
    coverage = uniform(0.5, 0.999)
    v = (u * c) ** 2
    effective = v.sum() ** 2 / (v**2 / nu)[known].sum() if known.any() else math.inf
    if near(effective, round(effective)) if known.any() else False:
        return None
    k = stats.t.ppf(0.5 + coverage / 2, math.floor(effective)) if known.any() else stats.norm.ppf(0.5 + coverage / 2)
    return {"unit": "mm", "coverage": coverage, "components": [
        {"name": "x", "standard_uncertainty": a, "sensitivity": b} | ({"degrees_of_freedom": d} if e else {})
        for a, b, d, e in zip(u, c, nu, known)]}, {
        "/result/combined": math.sqrt(v.sum()), "/result/effective_degrees_of_freedom": effective if known.any() else None,
        "/result/coverage_factor": k, "/result/expanded": k * math.sqrt(v.sum())}


@comparison("thermal", 1e-11)
def thermal():
    """In exact fractions. The uncertainty by the complex step, with lengths and temperatures uncertain, or lengths and
    expansions: no product of two uncertainties is left then."""
    L, *_ = at = uniform(1, 500), uniform(5, 70), uniform(15, 30), uniform(5, 30), uniform(5, 30)
    names = ["measured_length", "part_temperature_c", "gauge_temperature_c", "part_ppm_per_c", "gauge_ppm_per_c"]
    spread = uniform(0.01, 1, 5) * pick([0.01, 1, 1, 0, 0], [0.01, 0, 0, 1, 1])

    def reduced(v):
        return v[0] * (10**6 + v[4] * (v[2] - 20)) / (10**6 + v[3] * (v[1] - 20))

    exact = reduced([Fraction(value) for value in at])
    request = {"unit": "mm"} | dict(zip(names, at)) | {f"{n}_uncertainty": u for n, u in zip(names, spread) if u > 0}
    return request, {"/result/length_at_20c": float(exact), "/result/correction": float(exact - Fraction(L)),
                     "/result/standard_uncertainty": np.linalg.norm(derivatives(reduced, at) * spread)}


@comparison("capability", 1e-9)
def capability():
    n = random.integers(5, 60)
    x, sure = random.normal(10, 0.02, n), uniform(0.5, 0.99)
    mean, s = x.mean(), x.std(ddof=1)
    sides = pick("both", "lower", "upper")
    low, high = (9.95 if sides != "upper" else -math.inf), (10.06 if sides != "lower" else math.inf)
    cpu, cpl = (high - mean) / (3 * s), (mean - low) / (3 * s)
    cpk = min(cpu, cpl)
    half = stats.norm.ppf(0.5 + sure / 2) * math.sqrt(1 / (9 * n) + cpk**2 / (2 * (n - 1)))
    request = {"unit": "mm", "confidence": sure}
    request |= {"readings": x.tolist()} if chance() else {"mean": mean, "standard_deviation": s, "n": n}
    request |= {"lower_limit": low} if low > -math.inf else {}
    request |= {"upper_limit": high} if high < math.inf else {}
    return request, {
        "/result/mean": mean, "/result/standard_deviation": s, "/result/cpk": cpk,
        "/result/cpu": cpu if high < math.inf else None, "/result/cpl": cpl if low > -math.inf else None,
        "/result/cp": (high - low) / (6 * s) if sides == "both" else None,
        "/result/rejects_per_million": 1e6 * (stats.norm.cdf(low, mean, s) + stats.norm.sf(high, mean, s)),
        "/result/cpk_lower": cpk - half, "/result/cpk_upper": cpk + half}


@comparison("capability", 1e-9)
def tolerance_interval():
    n, share, sure = int(random.integers(3, 120)), uniform(0.6, 0.995), uniform(0.55, 0.99)
    k2 = stats.norm.ppf(0.5 + share / 2) * math.sqrt((n - 1) * (1 + 1 / n) / stats.chi2.ppf(1 - sure, n - 1))
    k1 = special.nctdtrit(n - 1, stats.norm.ppf(share) * math.sqrt(n), sure) / math.sqrt(n)
    # Its own inverse stops early: two steps of Newton with scipy's distribution.
    for _ in range(2):
        t, c = k1 * math.sqrt(n), stats.norm.ppf(share) * math.sqrt(n)
        k1 -= (stats.nct.cdf(t, n - 1, c) - sure) / stats.nct.pdf(t, n - 1, c) / math.sqrt(n)
    path = "/result/tolerance_interval/"
    return {"unit": "mm", "upper_limit": 9, "mean": 0.5, "standard_deviation": 2, "n": n,
            "tolerance_interval": {"share": share, "confidence": sure}}, {
        path + "two_sided_factor": k2, path + "lower": 0.5 - 2 * k2, path + "upper": 0.5 + 2 * k2,
        path + "one_sided_factor": k1, path + "one_sided_lower": 0.5 - 2 * k1, path + "one_sided_upper": 0.5 + 2 * k1}


@comparison("wear-trend", 1e-8)
def wear():
    n, way, sure = int(random.integers(4, 20)), pick(1, -1), uniform(0.6, 0.99)
    x = np.sort(uniform(0, 5000, n))
    y = 10 + way * uniform(5e-6, 5e-5) * x + random.normal(0, 0.002, n)
    fit = stats.linregress(x, y)
    if fit.slope * way <= 0 or near(fit.pvalue, 1 - sure):
        return None
    # How much of the slope its bound at the confidence takes off; where it is nearly all, the root hangs on last bits.
    taken_off = stats.t.ppf(sure, n - 2) * fit.stderr / abs(fit.slope)
    if abs(taken_off - 1) < 1e-4:
        return None
    s = math.sqrt(((y - fit.intercept - fit.slope * x) ** 2).sum() / (n - 2))
    limit = (y.max() if way > 0 else y.min()) + way * 0.05
    t, m, ss = stats.t.ppf(sure, n - 2), x.mean(), ((x - x.mean()) ** 2).sum()

    def bound(u, side=1):
        return way * (fit.intercept + fit.slope * u - limit) + side * t * s * math.sqrt(1 + 1 / n + (u - m) ** 2 / ss)

    crossing, high = (limit - fit.intercept) / fit.slope, None
    if taken_off < 1:
        beyond = crossing + 1
        while bound(beyond, -1) <= 0:
            beyond = crossing + 2 * (beyond - crossing)
        high = root(lambda u: bound(u, -1), crossing, beyond) - x.max()
    return {"unit": "mm", "upper_limit" if way > 0 else "lower_limit": limit, "confidence": sure,
            "readings": [{"pieces": a, "value": b} for a, b in zip(x, y)]}, {
        "/result/slope": fit.slope, "/result/intercept": fit.intercept, "/result/residual_standard_deviation": s,
        "/result/slope_standard_uncertainty": fit.stderr, "/result/significant": bool(fit.pvalue < 1 - sure),
        "/result/pieces_to_limit": crossing - x.max(),
        "/result/pieces_to_limit_low": root(bound, x.max(), crossing) - x.max() if bound(x.max()) < 0 else 0.0,
        "/result/pieces_to_limit_high": high}


def censored():
    n = int(random.integers(4, 30))
    shape, scale = uniform(0.7, 4), uniform(50, 5000)
    life = scale * random.weibull(shape, n)
    # All are stopped together, or each at its own time, as edges are that were ground early.
    end = np.full(n, np.quantile(life, uniform(0.6, 1.0))) if chance() else np.median(life) * uniform(0.3, 2.5, n)
    failed, running = life[life <= end], end[life > end]
    return (failed, running) if len(failed) >= 2 else None


@comparison("life-distribution", 1e-8)
def lives():
    """The root of the profile's score; median ranks after the share that survives each failure."""
    if (case := censored()) is None:
        return None
    failed, running = case
    everything = np.concatenate([failed, running])
    scaled, logs = everything / everything.max(), np.log(everything / everything.max())

    def score(b):
        return (scaled**b * logs).sum() / (scaled**b).sum() - 1 / b - np.log(failed / everything.max()).mean()

    b = root(score, 1e-3, 200)
    scale = ((everything**b).sum() / len(failed)) ** (1 / b)
    spread = stats.weibull_min(b, scale=scale)
    n, first = len(everything), np.sort(failed)
    # Johnson: the adjusted ranks left over shrink by m/(m + 1) at each failure among m that still ran.
    at_risk = (everything[None, :] >= first[:, None]).sum(axis=1)
    rank = n + 1 - (n + 1) * np.cumprod(at_risk / (at_risk + 1))
    hazard = -np.log1p(-(rank - 0.3) / (n + 0.4))
    slope, up = np.polyfit(np.log(first), np.log(hazard), 1)
    ranks = {"/result/median_ranks/shape": slope, "/result/median_ranks/scale": math.exp(-up / slope)}
    q = uniform(0.01, 0.9)
    return {"failures": failed.tolist(), "suspensions": running.tolist(), "quantiles": [q]}, {
        "/result/shape": b, "/result/scale": scale, "/result/b10": spread.ppf(0.1), "/result/mean": spread.mean(),
        "/result/quantiles/0/life": spread.ppf(q),
        "/result/log_likelihood": spread.logpdf(failed).sum() + spread.logsf(running).sum()} | ranks


@comparison("life-distribution", 1e-4)
def lives_fitted():
    """The likelihood climbed by scipy's optimiser, and each tenth case by its own fit of censored data, which is slow. No
    closer than derivatives by differences let it come."""
    if (case := censored()) is None:
        return None
    failed, running = case
    start = [1.2 / np.log(failed).std(), (failed.sum() + running.sum()) / len(failed)]
    everything = np.concatenate(case)

    def minus_log_likelihood(p):
        return ((everything / p[1]) ** p[0]).sum() - (np.log(p[0] / p[1]) + (p[0] - 1) * np.log(failed / p[1])).sum()

    def descend(function, start, args=(), disp=0):
        return np.exp(optimize.minimize(lambda p: function(np.exp(p), *args), np.log(start), method="BFGS").x)

    with np.errstate(all="ignore"):
        if chance(0.1):
            data = stats.CensoredData(uncensored=failed, right=running)
            b, _, scale = stats.weibull_min.fit(data, start[0], floc=0, scale=start[1], optimizer=descend)
        else:
            b, scale = descend(minus_log_likelihood, start)
    return {"failures": failed.tolist(), "suspensions": running.tolist()}, {"/result/shape": b, "/result/scale": scale}


@comparison("mtbf", 1e-10)
def mtbf():
    total, r, sure, sided = uniform(10, 1e5), int(random.integers(0, 60)), uniform(0.5, 0.99), pick("one", "two")
    tail = 1 - sure if sided == "one" else (1 - sure) / 2
    # At the limits the count of a Poisson process is just as improbable as the tail says.
    return {"total_time": total, "failures": r, "confidence": sure, "sided": sided}, {
        "/result/mtbf": total / r if r else None, "/result/lower": total / special.pdtri(r, tail),
        "/result/upper": total / special.pdtri(r - 1, 1 - tail) if r and sided == "two" else None}


@functools.cache
def range_moments(n):
    """Mean and deviation of the range of n normal values, from the joint density of the least and the greatest."""
    nodes, weights = np.polynomial.legendre.leggauss(160)
    x, dx = 9 * nodes, 9 * weights
    w, dw = 7 * (nodes + 1), 7 * weights
    low, width = np.meshgrid(x, w, indexing="ij")
    density = n * (n - 1) * stats.norm.pdf(low) * stats.norm.pdf(low + width) * (
        special.ndtr(low + width) - special.ndtr(low)) ** (n - 2)
    over = (density * dx[:, None]).sum(axis=0) * dw
    mean = (over * w).sum()
    return mean, math.sqrt((over * w**2).sum() - mean**2)


def outside(values, low, high):
    return [i + 1 for i, value in enumerate(values) if value < low or value > high]


def unclear(values, *limits):
    return any(near(value, limit) for value in values for limit in limits)


@comparison("control-limits", 1e-9)
def xbar_r():
    n, many = int(random.integers(2, 26)), int(random.integers(3, 12))
    data = random.normal(10, 0.02, (many, n)) + random.normal(0, 0.015, (many, 1))
    d2, d3 = range_moments(n)
    means, ranges = data.mean(axis=1), np.ptp(data, axis=1)
    center, mean_range = means.mean(), ranges.mean()
    sigma = mean_range / d2
    low, high = center - 3 * sigma / math.sqrt(n), center + 3 * sigma / math.sqrt(n)
    least, most = max(0.0, mean_range - 3 * d3 * sigma), mean_range + 3 * d3 * sigma
    if unclear(means, low, high) or unclear(ranges, least, most):
        return None
    return {"chart": "xbar_r", "subgroups": data.tolist()}, {
        "/result/center": center, "/result/upper": high, "/result/lower": low, "/result/standard_deviation": sigma,
        "/result/signals": outside(means, low, high), "/result/ranges/center": mean_range, "/result/ranges/upper": most,
        "/result/ranges/lower": least, "/result/ranges/signals": outside(ranges, least, most)}


@comparison("control-limits", 1e-10)
def individuals():
    """With the factors of moving ranges as they are printed: 1.128 and 3.267."""
    x = random.normal(10, 0.02, int(random.integers(2, 30))) + random.choice([0, 0.06], 1)
    ranges = np.abs(np.diff(x))
    sigma, most = ranges.mean() / 1.128, 3.267 * ranges.mean()
    low, high = x.mean() - 3 * sigma, x.mean() + 3 * sigma
    if unclear(x, low, high) or unclear(ranges, most):
        return None
    return {"chart": "individuals", "readings": x.tolist()}, {
        "/result/center": x.mean(), "/result/upper": high, "/result/lower": low, "/result/signals": outside(x, low, high),
        "/result/ranges/upper": most, "/result/ranges/signals": outside(ranges, 0, most)}


@comparison("control-limits", 1e-10)
def ewma():
    x = random.normal(10, 0.02, int(random.integers(2, 30)))
    weight, center, sigma, width = uniform(0.05, 1), uniform(9.97, 10.03), uniform(0.01, 0.03), uniform(2, 4)
    average = signal.lfilter([weight], [1, weight - 1], x, zi=[(1 - weight) * center])[0]
    half = width * sigma * math.sqrt(weight / (2 - weight))
    if unclear(average, center - half, center + half):
        return None
    return {"chart": "ewma", "readings": x.tolist(), "parameters": {
        "lambda": weight, "center": center, "standard_deviation": sigma, "width": width}}, {
        "/result/upper": center + half, "/result/lower": center - half,
        "/result/signals": outside(average, center - half, center + half)} | {
        f"/result/statistic/{i}": value for i, value in enumerate(average)}


@comparison("control-limits", 1e-9)
def cusum():
    """A sum held at zero is the plain sum less the least that it has been."""
    x = random.normal(10.01, 0.02, int(random.integers(1, 30)))
    center, k, h = 10, uniform(0, 0.02), uniform(0.03, 0.1)

    def held(steps):
        total = np.concatenate([[0], np.cumsum(steps)])
        return (total - np.minimum.accumulate(total))[1:]

    high, low = held(x - center - k), held(center - x - k)
    if unclear(high, h) or unclear(low, h):
        return None
    return {"chart": "cusum", "readings": x.tolist(), "parameters": {"center": center, "k": k, "h": h}}, {
        "/result/signals": outside(np.maximum(high, low), 0, h)} | {
        f"/result/statistic/{i}": value for i, value in enumerate(high)} | {
        f"/result/statistic_low/{i}": -value for i, value in enumerate(low)}
