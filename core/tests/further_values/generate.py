"""Writes values.json: further values for the calculations, none of them by the formulas under test.

Published ones carry their source; the others come from another route, named in each: intersections in the plane by root
finding, general least squares, distributions of scipy, mpmath at 40 digits.

    python -m venv venv && venv/bin/pip install --require-hashes -r ../../../tests/scipy/requirements.txt
    venv/bin/python generate.py
"""

import json
import math
import pathlib

import mpmath
import numpy as np
from scipy import integrate, optimize, stats

mpmath.mp.dps = 40
VALUES = []


def value(identity, calculation, request, expected, tolerance, source, status="derived"):
    VALUES.append(
        {
            "id": identity,
            "calculation": calculation,
            "status": status,
            "source": source,
            "request": request,
            "expected": {pointer: float(number) for pointer, number in expected.items()},
            "tolerance": tolerance,
        }
    )


# --- Form tools: the face as a line, the work as a circle, the meeting point by root finding -----------------------

PLANE = "intersection in the plane by root finding (scipy brentq)"


def on_face(r1, radius, rake):
    """How far along the face, from the edge at (r1, 0), it meets the circle of a radius."""
    cosine, sine = math.cos(rake), math.sin(rake)
    return optimize.brentq(lambda s: math.hypot(r1 + s * cosine, s * sine) - radius, 0, 3 * radius, xtol=1e-15, rtol=1e-15)


for number, (alpha, gamma, d1, d2) in enumerate([(12, -6, 8, 14), (8, 20, 0.25, 0.9), (15, 0.5, 20, 21)], 1):
    a, g = math.radians(alpha), math.radians(gamma)
    s = on_face(d1 / 2, d2 / 2, g)
    # The front face runs up from the edge, leaning back by alpha; the depth is the step's distance from it.
    edge, direction = np.array([d1 / 2, 0.0]), np.array([math.sin(a), -math.cos(a)])
    point = edge + s * np.array([math.cos(g), -math.sin(g)])
    along = np.dot(point - edge, direction)
    depth = np.linalg.norm(point - edge - along * direction)
    value(
        f"flat-{number}", "flat-form-profile",
        {"unit": "mm", "clearance_deg": alpha, "rake_deg": gamma, "smallest_diameter": d1, "steps": [{"diameter": d2}]},
        {"/result/steps/0/face_length": s, "/result/steps/0/tool_depth": depth}, 1e-11, PLANE,
    )

for number, (R, h, gamma, d1, d2) in enumerate([(25, 4, 8, 10, 18), (40, 6, -5, 12, 30), (1.25, 0.2, 15, 0.3, 0.7)], 1):
    g = math.radians(gamma)
    r1 = d1 / 2
    # The tool's centre lies h above the edge, on the far side; its own circle passes through the edge.
    centre = np.array([r1 + math.sqrt(R * R - h * h), h])
    s = on_face(r1, d2 / 2, g)
    point = np.array([r1 + s * math.cos(g), -s * math.sin(g)])
    foot = np.dot(centre - np.array([r1, 0.0]), np.array([math.sin(g), math.cos(g)]))
    value(
        f"circular-{number}", "circular-form-profile",
        {"unit": "mm", "tool_radius": R, "face_below_center": h, "rake_deg": gamma, "smallest_diameter": d1, "steps": [{"diameter": d2}]},
        {"/result/steps/0/tool_radius": np.linalg.norm(point - centre), "/result/face_offset": foot,
         "/result/clearance_deg": math.degrees(math.asin(h / R))}, 1e-11, PLANE,
    )

for number, (hold, alpha, gamma, d1, d2, height) in enumerate(
    [("slide", 10, 12, 10, 16, 0.3), ("smallest_diameter", 12, 8, 8, 15, -0.25), ("tool_ways", 15, 5, 6, 11, 0.2)], 1
):
    a, g = math.radians(alpha), math.radians(gamma)
    r1 = d1 / 2
    s = on_face(r1, d2 / 2, g)
    if hold == "slide":
        shift = 0.0
    elif hold == "tool_ways":
        shift = -height * math.tan(a)
    else:
        shift = optimize.brentq(lambda x: math.hypot(r1 + x, height) - r1, -1, 1, xtol=1e-15, rtol=1e-15)
    x, y = r1 + s * math.cos(g) + shift, -s * math.sin(g) + height
    made = math.hypot(x, y)
    value(
        f"height-{number}", "center-height-effect",
        {"unit": "mm", "height": height, "clearance_deg": alpha, "rake_deg": gamma, "smallest_diameter": d1,
         "steps": [{"diameter": d2}], "hold": hold},
        {"/result/steps/0/made_diameter": 2 * made, "/result/steps/0/error": 2 * made - d2,
         "/result/steps/0/effective_clearance_deg": alpha - math.degrees(math.atan2(y, x))}, 1e-11, PLANE,
    )

