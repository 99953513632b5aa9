"""Thousands of random cases through the program, beside numpy and scipy by other routes; prints the largest difference.

    tests/scipy/run [CASES]

For every calculation: `make` draws a request, `expect` gives numbers by pointer into the answer. Geometry is redone in the
plane with roots by bisection; fits by scipy's optimisers; probabilities by scipy's distributions. A difference is relative
to the number, or to `floor` where that is larger. Exit status 1 when a difference exceeds its limit.
"""

import json
import math
import subprocess
import sys
import time

import numpy as np
from scipy import optimize, stats

PROGRAM = sys.argv[1]
CASES = int(sys.argv[2]) if len(sys.argv) > 2 else 2000
random = np.random.default_rng(20260501)
uniform = random.uniform
COMPARISONS = []


def comparison(name, limit, floor=1e-3):
    def note(function):
        COMPARISONS.append((name, function, limit, floor))
        return function

    return note


def root(function, low, high):
    """The root of a function that changes sign once, to the last bits."""
    return optimize.brentq(function, low, high, xtol=4e-16, rtol=4 * np.finfo(float).eps, maxiter=300)


def on_face(r1, radius, rake):
    """How far along a face that falls by `rake` from (r1, 0) the circle of a radius is met."""
    if radius == r1:
        return 0.0
    x, y = math.cos(rake), -math.sin(rake)
    return root(lambda s: (r1 + s * x) ** 2 + (s * y) ** 2 - radius * radius, 0.0, 4 * radius)


def form():
    smallest = uniform(3, 30)
    steps = [smallest + uniform(0.05, 25) for _ in range(random.integers(1, 5))]
    return uniform(3, 20), uniform(-10, 25), smallest, steps


@comparison("flat-form-profile", 1e-12)
def flat():
    alpha, gamma, d1, steps = form()
    a, g = math.radians(alpha), math.radians(gamma)
    expected = {}
    for i, d in enumerate(steps):
        s = on_face(d1 / 2, d / 2, g)
        # The front face leans back by alpha from the vertical; depth is the distance from it.
        expected[f"/result/steps/{i}/face_length"] = s
        expected[f"/result/steps/{i}/tool_depth"] = abs(s * math.cos(g) * math.cos(a) - s * math.sin(g) * math.sin(a))
    return {"unit": "mm", "clearance_deg": alpha, "rake_deg": gamma, "smallest_diameter": d1,
            "steps": [{"diameter": d} for d in steps]}, expected


@comparison("circular-form-profile", 1e-12)
def circular():
    _, gamma, d1, steps = form()
    gamma = abs(gamma)
    steps = [d1 + (d - d1) * 0.3 for d in steps]
    R = uniform(20, 60)
    h = R * math.sin(math.radians(uniform(5, 15)))
    g = math.radians(gamma)
    centre = np.array([d1 / 2 + math.sqrt((R - h) * (R + h)), h])
    expected = {"/result/clearance_deg": math.degrees(math.atan2(h, centre[0] - d1 / 2))}
    for i, d in enumerate(steps):
        s = on_face(d1 / 2, d / 2, g)
        point = np.array([d1 / 2 + s * math.cos(g), -s * math.sin(g)])
        expected[f"/result/steps/{i}/tool_radius"] = np.linalg.norm(centre - point)
    return {"unit": "mm", "tool_radius": R, "face_below_center": h, "rake_deg": gamma, "smallest_diameter": d1,
            "steps": [{"diameter": d} for d in steps]}, expected


def shift(hold, r1, alpha, height):
    if hold == "slide":
        return 0.0
    if hold == "tool_ways":
        return -height * math.tan(alpha)
    return root(lambda x: (r1 + x) ** 2 + height**2 - r1 * r1, -r1, 0.0) if height else 0.0


