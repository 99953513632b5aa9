"""Screws and settings: which way, how many turns, and what is left alone."""

import math

import numpy as np

from cases import chance, comparison, derivatives, near, pick, random, root, uniform


def zone(error):
    """Limits, or none: the request's field, the deviation aimed at, and whether the middle half holds the error."""
    if chance(0.3):
        return None, 0.0, False
    lower, upper = -uniform(0.01, 0.4), uniform(0.01, 0.4)
    aim = 0.5 * (lower + upper)
    return {"lower": lower, "upper": upper}, aim, abs(error - aim) <= 0.25 * (upper - lower)


def turned(clockwise, motion, turns, alone):
    if alone:
        return {"/corrections/0/turns": None, "/result/leave_alone": True}
    return {"/corrections/0/turns": turns, "/corrections/0/moves": motion, "/result/leave_alone": False,
            "/corrections/0/direction": "clockwise" if motion == clockwise else "counterclockwise"}


@comparison("taper", 1e-9)
def taper():
    near_d, distance, target = uniform(3, 40), uniform(2, 60), uniform(-2, 2)
    far, arm, per_turn = near_d + uniform(-2, 2), uniform(20, 120), uniform(0.5, 3)
    u, clockwise = uniform(0, 0.01), pick("far_diameter_up", "far_diameter_down")
    slope = np.polyfit([0, distance], [near_d / 2, far / 2], 1)[0]
    angle = math.degrees(math.atan2((far - near_d) / 2, distance))
    # Two independent readings: the derivatives of the angle by the complex step.
    by = derivatives(lambda d: np.arctan((d[1] - d[0]) / 2 / distance), [near_d, far])
    spread = math.degrees(u * np.linalg.norm(by))
    if near(abs(angle - target), 1.96 * spread):
        return None
    alone = abs(angle - target) <= 1.96 * spread
    turns = arm / per_turn * math.tan(abs(math.radians(angle - target)))
    motion = "far_diameter_down" if angle > target else "far_diameter_up"
    return {"unit": "mm", "near_diameter": near_d, "far_diameter": far, "distance": distance, "target_half_angle_deg": target,
            "diameter_standard_uncertainty": u,
            "adjuster": {"travel_per_turn": per_turn, "arm": arm, "clockwise_moves": clockwise}}, {
        "/result/half_angle_deg": angle, "/result/taper_per_foot": 24 * slope, "/result/taper_per_length": 2 * slope,
        "/result/error_half_angle_deg": angle - target, "/result/half_angle_standard_uncertainty_deg": spread,
    } | turned(clockwise, motion, turns, alone)


@comparison("slide-correction", 1e-10)
def slide():
    target, ratio, per_turn = uniform(2, 50), uniform(0.2, 3), uniform(0.5, 3)
    made = target + uniform(-0.5, 0.5) + random.normal(0, 0.01, random.integers(1, 9))
    error = math.fsum(made - target) / len(made)
    limits, aim, alone = zone(error)
    clockwise = pick("tool_in", "tool_out")
    request = {"unit": "mm", "target_diameter": target, "measured_diameters": made.tolist(),
               "adjuster": {"travel_per_turn": per_turn, "ratio": ratio, "clockwise_moves": clockwise}}
    if limits:
        request["diameter_limits"] = limits
    # A piece that comes out large: the tool has to go in.
    motion = "tool_in" if error > aim else "tool_out"
    return request, {
        "/result/mean_diameter": made.mean(), "/result/radial_error": error / 2, "/result/aim_diameter": target + aim,
        "/result/expected_diameter": target + (error if alone else aim),
        "/result/spindle_spread": np.ptp(made) if len(made) > 1 else None,
    } | turned(clockwise, motion, abs(error - aim) / 2 / per_turn / ratio, alone)


@comparison("lateral-correction", 1e-10)
def lateral():
    """The form lies between two ends: a length from the free end grows when it moves toward the collet."""
    target, per_turn, end = uniform(2, 60), uniform(0.3, 3), pick("free_end", "collet_end")
    error = uniform(-0.6, 0.6)
    measured = target + error
    limits, aim, alone = zone(error)
    clockwise = pick("toward_collet", "away_from_collet")
    # Along the bar from the free end (0) to the cut-off end (100): where the shoulder is, and where it should be.
    is_at, should_be = (measured, target + aim) if end == "free_end" else (100 - measured, 100 - target - aim)
    motion = "toward_collet" if should_be > is_at else "away_from_collet"
    request = {"unit": "mm", "target_length": target, "measured_length": measured, "measured_from": end,
               "adjuster": {"travel_per_turn": per_turn, "clockwise_moves": clockwise}}
    if limits:
        request["length_tolerance"] = limits
    return request, {"/result/length_error": measured - target,
                     "/result/expected_length": measured if alone else target + aim,
                     } | turned(clockwise, motion, abs(error - aim) / per_turn, alone)