# --- Diagnosis: points displaced in the plane, solved by mpmath's multidimensional Newton on the normal equations ---


def diagnose(identity, gamma, pivot, places, measured, uncertainty):
    g = mpmath.radians(gamma)
    r1 = mpmath.mpf(min(d for _, d in places)) / 2
    points = []
    for (z, d), m in zip(places, measured):
        s = mpmath.findroot(lambda s: mpmath.hypot(r1 + s * mpmath.cos(g), s * mpmath.sin(g)) - mpmath.mpf(d) / 2, d / 2)
        points.append((r1 + s * mpmath.cos(g), -s * mpmath.sin(g), mpmath.mpf(z) - pivot, mpmath.mpf(m)))

    def squares(infeed, height, slope):
        return sum(
            ((2 * mpmath.hypot(x + infeed + z * slope, y + height) - m) / uncertainty) ** 2 for x, y, z, m in points
        )

    def gradient(*p):
        return [mpmath.diff(squares, p, tuple(int(i == k) for i in range(3))) for k in range(3)]

    def residuals(p):
        return [float((2 * mpmath.hypot(x + p[0] + z * p[2], y + p[1]) - m) / uncertainty) for x, y, z, m in points]

    start = optimize.least_squares(residuals, [0.0, 0.1, 0.0], xtol=1e-15, ftol=1e-15, gtol=1e-15).x
    found = mpmath.findroot(gradient, tuple(map(mpmath.mpf, start)), tol=1e-50)
    value(
        identity, "form-diagnosis",
        {"unit": "mm", "clearance_deg": 10, "rake_deg": gamma, "smallest_diameter": float(2 * r1), "pivot_z": float(pivot),
         "diameter_standard_uncertainty": uncertainty,
         "readings": [{"z": z, "target_diameter": d, "measured_diameter": m} for (z, d), m in zip(places, measured)]},
        {"/result/infeed/value": found[0], "/result/height/value": found[1],
         "/result/taper/half_angle_deg": mpmath.degrees(mpmath.atan(found[2])), "/result/chi_square": squares(*found)},
        1e-9, "stationary point of the sum of squares at 40 digits (mpmath findroot)",
    )


diagnose("diagnosis-1", 8, 5, [(0, 10), (4, 16), (9, 12), (13, 22), (18, 14), (24, 18)],
         [10.052, 16.021, 12.064, 22.003, 14.071, 18.058], 0.002)
diagnose("diagnosis-2", 14, 0, [(0, 12), (6, 20), (12, 15), (20, 26), (27, 13)],
         [11.962, 19.981, 15.004, 26.043, 13.047], 0.01)

# --- Published inventory values ------------------------------------------------------------------------------------

SNYDER = ("L. V. Snyder and Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed. (2019), {}; value of the author's "
          "companion package's tests")
YEAR = {"demand_per_day": 1300, "lead_time_days": 1 / 12, "model": "normal", "standard_deviation": 150,
        "holding_cost": 0.225, "shortage_cost": 7.5, "ordering_cost": 8}
P51 = {"demand_per_day": 800, "lead_time_days": 4 / 365, "model": "normal", "standard_deviation": 40,
       "holding_cost": 3.1, "shortage_cost": 45, "ordering_cost": 50}
P53 = {"demand_per_day": 192, "lead_time_days": 3, "model": "normal", "standard_deviation": 17.4,
       "holding_cost": 1.5 / 7, "shortage_cost": 40, "ordering_cost": 85}
E58 = {"demand_per_day": 1.5, "lead_time_days": 2, "model": "poisson", "holding_cost": 20, "shortage_cost": 150,
       "ordering_cost": 100}
P52 = {"demand_per_day": 12, "lead_time_days": 0.5, "model": "poisson", "holding_cost": 4, "shortage_cost": 28,
       "ordering_cost": 4}
LEAST = {"method": "least_cost"}


def published(identity, base, extra, expected, tolerance, where):
    value(identity, "reorder", {**base, **extra}, expected, tolerance, SNYDER.format(where), "transcription")