@comparison("center-height-effect", 1e-11)
def height_effect():
    alpha, gamma, d1, steps = form()
    hold = ["slide", "smallest_diameter", "tool_ways"][random.integers(3)]
    height = uniform(-0.2, 0.2) * d1 / 2
    a, g = math.radians(alpha), math.radians(gamma)
    x0 = shift(hold, d1 / 2, a, height)
    expected = {}
    for i, d in enumerate(steps):
        s = on_face(d1 / 2, d / 2, g)
        x, y = d1 / 2 + s * math.cos(g) + x0, -s * math.sin(g) + height
        expected[f"/result/steps/{i}/made_diameter"] = 2 * math.hypot(x, y)
        expected[f"/result/steps/{i}/effective_clearance_deg"] = alpha - math.degrees(math.atan2(y, x))
    return {"unit": "mm", "clearance_deg": alpha, "rake_deg": gamma, "smallest_diameter": d1, "height": height,
            "steps": [{"diameter": d} for d in steps], "hold": hold}, expected


@comparison("center-height-effect", 1e-8)
def height_limits():
    alpha, gamma, d1, steps = form()
    hold = ["slide", "smallest_diameter", "tool_ways"][random.integers(3)]
    tolerance, shop = uniform(0.005, 0.1), 0.8
    a, g, r1 = math.radians(alpha), math.radians(gamma), d1 / 2
    faces = np.array([on_face(r1, d / 2, g) for d in steps + [d1]])
    nominal = np.array(steps + [d1]) / 2

    def margin(height, with_tolerance, with_clearance):
        """Above zero while everything holds."""
        height = np.atleast_1d(height)[:, None]
        if hold == "slide":
            x0 = 0.0
        elif hold == "tool_ways":
            x0 = -height * np.tan(a)
        else:
            x0 = np.sqrt(r1 * r1 - height**2) - r1
        x, y = r1 + faces * np.cos(g) + x0, -faces * np.sin(g) + height
        worst = np.full(height.shape[0], np.inf)
        if with_tolerance:
            errors = np.abs(np.hypot(x, y) - nominal)[:, :-1]
            worst = np.minimum(worst, (tolerance / 2 - errors).min(axis=1))
        if with_clearance:
            worst = np.minimum(worst, (a - np.radians(3) - np.arctan2(y, x)).min(axis=1))
        return worst

    def first_exit(sign, clearance):
        grid = np.linspace(0, shop, 1601)
        inside = margin(sign * grid, True, clearance) >= 0
        if inside.all():
            return shop
        at = int(np.argmin(inside))
        if at == 0:
            return 0.0
        return root(lambda h: float(margin(sign * h, True, clearance)[0]), grid[at - 1], grid[at])

    return {"unit": "mm", "clearance_deg": alpha, "rake_deg": gamma, "smallest_diameter": d1, "height": 0,
            "steps": [{"diameter": d} for d in steps], "hold": hold, "diameter_limits": tolerance,
            "shop_height_limit": shop}, {"/result/height_limit_up": first_exit(1, True),
                                         "/result/height_limit_down": first_exit(-1, False)}


@comparison("taper", 1e-9)
def taper():
    near, distance, target = uniform(3, 40), uniform(2, 60), uniform(-2, 2)
    far, arm, per_turn = near + uniform(-2, 2), uniform(20, 120), uniform(0.5, 3)
    slope = np.polyfit([0, distance], [near / 2, far / 2], 1)[0]
    angle = math.degrees(math.atan2((far - near) / 2, distance))
    return {"unit": "mm", "near_diameter": near, "far_diameter": far, "distance": distance, "target_half_angle_deg": target,
            "adjuster": {"travel_per_turn": per_turn, "arm": arm, "clockwise_moves": "far_diameter_up"}}, {
        "/result/half_angle_deg": angle, "/result/taper_per_foot": 24 * slope,
        "/corrections/0/turns": arm / per_turn * math.tan(abs(math.radians(angle - target)))}


@comparison("slide-correction", 1e-10)
def slide():
    target, ratio, per_turn = uniform(2, 50), uniform(0.2, 3), uniform(0.5, 3)
    made = target + uniform(-0.5, 0.5) + random.normal(0, 0.01, random.integers(1, 9))
    return {"unit": "mm", "target_diameter": target, "measured_diameters": made.tolist(),
            "adjuster": {"travel_per_turn": per_turn, "ratio": ratio, "clockwise_moves": "tool_in"}}, {
        "/result/mean_diameter": made.mean(), "/result/radial_error": (made.mean() - target) / 2,
        "/corrections/0/turns": abs(made.mean() - target) / 2 / per_turn / ratio}


