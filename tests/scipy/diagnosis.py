"""Form diagnosis by scipy's least squares, with what follows from it: the bad reading, the sense of height, the screws.

All differences are absolute, in millimetres and degrees, but for uncertainties. Cases are well-posed: eight readings over
the length and the diameters.
"""

import math

import numpy as np
from scipy import optimize, special

from cases import chance, comparison, near, pick, random, uniform
from geometry import on_face

NOISE = 0.001
RESOLVED = special.ndtri(0.975).round(2)


class Form:
    """Readings of a displaced form: edges by bisection, diameters by rotation and shift of points."""

    def __init__(self, gamma, heights):
        self.gamma, self.r1, self.pivot = gamma, uniform(4, 10), uniform(0, 10)
        self.z = np.sort(uniform(0, 30, 8))
        target = 2 * self.r1 + uniform(0, 20, 8)
        target[random.integers(8)] = 2 * self.r1
        self.target = target
        s = np.array([on_face(self.r1, d / 2, gamma) for d in target])
        self.x, self.y, self.w = self.r1 + s * math.cos(gamma), -s * math.sin(gamma), self.z - self.pivot
        self.error = np.array([uniform(-0.1, 0.1), pick(*heights), uniform(-0.004, 0.004)])
        exact = 2 * np.hypot(self.x + self.error[0] + self.w * self.error[2], self.y + self.error[1])
        self.made = exact + random.normal(0, NOISE, 8)

    def request(self):
        return {"unit": "mm", "clearance_deg": 10, "rake_deg": math.degrees(self.gamma), "smallest_diameter": 2 * self.r1,
                "pivot_z": self.pivot, "diameter_standard_uncertainty": NOISE, "readings": [
                    {"z": z, "target_diameter": d, "measured_diameter": m} for z, d, m in zip(self.z, self.target, self.made)]}

    def diameters(self, p):
        if self.gamma == 0:
            return 2 * np.sqrt((self.x + p[0] + self.w * p[2]) ** 2 + p[1])
        return 2 * np.hypot(self.x + p[0] + self.w * p[2], self.y + p[1])

    def slopes(self, p):
        radius = self.diameters(p) / 2
        across = 2 * (self.x + p[0] + self.w * p[2]) / radius
        up = 1 / radius if self.gamma == 0 else 2 * (self.y + p[1]) / radius
        return np.stack([across, up, across * self.w], axis=1)


class Fit:
    """The minimum downhill from a start; with `skip`, without that reading. `p` is infeed, height or its square, slope."""

    def __init__(self, form, start, skip=None):
        keep = np.arange(8) != (8 if skip is None else skip)

        def residuals(p):
            return (form.diameters(p) - form.made)[keep] / NOISE

        def jacobian(p):
            return form.slopes(p)[keep] / NOISE

        # MINPACK's Levenberg-Marquardt, as in least_squares with method "lm", called with less around it.
        p = optimize.leastsq(residuals, start, Dfun=jacobian, xtol=1e-14, ftol=1e-14, gtol=1e-14, full_output=True)[0]
        # Sharpened: it stops where the sum of squares is flat to the last bits.
        for _ in range(2):
            step = np.linalg.lstsq(jacobian(p), -residuals(p), rcond=None)[0]
            p = p + step
        self.settled = np.abs(step).max() < 1e-9
        j = jacobian(p)
        self.p, self.freedom, self.chi_square = p, int(keep.sum()) - 3, float((residuals(p) ** 2).sum())
        self.condition = np.linalg.cond(j / np.linalg.norm(j, axis=0))
        inverse = np.linalg.pinv(j)
        self.covariance = inverse @ inverse.T
        self.u = np.sqrt(np.diag(self.covariance))
        self.probability = special.chdtrc(self.freedom, self.chi_square)


def minima(form, start, skip=None):
    """The minimum to take, and the other one if there is one: with rake, one from a start and one from heights on both
    sides. Of two that the readings leave possible, the one nearer to centre."""
    first = Fit(form, start, skip)
    if form.gamma == 0:
        return first, None
    # The diameters change nearly as a height, and its mirror image in -r1 tan(gamma) with more infeed, would change them.
    fall = math.tan(form.gamma)
    apart = -2 * form.r1 * fall - 2 * first.p[1]
    starts = [first.p + [apart * fall, apart, 0]]
    if skip is None:
        starts += [[start[0] + height * fall, height, start[2]] for height in (0.2, -0.2 * form.r1)]
    found = [fit for fit in [first] + [Fit(form, other, skip) for other in starts] if fit.settled] or [first]
    lowest = min(fit.chi_square for fit in found)
    found.sort(key=lambda fit: (fit.chi_square - lowest >= 3.84, abs(fit.p[1])))
    apart = [fit for fit in found if abs(fit.p[1] - found[0].p[1]) > 1e-3]
    return found[0], apart[0] if apart else None


