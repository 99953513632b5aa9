"""Gauges, capability, trends, lives and stock, by scipy's distributions."""

import math

import numpy as np
from scipy import stats

from cases import comparison, random, root, uniform


@comparison("gauge-conformity", 1e-12)
def conformity():
    lower, width, u = uniform(-5, 50), uniform(0.005, 0.05), uniform(0.0005, 0.01)
    measured, sure = lower + uniform(-0.3, 1.3) * width, uniform(0.6, 0.999)
    spread = stats.norm(measured, u)
    return {"unit": "mm", "lower_limit": lower, "upper_limit": lower + width, "measured": measured, "standard_uncertainty": u,
            "conformance": sure}, {"/result/conformance_probability": spread.cdf(lower + width) - spread.cdf(lower),
                                   "/result/guard_factor": stats.norm.ppf(sure)}


@comparison("uncertainty-budget", 1e-10)
def budget():
    n = random.integers(1, 6)
    u, c, nu = uniform(0.1, 2, n), uniform(-3, 3, n), uniform(2, 40, n)
    coverage = uniform(0.5, 0.999)
    v = (u * c) ** 2
    effective = v.sum() ** 2 / (v**2 / nu).sum()
    return {"unit": "mm", "coverage": coverage, "components": [
        {"name": "x", "standard_uncertainty": a, "sensitivity": b, "degrees_of_freedom": d} for a, b, d in zip(u, c, nu)]}, {
        "/result/combined": math.sqrt(v.sum()), "/result/effective_degrees_of_freedom": effective,
        "/result/coverage_factor": stats.t.ppf(0.5 + coverage / 2, math.floor(effective))}


@comparison("thermal", 1e-12)
def thermal():
    L, tp, tg, ap, ag = uniform(1, 500), uniform(5, 70), uniform(15, 30), uniform(5, 30), uniform(5, 30)
    return {"unit": "mm", "measured_length": L, "part_temperature_c": tp, "gauge_temperature_c": tg, "part_ppm_per_c": ap,
            "gauge_ppm_per_c": ag}, {"/result/length_at_20c": L * (1 + ag * (tg - 20) / 1e6) / (1 + ap * (tp - 20) / 1e6)}


@comparison("capability", 1e-9)
def capability():
    n = random.integers(5, 60)
    x = random.normal(10, 0.02, n)
    mean, s = x.mean(), x.std(ddof=1)
    half = stats.norm.ppf(0.95) * math.sqrt(1 / (9 * n) + (min(10.06 - mean, mean - 9.95) / (3 * s)) ** 2 / (2 * (n - 1)))
    return {"unit": "mm", "lower_limit": 9.95, "upper_limit": 10.06, "readings": x.tolist(), "confidence": 0.9}, {
        "/result/cpk": min(10.06 - mean, mean - 9.95) / (3 * s), "/result/standard_deviation": s,
        "/result/rejects_per_million": 1e6 * (stats.norm.cdf(9.95, mean, s) + stats.norm.sf(10.06, mean, s)),
        "/result/cpk_upper": min(10.06 - mean, mean - 9.95) / (3 * s) + half}


@comparison("capability", 1e-7)
def tolerance_interval():
    n, share, sure = int(random.integers(3, 120)), uniform(0.6, 0.995), uniform(0.55, 0.99)
    k2 = stats.norm.ppf(0.5 + share / 2) * math.sqrt((n - 1) * (1 + 1 / n) / stats.chi2.ppf(1 - sure, n - 1))
    k1 = stats.nct.ppf(sure, n - 1, stats.norm.ppf(share) * math.sqrt(n)) / math.sqrt(n)
    return {"unit": "mm", "upper_limit": 9, "mean": 0, "standard_deviation": 1, "n": n,
            "tolerance_interval": {"share": share, "confidence": sure}}, {
        "/result/tolerance_interval/two_sided_factor": k2, "/result/tolerance_interval/one_sided_factor": k1}