@comparison("drill-depth", 1e-11)
def cone():
    pilot, angle, length = uniform(0.5, 4), uniform(50, 130), uniform(0, 5)
    mouth = pilot + uniform(0.1, 6)
    # The cone's flank from the pilot's rim, met with the mouth's radius.
    depth = root(lambda z: pilot / 2 + z * math.tan(math.radians(angle) / 2) - mouth / 2, 0, 100) + length
    return {"unit": "mm", "target_depth": 1, "cone": {"mouth_diameter": mouth, "pilot_diameter": pilot,
            "pilot_length": length, "included_angle_deg": angle}}, {"/result/depth": depth}


@comparison("approach", 1e-11)
def approach():
    shape, corners = [("round", 1), ("hexagon", 6), ("square", 4)][random.integers(3)]
    across, smallest, rise, tolerance = uniform(10, 40), uniform(2, 9), uniform(1, 25), uniform(0, 0.2)
    runout, n = uniform(0, 0.3), uniform(20, 400)

    def reach(flats):
        """The farthest corner of a regular polygon from its centre."""
        return flats / 2 if corners == 1 else flats / 2 / math.sin(math.pi / 2 - math.pi / corners)

    gap = rise - (reach(across) - smallest / 2)
    return {"unit": "mm", "bar_diameter": across, "bar_shape": shape, "bar_tolerance": tolerance, "runout": runout,
            "smallest_diameter": smallest, "rise": rise, "working_revolutions": n}, {
        "/result/gap": gap, "/result/least_gap": gap - (reach(across + tolerance) - reach(across)) - runout / 2,
        "/result/feed_per_revolution": rise / n}


@comparison("screw-travel", 1e-11)
def screw():
    a, b, turns = uniform(0.5, 3), uniform(0.5, 3), uniform(-8, 8)
    same = bool(random.integers(2))
    # Two nuts on one screw, each displaced by pitch times turns in the sense of its hand.
    first, second = a * turns, (b if same else -b) * turns
    return {"unit": "mm", "threads": [{"pitch": a, "hand": "right"}, {"pitch": b, "hand": "right" if same else "left"}],
            "arrangement": "differential" if same else "turnbuckle", "turns": turns}, {
        "/result/travel": math.copysign(abs(first - second), turns)}


def displaced(gamma, r1, places, error, pivot, noise):
    points, made = [], []
    for z, d in places:
        s = on_face(r1, d / 2, gamma)
        points.append((r1 + s * math.cos(gamma), -s * math.sin(gamma), z - pivot))
        x, y, w = points[-1]
        made.append(2 * math.hypot(x + error[0] + w * error[2], y + error[1]) + random.normal(0, noise))
    return np.array(points).T, np.array(made)


@comparison("form-diagnosis", 1e-9, floor=1.0)
def diagnosis():
    """Absolute, in millimetres and degrees. Well-posed cases: rake, eight readings over the length and the diameters."""
    gamma = math.radians(uniform(6, 20))
    r1, pivot, noise = uniform(4, 10), uniform(0, 10), 0.001
    zs = np.sort(uniform(0, 30, 8))
    places = [(z, 2 * r1 if i == 3 else 2 * r1 + uniform(0, 20)) for i, z in enumerate(zs)]
    error = (uniform(-0.1, 0.1), uniform(-0.2, 0.2), uniform(-0.004, 0.004))
    (x, y, w), made = displaced(gamma, r1, places, error, pivot, noise)

    def fit(p):
        return (2 * np.hypot(x + p[0] + w * p[2], y + p[1]) - made) / noise

    def slopes(p):
        radius = np.hypot(x + p[0] + w * p[2], y + p[1])
        across, up = 2 * (x + p[0] + w * p[2]) / radius, 2 * (y + p[1]) / radius
        return np.stack([across, up, across * w], axis=1) / noise

    p = optimize.least_squares(fit, error, jac=slopes, xtol=2.3e-16, ftol=2.3e-16, gtol=1e-15, method="lm").x
    # Sharpened: scipy stops where the sum of squares is flat to the last bits.
    for _ in range(4):
        p = p + np.linalg.lstsq(slopes(p), -fit(p), rcond=None)[0]
    return {"unit": "mm", "clearance_deg": 10, "rake_deg": math.degrees(gamma), "smallest_diameter": 2 * r1, "pivot_z": pivot,
            "diameter_standard_uncertainty": noise,
            "readings": [{"z": z, "target_diameter": d, "measured_diameter": m} for (z, d), m in zip(places, made.tolist())]}, {
        "/result/infeed/value": p[0], "/result/height/value": p[1],
        "/result/taper/half_angle_deg": math.degrees(math.atan(p[2]))}