for number, (base, r, q, cost, where) in enumerate([
    (YEAR, 126.8, 328.5, 78.071162509282942, "Example 5.1"), (YEAR, 100, 250, 87.346478028174985, "Example 5.1"),
    (P51, -1.9859, 166.95, 484.2110418415538, "Problem 5.1"), (P51, 100, 250, 830.3219178082192, "Problem 5.1"),
    (E58, 3, 5, 107.9235806331498, "Example 5.8"), (E58, 8, 12, 242.5281637662021, "Example 5.8"),
    (P52, 6, 7, 28.241312842169155, "Problem 5.2"), (P52, 3, 9, 34.264154469469503, "Problem 5.2"),
], 1):
    published(f"policy-cost-{number}", base, {**LEAST, "order_quantity": q, "reorder_point": r},
              {"/result/expected_cost_per_day": cost}, 1e-7, where)
for number, (base, q, r, where) in enumerate([
    (YEAR, 318, 127.7880348669655, "Example 5.2"), (YEAR, 150, 147.1949581740714, "Example 5.2"),
    (YEAR, 750, 99.85377339616528, "Example 5.2"), (P51, 318, -11.727678833180178, "Problem 5.1"),
    (P51, 150, -0.885130303271656, "Problem 5.1"), (P51, 750, -39.569675038859785, "Problem 5.1"),
    (P53, 318, 612.1331312304716, "Problem 5.3"), (P53, 150, 622.5171783526781, "Problem 5.3"),
    (P53, 750, 598.4126476551643, "Problem 5.3"),
], 1):
    # The tests' own bisection stops at 1e-6 of cost.
    published(f"point-{number}", base, {**LEAST, "order_quantity": q}, {"/result/reorder_point": r}, 2e-5, where)
published("economic-1", P51, {}, {"/result/reorder_point": 15.125515371852014, "/result/order_quantity": 160.6438657804998}, 1e-6, "Problem 5.1(c)")
published("economic-2", P53, {}, {"/result/reorder_point": 652.9638947041127, "/result/order_quantity": 390.2819493648150}, 1e-6, "Problem 5.3(c)")
published("exact-1", E58, LEAST, {"/result/reorder_point": 3, "/result/order_quantity": 5, "/result/expected_cost_per_day": 107.9235806331498}, 1e-7, "Example 5.8")
published("exact-2", P52, LEAST, {"/result/reorder_point": 6, "/result/order_quantity": 7, "/result/expected_cost_per_day": 28.241312842169155}, 1e-7, "Problem 5.2")

# The least-cost policy of normal demand by a general minimiser over both numbers, the cost by adaptive quadrature.
mu, sigma = 1300 / 12, 150 / math.sqrt(12)


def level_cost(y):
    z = (y - mu) / sigma
    return 0.225 * (y - mu) + 7.725 * sigma * (stats.norm.pdf(z) - z * stats.norm.sf(z))


def policy_cost(p):
    return (8 * 1300 + integrate.quad(level_cost, p[0], p[0] + p[1], epsabs=1e-11, epsrel=1e-13)[0]) / p[1]


best = optimize.minimize(policy_cost, [126, 328], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-13, "maxiter": 4000})
value("least-cost-1", "reorder", {**YEAR, **LEAST},
      {"/result/reorder_point": best.x[0], "/result/order_quantity": best.x[1]}, 2e-4,
      "scipy minimize (Nelder-Mead) of the cost by quadrature; a flat minimum")
value("least-cost-2", "reorder", {**YEAR, **LEAST}, {"/result/expected_cost_per_day": best.fun}, 1e-9,
      "scipy minimize (Nelder-Mead) of the cost by quadrature")

# --- Published charts and lines ------------------------------------------------------------------------------------

EWMA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
PRINTED = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
           50.73, 51.23, 51.94, 51.99]
chart = {"chart": "ewma", "readings": EWMA, "parameters": {"lambda": 0.3, "center": 50, "standard_deviation": 2.0539, "width": 3}}
NIST = "NIST/SEMATECH e-Handbook 6.3.2.4 (the example's numbers in a public test suite)"
value("ewma-1", "control-limits", chart, {"/result/upper": 52.5884, "/result/lower": 47.4115}, 1e-3,
      NIST + "; the page truncates a factor to 0.4201", "transcription")
value("ewma-2", "control-limits", chart, {f"/result/statistic/{i}": z for i, z in enumerate(PRINTED)}, 0.00501, NIST, "transcription")