@comparison("wear-trend", 1e-8)
def wear():
    n = int(random.integers(4, 20))
    x = np.sort(uniform(0, 5000, n))
    y = 10 + uniform(5e-6, 5e-5) * x + random.normal(0, 0.002, n)
    fit = stats.linregress(x, y)
    if fit.slope <= 0:
        return None
    s = math.sqrt(((y - fit.intercept - fit.slope * x) ** 2).sum() / (n - 2))
    limit = y.max() + 0.05
    t, m, ss = stats.t.ppf(0.95, n - 2), x.mean(), ((x - x.mean()) ** 2).sum()

    def bound(u):
        return fit.intercept + fit.slope * u + t * s * math.sqrt(1 + 1 / n + (u - m) ** 2 / ss) - limit

    crossing = (limit - fit.intercept) / fit.slope
    return {"unit": "mm", "upper_limit": limit, "readings": [{"pieces": a, "value": b} for a, b in zip(x, y)]}, {
        "/result/slope_standard_uncertainty": fit.stderr, "/result/pieces_to_limit": crossing - x.max(),
        "/result/pieces_to_limit_low": root(bound, x.max(), crossing) - x.max() if bound(x.max()) < 0 else 0.0}


@comparison("life-distribution", 1e-8)
def lives():
    n = int(random.integers(4, 30))
    life = stats.weibull_min.rvs(uniform(0.7, 4), scale=uniform(50, 5000), size=n, random_state=random)
    end = np.quantile(life, uniform(0.6, 1.0))
    failed, running = life[life <= end], np.full((life > end).sum(), end)
    if len(failed) < 2:
        return None
    everything = np.concatenate([failed, running])
    scaled, logs = everything / everything.max(), np.log(everything / everything.max())

    def score(b):
        return (scaled**b * logs).sum() / (scaled**b).sum() - 1 / b - np.log(failed / everything.max()).mean()

    b = root(score, 1e-3, 200)
    return {"failures": failed.tolist(), "suspensions": running.tolist()}, {
        "/result/shape": b, "/result/scale": ((everything**b).sum() / len(failed)) ** (1 / b),
        "/result/b10": stats.weibull_min.ppf(0.1, b, scale=((everything**b).sum() / len(failed)) ** (1 / b))}


@comparison("mtbf", 1e-10)
def mtbf():
    total, r, sure = uniform(10, 1e5), int(random.integers(1, 60)), uniform(0.5, 0.99)
    a = (1 - sure) / 2
    return {"total_time": total, "failures": r, "confidence": sure, "sided": "two"}, {
        "/result/lower": 2 * total / stats.chi2.isf(a, 2 * r + 2), "/result/upper": 2 * total / stats.chi2.ppf(a, 2 * r)}


@comparison("reorder", 1e-6)
def reorder():
    """The reorder point for a quantity, by a root of the cost at its two ends."""
    demand, days, sd = uniform(5, 100), uniform(0.5, 20), uniform(1, 30)
    h, p, q = uniform(0.05, 1), uniform(1, 20), uniform(5, 400)
    mu, sigma = demand * days, sd * math.sqrt(days)

    def cost(y):
        z = (y - mu) / sigma
        return h * (y - mu) + (h + p) * sigma * (stats.norm.pdf(z) - z * stats.norm.sf(z))

    level = stats.norm.ppf(p / (p + h), mu, sigma)
    return {"demand_per_day": demand, "lead_time_days": days, "model": "normal", "standard_deviation": sd, "holding_cost": h,
            "shortage_cost": p, "ordering_cost": 1, "method": "least_cost", "order_quantity": q}, {
        "/result/reorder_point": root(lambda r: cost(r + q) - cost(r), level - q, level)}


@comparison("reorder", 1e-11)
def poisson():
    mean, sure = uniform(0.05, 80), uniform(0.5, 0.999)
    point = stats.poisson.ppf(sure, mean)
    return {"demand_per_day": mean, "lead_time_days": 1, "model": "poisson", "service": sure}, {
        "/result/reorder_point": point, "/result/stock_out_probability": stats.poisson.sf(point, mean)}
