"""Times scipy's least squares on the benchmark's readings, beside the medians that criterion found, and checks the answers.

The same model with analytic derivatives in numpy arrays, method "lm" (MINPACK), from the program's first start. Only the
fit is timed here, the geometry before it is not; the program's times hold the whole calculation, from the request to the
answer with steps, corrections and sentences, and with rake three fits from three starts.
"""

import json
import math
import statistics
import subprocess
import sys
import time

import numpy as np
from scipy import optimize

LARGEST_DIFFERENCE_MM = 1e-9
ROUNDS, EACH = 41, 25


def fitted(request):
    """Two functions that give infeed, height (or its square) and slope: scipy's fit, and the same sharpened."""
    rake, r1 = math.radians(request["rake_deg"]), request["smallest_diameter"] / 2
    z, target, made = (np.array([reading[name] for reading in request["readings"]])
                       for name in ("z", "target_diameter", "measured_diameter"))
    along = np.sqrt((target / 2) ** 2 - (r1 * math.sin(rake)) ** 2) - r1 * math.cos(rake)
    x, y, w = r1 + along * math.cos(rake), -along * math.sin(rake), z - request["pivot_z"]
    weight = 1 / request["diameter_standard_uncertainty"]
    raked = rake != 0

    def radius(p):
        across = x + p[0] + w * p[2]
        return across, np.sqrt(across**2 + (y + p[1]) ** 2) if raked else np.sqrt(across**2 + p[1])

    def residuals(p):
        return (2 * radius(p)[1] - made) * weight

    def jacobian(p):
        across, r = radius(p)
        by = np.empty((len(made), 3))
        by[:, 0] = 2 * weight * across / r
        by[:, 1] = 2 * weight * (y + p[1]) / r if raked else weight / r
        by[:, 2] = by[:, 0] * w
        return by

    start = np.array([(made - target).mean() / 2, 0.02 * r1 if raked else 0.0, 0.0])
    def fit():
        return optimize.least_squares(residuals, start, jac=jacobian, method="lm").x

    def sharpened():
        """scipy stops where the sum of squares is flat to the last bits: undamped steps take it to the minimum."""
        p = fit()
        for _ in range(3):
            p = p + np.linalg.lstsq(jacobian(p), -residuals(p), rcond=None)[0]
        return p

    return fit, sharpened


def seconds(fit):
    """The median over rounds of the mean time of one fit."""
    fit()
    rounds = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        for _ in range(EACH):
            fit()
        rounds.append((time.perf_counter() - begun) / EACH)
    return statistics.median(rounds)


def main(program, requests, estimates):
    failed = False
    for request in json.load(open(requests, encoding="utf-8")):
        line = json.dumps({"calculation": "form-diagnosis", "request": request})
        answer = subprocess.run([program], input=line, capture_output=True, text=True, check=True).stdout
        result = json.loads(answer)["result"]
        fit, sharpened = fitted(request)
        infeed, height, slope = sharpened()
        if request["rake_deg"] == 0:
            height = math.sqrt(height)
        reach = max(abs(reading["z"] - request["pivot_z"]) for reading in request["readings"])
        turned = math.tan(math.radians(result["taper"]["half_angle_deg"]))
        apart = max(abs(result["infeed"]["value"] - infeed), abs(result["height"]["value"] - height),
                    abs(turned - slope) * reach)
        failed |= not apart <= LARGEST_DIFFERENCE_MM
        other = seconds(fit)
        rake = f"{request['rake_deg']:g}"
        own = {}
        for kind in ("typed", "json"):
            with open(f"{estimates}/form-diagnosis-rake-{rake}/{kind}/new/estimates.json", encoding="utf-8") as file:
                own[kind] = json.load(file)["median"]["point_estimate"] * 1e-9
        print(f"rake {rake} deg, {len(request['readings'])} readings: medians typed {own['typed'] * 1e6:.2f} us, "
              f"JSON {own['json'] * 1e6:.2f} us, scipy {other * 1e6:.1f} us; "
              f"scipy/typed {other / own['typed']:.1f}, scipy/JSON {other / own['json']:.1f}; "
              f"largest difference {apart:.1e} mm")
    if failed:
        print(f"the answers differ by more than {LARGEST_DIFFERENCE_MM} mm")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