SHIFT = [324.93, 324.68, 324.73, 324.35, 325.35, 325.23, 324.13, 324.53, 325.23, 324.60, 324.63, 325.15, 328.33, 327.25,
         327.83, 328.50, 326.68, 327.78, 326.88, 328.35]
high = [0.0]
low = [0.0]
for x in SHIFT:
    high.append(max(0, high[-1] + x - 325 - 0.3175))
    low.append(max(0, low[-1] + 325 - 0.3175 - x))
assert abs(high[14] - 4.945) < 1e-9, "the first signal, as the page has it"
value("cusum-1", "control-limits",
      {"chart": "cusum", "readings": SHIFT, "parameters": {"center": 325, "k": 0.3175, "h": 4.1959}},
      {"/result/statistic/13": 4.945, "/result/signals/0": 14, "/result/statistic_low/6": -low[7]}, 1e-9,
      "NIST/SEMATECH e-Handbook 6.3.2.3, data and parameters; sums written out here", "recalled")

NORRIS = [(0.2, 0.1), (337.4, 338.8), (118.2, 118.1), (884.6, 888.0), (10.1, 9.2), (226.5, 228.1), (666.3, 668.5),
          (996.3, 998.5), (448.6, 449.1), (777.0, 778.9), (558.2, 559.2), (0.4, 0.3), (0.6, 0.1), (775.5, 778.1),
          (666.9, 668.8), (338.0, 339.3), (447.5, 448.9), (11.6, 10.8), (556.0, 557.7), (228.1, 228.3), (995.8, 998.0),
          (887.6, 888.8), (120.2, 119.6), (0.3, 0.3), (0.3, 0.6), (556.8, 557.6), (339.1, 339.3), (887.2, 888.0),
          (999.0, 998.5), (779.0, 778.9), (11.1, 10.2), (118.3, 117.6), (229.2, 228.9), (669.1, 668.4), (448.9, 449.2),
          (0.5, 0.2)]
value("norris", "wear-trend", {"unit": "mm", "readings": [{"pieces": x, "value": y} for x, y in NORRIS]},
      {"/result/slope": 1.00211681802045, "/result/intercept": -0.262323073774029,
       "/result/residual_standard_deviation": 0.884796396144373, "/result/slope_standard_uncertainty": 0.429796848199937e-3},
      2e-13, "NIST StRD, Norris (certified values as in several public test suites)", "transcription")

# --- Distributions by scipy ----------------------------------------------------------------------------------------

SCIPY = "scipy.stats, numerical distribution functions"
for number, (time, r, conf) in enumerate([(5000, 7, 0.95), (120, 1, 0.8)], 1):
    a = (1 - conf) / 2
    value(f"mtbf-{number}", "mtbf", {"total_time": time, "failures": r, "confidence": conf, "sided": "two"},
          {"/result/lower": 2 * time / stats.chi2.ppf(1 - a, 2 * r + 2), "/result/upper": 2 * time / stats.chi2.ppf(a, 2 * r)},
          1e-8, SCIPY)

lives = [312.0, 520.0, 610.0, 44.0, 871.0, 705.0, 198.0, 433.0]
shape, _, scale = stats.weibull_min.fit(lives, floc=0)
refined = optimize.minimize(lambda p: -stats.weibull_min.logpdf(lives, p[0], scale=p[1]).sum(), [shape, scale],
                            method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 4000})
frozen = stats.weibull_min(refined.x[0], scale=refined.x[1])
value("weibull-1", "life-distribution", {"failures": lives},
      {"/result/shape": refined.x[0], "/result/scale": refined.x[1], "/result/b10": frozen.ppf(0.1), "/result/mean": frozen.mean(),
       "/result/log_likelihood": -refined.fun}, 5e-4, "scipy.stats.weibull_min.fit, sharpened by minimize (Nelder-Mead)")

mean, deviation, n = 9.998, 0.0042, 60
value("capability-1", "capability",
      {"unit": "mm", "lower_limit": 9.985, "upper_limit": 10.015, "mean": mean, "standard_deviation": deviation, "n": n,
       "tolerance_interval": {"share": 0.99, "confidence": 0.95}},
      {"/result/rejects_per_million": 1e6 * (stats.norm.cdf(9.985, mean, deviation) + stats.norm.sf(10.015, mean, deviation)),
       "/result/tolerance_interval/one_sided_upper":
           mean + deviation * stats.nct.ppf(0.95, n - 1, stats.norm.ppf(0.99) * math.sqrt(n)) / math.sqrt(n)},
      1e-7, SCIPY)