@comparison("drill-depth", 1e-10)
def depth():
    target, per_turn, ratio = uniform(1, 40), uniform(0.3, 3), uniform(0.3, 2)
    measured = target + uniform(-0.6, 0.6)
    limits, aim, alone = zone(measured - target)
    clockwise = pick("deeper", "shallower")
    request = {"unit": "mm", "target_depth": target, "measured_depth": measured,
               "adjuster": {"travel_per_turn": per_turn, "ratio": ratio, "clockwise_moves": clockwise}}
    if limits:
        request["depth_tolerance"] = limits
    motion = "shallower" if measured > target + aim else "deeper"
    return request, {"/result/depth_error": measured - target, "/result/expected_depth": measured if alone else target + aim,
                     } | turned(clockwise, motion, abs(measured - target - aim) / per_turn / ratio, alone)


@comparison("drill-depth", 1e-11)
def cone():
    pilot, angle, length = uniform(0.5, 4), uniform(50, 130), uniform(0, 5)
    mouth = pilot + uniform(0.1, 6)
    # The cone's flank from the pilot's rim, met with the mouth's radius.
    depth = root(lambda z: pilot / 2 + z * math.tan(math.radians(angle) / 2) - mouth / 2, 0, 100) + length
    return {"unit": "mm", "target_depth": 1, "cone": {"mouth_diameter": mouth, "pilot_diameter": pilot,
            "pilot_length": length, "included_angle_deg": angle}}, {"/result/depth": depth, "/result/depth_error": depth - 1}


@comparison("screw-travel", 1e-11)
def screw():
    turns, kind = uniform(-8, 8), pick("single", "turnbuckle", "differential")
    threads, advance = [], []
    for i in range(1 if kind == "single" else 2):
        hand = "right" if i == 0 or kind == "differential" else "left"
        if chance():
            pitch = uniform(0.5, 3)
            threads.append({"pitch": pitch, "hand": hand})
        else:
            per_inch = uniform(8, 40)
            pitch = 25.4 / per_inch
            threads.append({"per_inch": per_inch, "hand": hand})
        # A nut on a thread is displaced by pitch times turns in the sense of its hand; the travel is what two nuts part.
        advance.append(pitch if hand == "right" else -pitch)
    parted = abs(advance[0] - (advance[1] if len(advance) == 2 else 0.0))
    return {"unit": "mm", "threads": threads, "arrangement": kind, "turns": turns}, {
        "/result/travel": parted * turns, "/result/travel_per_turn": parted}


@comparison("setting-adjustment", 1e-10)
def setting():
    n = random.integers(1, 8)
    applied, sigma = random.normal(0, 0.03, n), uniform(0.001, 0.02)
    moved = np.concatenate([[0], np.cumsum(applied)[:-1]])
    measured = 12 + 0.05 + moved + random.normal(0, 0.01, n)
    design = np.ones((n, 1))
    offset = np.linalg.lstsq(design, measured - 12 - moved, rcond=None)[0][0]
    spread = sigma * math.sqrt(np.linalg.inv(design.T @ design)[0, 0])
    return {"unit": "mm", "target": 12, "measured": measured.tolist(), "applied": applied.tolist(),
            "process_standard_deviation": sigma}, {
        "/result/next_adjustment": -offset - applied.sum(), "/result/standard_uncertainty": spread,
        "/result/expected_squared_error/harmonic": sigma**2 + spread**2,
        "/result/expected_squared_error/full_correction": 2 * sigma**2}


@comparison("setting-adjustment", 1e-10)
def harmonic():
    """Grubbs' rule as he gave it, followed from the first piece: after piece n, minus its deviation over n."""
    n, target = int(random.integers(1, 12)), uniform(2, 40)
    offset, measured, applied = random.normal(0, 0.1), [], []
    for i in range(1, n + 1):
        measured.append(target + offset + random.normal(0, 0.01))
        applied.append(-(measured[-1] - target) / i)
        offset += applied[-1]
    return {"unit": "mm", "target": target, "measured": measured, "applied": applied[:-1],
            "process_standard_deviation": 0.01}, {"/result/next_adjustment": applied[-1]}