def far(form, fit):
    return abs(fit.p[1]) > 0.1 * form.r1


def unsure(form, fit, other):
    """Whether the minima are hardly ones, or what is decided between them hangs on last bits."""
    if any(not f.settled or f.condition > 100 for f in (fit, other) if f is not None):
        return True
    # Where the two minima run into one the height is not determined.
    if form.gamma and abs(fit.p[1] + form.r1 * math.tan(form.gamma)) < 0.1:
        return True
    return other is not None and (any(near(abs(f.p[1]), 0.1 * form.r1) for f in (fit, other)) or min(
        abs(other.chi_square - fit.chi_square - edge) for edge in (-3.84, 3.84)) < 1e-5 or near(
        abs(other.p[1]), abs(fit.p[1])))


def raked():
    """With half of the rakes small: there both minima can lie near centre."""
    form = Form(math.radians(uniform(*pick((1, 4), (6, 20)))), [uniform(-0.2, 0.2), 0.0])
    fit, other = minima(form, form.error)
    if fit.probability < 0.001 or unsure(form, fit, other):
        return None
    return form, fit, other


def values(form, fit):
    angle = math.atan(fit.p[2])
    return {"/result/infeed/value": fit.p[0], "/result/height/value": fit.p[1],
            "/result/taper/half_angle_deg": math.degrees(angle)} | {
        f"/result/residuals/{i}": value for i, value in enumerate(form.diameters(fit.p) - form.made)}


@comparison("form-diagnosis", 1e-9, floor=1.0)
def diagnosis():
    if (case := raked()) is None:
        return None
    form, fit, other = case
    return form.request(), values(form, fit) | {
        "/result/degrees_of_freedom": 5, "/result/doubtful_reading": None,
        "/result/height/other_value": other.p[1] if other else None}


@comparison("form-diagnosis", 1e-7)
def diagnosis_uncertainty():
    """Standard uncertainties from a Jacobian by central differences, chi-square from the residuals."""
    if (case := raked()) is None:
        return None
    form, fit, _ = case
    rows = np.array([(form.diameters(fit.p + step) - form.diameters(fit.p - step)) / 2e-4 for step in 1e-4 * np.eye(3)])
    covariance = np.linalg.inv(rows @ rows.T) * NOISE**2
    u = np.sqrt(np.diag(covariance))
    return form.request(), {
        "/result/infeed/standard_uncertainty": u[0], "/result/height/standard_uncertainty": u[1],
        "/result/taper/standard_uncertainty_deg": math.degrees(u[2] * math.cos(math.atan(fit.p[2])) ** 2),
        "/result/chi_square": fit.chi_square}


@comparison("form-diagnosis", 1e-9, floor=1.0)
def diagnosis_no_rake():
    """Only the square of height is seen, q; below zero it is noise, and the height is nothing."""
    form = Form(0.0, [uniform(0.2, 1.5), -uniform(0.2, 1.5), 0.0])
    fit = Fit(form, [form.error[0], form.error[1] ** 2, form.error[2]])
    q, u = fit.p[1], fit.u[1]
    z95 = special.ndtri(0.95)
    # Near zero the root of q tells its last bits a million times over.
    if fit.condition > 100 or fit.probability < 0.001 or near(q, z95 * u) or 0 < q < 1e-4 or abs(q + u) < 1e-4:
        return None
    height = math.sqrt(max(q, 0))
    seen = bool(q > z95 * u)
    spread = u / 2 / height if seen else math.sqrt(max(q + u, 0)) - height
    return form.request(), values(form, fit) | {
        "/result/height/value": height, "/result/height/sign_known": False, "/result/height/significant": seen,
        "/result/height/standard_uncertainty": spread, "/result/height/upper_95": math.sqrt(max(q + z95 * u, 0))}