@comparison("form-diagnosis", 1e-7)
def diagnosis_uncertainty():
    """Standard uncertainties from a Jacobian by central differences."""
    request, expected = diagnosis()
    gamma, r1 = math.radians(request["rake_deg"]), request["smallest_diameter"] / 2
    rows = []
    p0 = np.array([expected["/result/infeed/value"], expected["/result/height/value"],
                   math.tan(math.radians(expected["/result/taper/half_angle_deg"]))])
    for reading in request["readings"]:
        s = on_face(r1, reading["target_diameter"] / 2, gamma)
        x, y, w = r1 + s * math.cos(gamma), -s * math.sin(gamma), reading["z"] - request["pivot_z"]
        size = lambda p: 2 * math.hypot(x + p[0] + w * p[2], y + p[1])
        rows.append([(size(p0 + step) - size(p0 - step)) / 2e-4 for step in 1e-4 * np.eye(3)])
    covariance = np.linalg.inv(np.array(rows).T @ np.array(rows)) * request["diameter_standard_uncertainty"] ** 2
    return request, {"/result/infeed/standard_uncertainty": math.sqrt(covariance[0, 0]),
                     "/result/height/standard_uncertainty": math.sqrt(covariance[1, 1])}


@comparison("setting-adjustment", 1e-10)
def setting():
    n = random.integers(1, 8)
    applied = random.normal(0, 0.03, n)
    measured = 12 + 0.05 + np.concatenate([[0], np.cumsum(applied)[:-1]]) + random.normal(0, 0.01, n)
    design = np.ones((n, 1))
    offset = np.linalg.lstsq(design, measured - 12 - np.concatenate([[0], np.cumsum(applied)[:-1]]), rcond=None)[0][0]
    return {"unit": "mm", "target": 12, "measured": measured.tolist(), "applied": applied.tolist(),
            "process_standard_deviation": 0.01}, {"/result/next_adjustment": -offset - applied.sum()}


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


def at(answer, pointer):
    for name in pointer.split("/")[1:]:
        answer = answer[int(name) if isinstance(answer, list) else name]
    return answer


def plain(value):
    """numpy's numbers as Python's."""
    if isinstance(value, dict):
        return {name: plain(field) for name, field in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.item() if isinstance(value, np.generic) else value


def main():
    failed = False
    print(f"{'calculation':24} {'by':24} {'cases':>6} {'largest difference':>20} {'limit':>8}")
    for name, draw, limit, floor in COMPARISONS:
        drawn = []
        while len(drawn) < CASES:
            case = draw()
            if case is not None:
                drawn.append(case)
        lines = "".join(json.dumps({"calculation": name, "request": plain(request)}) + "\n" for request, _ in drawn)
        answers = subprocess.run([PROGRAM], input=lines, capture_output=True, text=True, check=True).stdout.splitlines()
        assert len(answers) == CASES, f"{name}: {len(answers)} answers"
        largest, worst = 0.0, ""
        for line, (request, expected) in zip(answers, drawn):
            answer = json.loads(line)
            if "refused" in answer:
                largest, worst = math.inf, f"{answer['refused']} {plain(request)}"
                continue
            for pointer, number in expected.items():
                got = at(answer, pointer)
                difference = abs(got - number) / max(abs(number), floor) if floor < 1 else abs(got - number)
                if not difference <= largest:
                    largest, worst = difference, f"{pointer}: {got!r}, {number!r} {plain(request)}"
        mark = "" if largest <= limit else "  TOO LARGE"
        failed |= bool(mark)
        print(f"{name:24} {draw.__name__:24} {CASES:6} {largest:20.3e} {limit:8.0e}{mark}")
        if mark:
            print("   ", worst[:900])
    return int(failed)


if __name__ == "__main__":
    begun = time.time()
    status = main()
    print(f"{time.time() - begun:.0f} s")
    sys.exit(status)
