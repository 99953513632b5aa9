"""Form tools, redone in the plane: points, lines and circles, with roots by bisection."""

import math

import numpy as np

from cases import chance, comparison, near, pick, random, root, uniform


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


def circular():
    """A circular tool with its centre at a height h above the edge."""
    _, gamma, d1, steps = form()
    gamma = abs(gamma)
    steps = [d1 + (d - d1) * 0.3 for d in steps]
    R = uniform(20, 60)
    h = R * math.sin(math.radians(uniform(5, 15)))
    g = math.radians(gamma)
    centre = np.array([d1 / 2 + math.sqrt((R - h) * (R + h)), h])
    # The face's line goes through (r1, 0); its distance from the centre is what the grinder sets.
    away = math.sin(g) * (centre[0] - d1 / 2) + math.cos(g) * centre[1]
    expected = {"/result/clearance_deg": math.degrees(math.atan2(h, centre[0] - d1 / 2)),
                "/result/face_below_center": h, "/result/face_offset": away}
    for i, d in enumerate(steps):
        s = on_face(d1 / 2, d / 2, g)
        point = np.array([d1 / 2 + s * math.cos(g), -s * math.sin(g)])
        expected[f"/result/steps/{i}/tool_radius"] = np.linalg.norm(centre - point)
    return {"unit": "mm", "tool_radius": R, "rake_deg": gamma, "smallest_diameter": d1,
            "steps": [{"diameter": d} for d in steps]}, expected


@comparison("circular-form-profile", 1e-12)
def circular_by_drop():
    request, expected = circular()
    return request | {"face_below_center": expected["/result/face_below_center"]}, expected


@comparison("circular-form-profile", 1e-12)
def circular_by_clearance():
    request, expected = circular()
    return request | {"wanted_clearance_deg": expected["/result/clearance_deg"]}, expected


def shift(hold, r1, alpha, height):
    if hold == "slide":
        return 0.0
    if hold == "tool_ways":
        return -height * math.tan(alpha)
    return root(lambda x: (r1 + x) ** 2 + height**2 - r1 * r1, -r1, 0.0) if height else 0.0


def height_effect(hold):
    alpha, gamma, d1, steps = form()
    height = uniform(-0.2, 0.2) * d1 / 2
    a, g = math.radians(alpha), math.radians(gamma)
    x0 = shift(hold, d1 / 2, a, height)
    expected = {"/result/infeed": x0}
    for i, d in enumerate(steps):
        s = on_face(d1 / 2, d / 2, g)
        x, y = d1 / 2 + s * math.cos(g) + x0, -s * math.sin(g) + height
        expected[f"/result/steps/{i}/made_diameter"] = 2 * math.hypot(x, y)
        expected[f"/result/steps/{i}/effective_clearance_deg"] = alpha - math.degrees(math.atan2(y, x))
    return {"unit": "mm", "clearance_deg": alpha, "rake_deg": gamma, "smallest_diameter": d1, "height": height,
            "steps": [{"diameter": d} for d in steps], "hold": hold}, expected


@comparison("center-height-effect", 1e-11)
def height_slide():
    return height_effect("slide")


@comparison("center-height-effect", 1e-11)
def height_smallest():
    return height_effect("smallest_diameter")


@comparison("center-height-effect", 1e-11)
def height_tool_ways():
    return height_effect("tool_ways")


@comparison("center-height-effect", 1e-8)
def height_limits():
    alpha, gamma, d1, steps = form()
    hold = pick("slide", "smallest_diameter", "tool_ways")
    lower, upper, shop = -uniform(0.003, 0.06), uniform(0.003, 0.06), pick(0.8, uniform(0.01, 0.2))
    a, g, r1 = math.radians(alpha), math.radians(gamma), d1 / 2
    faces = np.array([on_face(r1, d / 2, g) for d in steps + [d1]])
    nominal = np.array(steps + [d1]) / 2

    def margin(height, with_clearance):
        """Above zero while everything holds."""
        height = np.atleast_1d(height)[:, None]
        if hold == "slide":
            x0 = 0.0
        elif hold == "tool_ways":
            x0 = -height * np.tan(a)
        else:
            x0 = np.sqrt(r1 * r1 - height**2) - r1
        x, y = r1 + faces * np.cos(g) + x0, -faces * np.sin(g) + height
        errors = 2 * (np.hypot(x, y) - nominal)[:, :-1]
        worst = np.minimum(errors - lower, upper - errors).min(axis=1)
        if with_clearance:
            worst = np.minimum(worst, (a - np.radians(3) - np.arctan2(y, x)).min(axis=1))
        return worst

    def first_exit(sign, clearance):
        grid = np.linspace(0, shop, 1601)
        inside = margin(sign * grid, clearance) >= 0
        if inside.all():
            return shop
        at = int(np.argmin(inside))
        if at == 0:
            return 0.0
        return root(lambda h: float(margin(sign * h, clearance)[0]), grid[at - 1], grid[at])

    return {"unit": "mm", "clearance_deg": alpha, "rake_deg": gamma, "smallest_diameter": d1, "height": 0,
            "steps": [{"diameter": d} for d in steps], "hold": hold, "diameter_limits": {"lower": lower, "upper": upper},
            "shop_height_limit": shop}, {"/result/height_limit_up": first_exit(1, True),
                                         "/result/height_limit_down": first_exit(-1, False)}