value("conformity-1", "gauge-conformity",
      {"unit": "mm", "lower_limit": 19.98, "upper_limit": 20.0, "measured": 19.997, "standard_uncertainty": 0.004},
      {"/result/conformance_probability": stats.norm.cdf(20, 19.997, 0.004) - stats.norm.cdf(19.98, 19.997, 0.004),
       "/result/guard_band": 0.004 * stats.norm.ppf(0.95)}, 1e-12, SCIPY)

u, c, nu = np.array([0.8, 1.1, 0.05]), np.array([1.0, -0.6, 12.0]), np.array([4, 11, 30])
combined = math.sqrt(((c * u) ** 2).sum())
effective = combined**4 / (((c * u) ** 4) / nu).sum()
value("budget-1", "uncertainty-budget",
      {"unit": "mm", "coverage": 0.9545,
       "components": [{"name": str(i), "standard_uncertainty": a, "sensitivity": b, "degrees_of_freedom": int(d)}
                      for i, (a, b, d) in enumerate(zip(u, c, nu))]},
      {"/result/combined": combined, "/result/effective_degrees_of_freedom": effective,
       "/result/coverage_factor": stats.t.ppf(0.5 + 0.9545 / 2, math.floor(effective))}, 1e-11,
      "numpy sums and Student's t of scipy.stats")

# --- Others --------------------------------------------------------------------------------------------------------

L, ap, tp, ag, tg = (mpmath.mpf(x) for x in ("254.0031", "23.1", "31.5", "11.5", "22.25"))
true = L * (1 + ag * (tg - 20) / 10**6) / (1 + ap * (tp - 20) / 10**6)
value("thermal-1", "thermal",
      {"unit": "mm", "measured_length": float(L), "part_temperature_c": float(tp), "gauge_temperature_c": float(tg),
       "part_ppm_per_c": float(ap), "gauge_ppm_per_c": float(ag)},
      {"/result/length_at_20c": true, "/result/correction": true - L}, 1e-12, "mpmath at 40 digits")

# Each piece: y = target + offset + moves before it + noise; offset by general least squares, as a regression on a constant.
y = [25.043, 25.012, 24.994, 25.009]
applied = [-0.04, -0.004, 0.003, 0.0]
before = np.concatenate([[0], np.cumsum(applied)[:-1]])
offset = np.linalg.lstsq(np.ones((4, 1)), np.array(y) - 25 - before, rcond=None)[0][0]
value("setting-1", "setting-adjustment",
      {"unit": "mm", "target": 25, "measured": y, "applied": applied, "process_standard_deviation": 0.005},
      {"/result/next_adjustment": -offset - sum(applied)}, 1e-12, "numpy least squares of the offset")

for number, (near, far, distance, target, arm, per_turn) in enumerate([(14, 14.06, 30, 0.02, 55, 1.25), (0.5, 0.4987, 1.1, -0.01, 2.75, 0.05)], 1):
    line = np.polyfit([0, distance], [near / 2, far / 2], 1)
    error = math.atan(line[0]) - math.radians(target)
    value(f"taper-{number}", "taper",
          {"unit": "mm" if number == 1 else "in", "near_diameter": near, "far_diameter": far, "distance": distance,
           "target_half_angle_deg": target,
           "adjuster": {"travel_per_turn": per_turn, "arm": arm, "clockwise_moves": "far_diameter_up"}},
          {"/result/half_angle_deg": math.degrees(math.atan(line[0])),
           "/corrections/0/turns": abs(math.tan(error)) * arm / per_turn}, 1e-10, "slope of the generator by numpy polyfit")

rows = [(92.0, 35.0), (110.0, 18.0), (128.0, 11.0), (150.0, 6.5)]
slope, intercept = np.polyfit([math.log(v) for v, _ in rows], [math.log(t) for _, t in rows], 1)
value("taylor-1", "tool-life", {"points": [{"speed": v, "minutes": t} for v, t in rows]},
      {"/result/n": -1 / slope, "/result/c": math.exp(-intercept / slope)}, 1e-7, "numpy polyfit of the logarithms")

pathlib.Path(__file__).with_name("values.json").write_text(
    "[\n" + ",\n".join("  {\n" + ",\n".join(f"    {json.dumps(k)}: {json.dumps(v)}" for k, v in entry.items()) + "\n  }"
                       for entry in VALUES) + "\n]\n")
print(len(VALUES), "entries,", sum(len(entry["expected"]) for entry in VALUES), "numbers")
