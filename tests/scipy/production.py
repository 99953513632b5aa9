"""Speeds, lives of edges and bars: constants of scipy, regressions, and counts in exact fractions."""

import math
from fractions import Fraction

import numpy as np
from scipy import constants, stats

from cases import chance, comparison, near, pick, random, root, uniform


@comparison("cutting", 1e-12)
def cutting():
    unit = pick("in", "mm")
    length, speed_length = (constants.inch, constants.foot) if unit == "in" else (constants.milli, 1.0)
    d, v = uniform(2, 50) * (constants.milli / length), uniform(20, 200) / speed_length
    feed, travel = uniform(0.01, 0.2) * (constants.milli / length), uniform(0.5, 0.9) * d / 2
    air, idle, share = uniform(0, 0.3) * d, uniform(0, 5), uniform(0.3, 1)
    # In metres and seconds: the rim's way in a second over the way of one turn.
    turns = v * speed_length / constants.minute / (2 * math.pi * (d * length / 2))
    seconds = (travel + air) / (feed * turns)
    asked = {"surface_speed": v} if chance() else {"rpm": turns * 60}
    asked |= {"radial_depth": travel} if chance() else {"length": travel}
    return {"unit": unit, "diameter": d, "feed_per_revolution": feed, "approach": air, "idle_seconds": idle,
            "efficiency": share} | asked, {
        "/result/rpm": turns * 60, "/result/surface_speed": v, "/result/revolutions": turns * seconds,
        "/result/cut_seconds": seconds, "/result/cycle_seconds": seconds + idle,
        "/result/gross_per_hour": constants.hour / (seconds + idle),
        "/result/net_per_hour": share * constants.hour / (seconds + idle)}


def decimal(low, high, places):
    """A decimal as it is typed, and exactly."""
    whole = int(random.integers(int(low * 10**places), int(high * 10**places) + 1))
    return whole / 10**places, Fraction(whole, 10**places)


@comparison("bar-stock", 1e-12)
def bars():
    """Pieces cut one after another in exact fractions; every second bar comes out even."""
    (part, part_x), (cut, cut_x), (face, face_x) = decimal(3, 80, 3), decimal(1, 4, 2), decimal(0, 0.5, 2)
    (remnant, remnant_x), (scrap, scrap_x) = decimal(20, 150, 1), decimal(0, 0.3, 3)
    one = part_x + cut_x + face_x
    bar_x = remnant_x + int(random.integers(5, 110)) * one if chance() else decimal(1000, 4000, 1)[1]
    pieces, bar = int(random.integers(1, 20000)), float(bar_x)
    per_bar, rest = divmod(bar_x - remnant_x, one)
    blanks = math.ceil(pieces / (1 - scrap_x))
    many = math.ceil(Fraction(blanks, per_bar))
    return {"unit": "mm", "bar_length": bar, "remnant": remnant, "part_length": part, "cutoff": cut, "facing": face,
            "pieces": pieces, "scrap_fraction": scrap}, {
        "/result/length_per_piece": float(one), "/result/pieces_per_bar": per_bar, "/result/left_of_bar": float(rest + remnant_x),
        "/result/blanks": blanks, "/result/bars": many, "/result/material_length": float(many * bar_x)}


@comparison("regrind-outlook", 1e-12)
def regrind_exact():
    """Without angles, in decimals: grinds that come out even are all there."""
    (least, least_x), (stock, stock_x) = decimal(5, 15, 2), decimal(0.05, 0.6, 2)
    height_x = least_x + int(random.integers(0, 90)) * stock_x if chance() else decimal(20, 60, 2)[1]
    return {"unit": "mm", "kind": "flat", "height": float(height_x), "minimum_height": least, "grind_stock": stock}, {
        "/result/regrinds_left": (height_x - least_x) // stock_x, "/result/height_loss": stock}


@comparison("tool-life", 1e-9)
def lives_of_edges():
    """The line of logarithms by scipy; a life is the root of the rule, searched in its logarithm."""
    many = int(random.integers(2, 8))
    n, c = uniform(0.08, 0.7), uniform(50, 400)
    speed = c * uniform(0.3, 0.9, many)
    minutes = (c / speed) ** (1 / n) * np.exp(random.normal(0, 0.1, many))
    fit = stats.linregress(np.log(speed), np.log(minutes))
    if fit.slope >= -0.5 or np.ptp(np.log(speed)) < 0.2:
        return None
    known = chance()
    if not known:
        n, c = -1 / fit.slope, math.exp(-fit.intercept / fit.slope)
    v, wanted, seconds = c * uniform(0.3, 0.9), uniform(5, 300), uniform(1, 60)
    life = math.exp(root(lambda log: math.log(v) + n * log - math.log(c), -50, 200))
    pieces = 60 * life / seconds
    if near(pieces, round(pieces)):
        return None
    asked = {"n": n, "c": c} if known else {"points": [{"speed": a, "minutes": b} for a, b in zip(speed, minutes)]}
    return asked | {"speed": v, "wanted_minutes": wanted, "cut_seconds_per_piece": seconds}, {
        "/result/n": n, "/result/c": c, "/result/minutes": life, "/result/pieces_per_grind": math.floor(pieces),
        "/result/speed_for_wanted_minutes": c / wanted**n}
