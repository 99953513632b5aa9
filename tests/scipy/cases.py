"""What all comparisons share: one source of random numbers, a list of comparisons, and a root finder."""

import math
import zlib

import numpy as np
from scipy import optimize

random = np.random.default_rng()
uniform = random.uniform
COMPARISONS = []


def comparison(name, limit, floor=1e-3):
    """Lists a function that draws a request and the numbers to expect; None draws again."""

    def note(function):
        COMPARISONS.append((name, function, limit, floor))
        return function

    return note


def seed(number, name, function):
    """Starts the random numbers of one comparison, which no other comparison shifts."""
    own = np.random.default_rng([number, zlib.crc32(f"{name} {function.__name__}".encode())])
    random.bit_generator.state = own.bit_generator.state


def root(function, low, high):
    """The root of a function that changes sign once, to the last bits."""
    return optimize.brentq(function, low, high, xtol=4e-16, rtol=4 * np.finfo(float).eps, maxiter=300)


def chance(probability=0.5):
    return bool(random.random() < probability)


def pick(*choices):
    return choices[random.integers(len(choices))]


def near(value, threshold):
    """Whether a decision at a threshold hangs on last bits: such a case compares nothing and is drawn again."""
    return math.isfinite(threshold) and abs(value - threshold) <= 1e-7 * (abs(threshold) + 1e-9)


def derivatives(function, at):
    """A function's derivatives by the complex step, which is exact to the last bits."""
    at = np.asarray(at, dtype=complex)
    return np.array([function(at + 1e-30j * unit).imag / 1e-30 for unit in np.eye(len(at))])
