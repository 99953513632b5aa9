"""Form tools, screws and diagnosis, redone in the plane with roots by bisection and scipy's optimisers."""

import math

import numpy as np
from scipy import optimize

from cases import comparison, random, root, uniform


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
