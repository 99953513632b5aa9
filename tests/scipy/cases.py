"""What all comparisons share: one source of random numbers, a list of comparisons, and a root finder."""

import numpy as np
from scipy import optimize

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