@comparison("approach", 1e-11)
def approach():
    shape, corners = pick(("round", 1), ("hexagon", 6), ("square", 4))
    across, smallest, rise, tolerance = uniform(10, 40), uniform(2, 9), uniform(1, 25), uniform(0, 0.2)
    runout, n, wanted = uniform(0, 0.3), uniform(20, 400), uniform(0.1, 1)

    def reach(flats):
        """The farthest corner of a regular polygon from its centre: where two neighbouring sides meet."""
        if corners == 1:
            return flats / 2
        turn = 2 * math.pi / corners
        return math.hypot(*np.linalg.solve([[1, 0], [math.cos(turn), math.sin(turn)]], [flats / 2, flats / 2]))

    gap = rise - (reach(across) - smallest / 2)
    least = gap - (reach(across + tolerance) - reach(across)) - runout / 2
    if near(least, 0):
        return None
    return {"unit": "mm", "bar_diameter": across, "bar_shape": shape, "bar_tolerance": tolerance, "runout": runout,
            "smallest_diameter": smallest, "rise": rise, "working_revolutions": n, "wanted_gap": wanted}, {
        "/result/gap": gap, "/result/least_gap": least, "/result/clear": least > 0,
        "/result/needed_rise": rise - least + wanted, "/result/feed_per_revolution": rise / n}


@comparison("regrind-outlook", 1e-11)
def regrind_flat():
    """The strip ground off lies between two parallel faces; both meet the relief face."""
    alpha, gamma = uniform(3, 20), uniform(-5, 25)
    a, g = math.radians(alpha), math.radians(gamma)
    relief, across = np.array([math.sin(a), -math.cos(a)]), np.array([math.sin(g), math.cos(g)])
    height, least, land, clean = uniform(20, 60), uniform(5, 19), uniform(0.05, 0.4), uniform(0, 0.1)
    stock = abs(across @ (land * relief)) + clean
    loss = root(lambda t: abs(across @ (t * relief)) - stock, 0, 10)
    many = (height - least) / loss
    if near(many, round(many)):
        return None
    per, left = int(random.integers(1, 5000)), int(random.integers(0, 5000))
    asked = {"wear_land": land, "clean_up": clean} if chance() else {"grind_stock": stock}
    return {"unit": "mm", "kind": "flat", "height": height, "minimum_height": least, "clearance_deg": alpha, "rake_deg": gamma,
            "pieces_per_grind": per, "pieces_left_on_edge": left} | asked, {
        "/result/grind_stock": stock, "/result/height_loss": loss, "/result/regrinds_left": math.floor(many),
        "/result/pieces_left": math.floor(many) * per + left}


@comparison("regrind-outlook", 1e-11)
def regrind_circular():
    alpha, gamma, R, usable = uniform(3, 20), uniform(0, 20), uniform(15, 60), uniform(30, 300)
    a, g = math.radians(alpha), math.radians(gamma)
    stock = uniform(0.05, 0.5)
    relief, across = np.array([math.sin(a), -math.cos(a)]), np.array([math.sin(g), math.cos(g)])
    arc = root(lambda t: abs(across @ (t * relief)) - stock, 0, 10)
    one = arc / (2 * math.pi * R) * 360
    many = usable / one
    if near(many, round(many)):
        return None
    return {"unit": "mm", "kind": "circular", "tool_radius": R, "usable_angle_deg": usable, "stock_per_grind": stock,
            "clearance_deg": alpha, "rake_deg": gamma}, {
        "/result/height_loss": arc, "/result/angle_per_grind_deg": one, "/result/regrinds_left": math.floor(many)}