@comparison("form-diagnosis", 1e-9, floor=1.0)
def diagnosis_bad_reading():
    """One reading is off: it is left out when the others fit without it, and none else can be blamed."""
    gamma = pick(0.0, math.radians(uniform(6, 20)))
    form = Form(gamma, [uniform(0.3, 1.0)] if gamma == 0 else [uniform(-0.2, 0.2)])
    form.made[random.integers(8)] += pick(-1, 1) * uniform(0.02, 0.2)
    start = form.error if gamma else [form.error[0], form.error[1] ** 2, form.error[2]]
    whole, other = minima(form, start)
    if near(whole.probability, 1e-4) or unsure(form, whole, other):
        return None
    found, number = whole, None
    if whole.probability < 1e-4:
        pairs = [minima(form, start, skip) for skip in range(8)]
        if any(unsure(form, *pair) for pair in pairs):
            return None
        without = [fit for fit, _ in pairs]
        order = np.argsort([fit.chi_square for fit in without])
        best, second = without[order[0]], without[order[1]]
        if near(best.probability, 0.01) or near(second.probability, 1e-4):
            return None
        if best.probability >= 0.01 and second.probability < 1e-4:
            found, number = best, int(order[0]) + 1
    expected = values(form, found)
    if gamma == 0:
        if found.p[1] < 1e-2:
            return None
        expected["/result/height/value"] = math.sqrt(found.p[1])
    return form.request(), expected | {"/result/doubtful_reading": number, "/result/degrees_of_freedom": found.freedom}


@comparison("form-diagnosis", 1e-9, floor=1.0)
def diagnosis_expected():
    """What the form makes after the screws that were named: turned to nothing, left, or the slide set for the rest."""
    if (case := raked()) is None:
        return None
    form, fit, other = case
    ratios = np.abs(fit.p) / fit.u
    if any(near(r, RESOLVED) for r in ratios):
        return None
    doubt = other is not None and other.chi_square - fit.chi_square < 3.84 and not (far(form, other) and not far(form, fit))
    screws = {"infeed": {"travel_per_turn": 1.25, "ratio": 0.5, "clockwise_moves": "tool_in"},
              "height": {"travel_per_turn": 0.9, "clockwise_moves": "edge_up"},
              "taper": {"travel_per_turn": 1.25, "arm": 60, "clockwise_moves": "far_diameter_up"}}
    named = {name: screw for name, screw in screws.items() if chance(0.7)}
    seen, lean = ratios > RESOLVED, math.tan(math.radians(10))
    after, turns = fit.p.copy(), []
    if seen[2] and "taper" in named:
        after[2] = 0
        turns.append(60 * abs(fit.p[2]) / 1.25)
    known = bool(seen[1] and not doubt)
    if known and "height" in named:
        # Lowered along ways that lean by the clearance, the edge moves out.
        after = after + [fit.p[1] * lean, -fit.p[1], 0]
        after[1] = 0
        turns.append(abs(fit.p[1]) / math.cos(math.radians(10)) / 0.9)
    if after[1] == 0 and after[2] == 0:
        best = 0.0
        both = np.array([1, lean, 0])
        u = math.sqrt(both @ fit.covariance @ both)
    else:
        def miss(p):
            return form.diameters([p[0], after[1], after[2]]) - form.target

        best = optimize.leastsq(miss, [0.0], xtol=1e-14, ftol=1e-14, gtol=1e-14, full_output=True)[0][0]
        for _ in range(3):
            across = form.slopes([best, after[1], after[2]])[:, 0]
            best -= across @ miss([best]) / (across @ across)
        across = form.slopes(after)[:, 0]
        u = NOISE / np.linalg.norm(across)
    out = after[0] - best
    if near(abs(out), RESOLVED * u):
        return None
    # A height in doubt is for the gauge, before the slide is moved.
    if abs(out) > RESOLVED * u and "infeed" in named and not (seen[1] and doubt):
        after[0] = best
        turns.append(abs(out) / 0.5 / 1.25)
    request = form.request() | {"adjusters": named}
    return request, {f"/result/expected_diameters/{i}": d for i, d in enumerate(form.diameters(after))} | {
        f"/corrections/{i}/turns": turns[i] if i < len(turns) else None for i in range(3)} | {
        "/result/height/sign_known": known, "/result/height/significant": bool(seen[1]),
        "/result/taper/significant": bool(seen[2]), "/result/infeed/significant": bool(seen[0])}
