"""Thousands of random cases through the program, beside numpy and scipy by other routes; prints the largest difference.

    tests/scipy/run [CASES [SEED]]

Every comparison draws a request and gives what to expect, by pointer into the answer. Geometry is redone in the plane with
roots by bisection; fits by scipy's optimisers; probabilities by scipy's distributions; counts in exact fractions. A
difference is relative to the number, or to `floor` where that is larger; absolute where `floor` is 1. Texts and lists of
counts must be the same, and what is expected as None must be absent. Exit status 1 when a difference exceeds its limit, or
when a calculation of the program is not compared.
"""

import json
import math
import multiprocessing
import os
import subprocess
import sys
import time
import warnings

import numpy as np

import diagnosis  # noqa: F401, it lists its comparisons
import gauges  # noqa: F401, it lists its comparisons
import geometry  # noqa: F401, it lists its comparisons
import life  # noqa: F401, it lists its comparisons
import probability  # noqa: F401, it lists its comparisons
import production  # noqa: F401, it lists its comparisons
import screws  # noqa: F401, it lists its comparisons
import stock  # noqa: F401, it lists its comparisons
from cases import COMPARISONS, seed

PROGRAM = sys.argv[1]
CASES = int(sys.argv[2]) if len(sys.argv) > 2 else 2000
SEED = int(sys.argv[3]) if len(sys.argv) > 3 else 20260501


def at(answer, pointer):
    """What a pointer names; None where there is nothing."""
    for name in pointer.split("/")[1:]:
        if isinstance(answer, list):
            answer = answer[int(name)] if int(name) < len(answer) else None
        elif isinstance(answer, dict):
            answer = answer.get(name)
        else:
            return None
    return answer


def plain(value):
    """numpy's numbers as Python's."""
    if isinstance(value, dict):
        return {name: plain(field) for name, field in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value.item() if isinstance(value, np.generic) else value


def difference(got, expected, floor):
    if isinstance(expected, (str, list, bool)) or expected is None or got is None or isinstance(got, (str, list, bool)):
        return 0.0 if got == expected and type(got) is type(expected) else math.inf
    apart = abs(got - expected)
    return apart / max(abs(expected), floor) if floor < 1 else apart


def compare(index):
    """How many numbers were compared, the largest difference, and where it is."""
    name, draw, _, floor = COMPARISONS[index]
    seed(SEED, name, draw)
    drawn, tries = [], 0
    while len(drawn) < CASES:
        case, tries = draw(), tries + 1
        assert tries < 50 * CASES + 1000, f"{draw.__name__} draws hardly a case"
        if case is not None:
            drawn.append(plain(case))
    lines = "".join(json.dumps({"calculation": name, "request": request}) + "\n" for request, _ in drawn)
    answers = subprocess.run([PROGRAM], input=lines, capture_output=True, text=True, check=True).stdout.splitlines()
    assert len(answers) == CASES, f"{name}: {len(answers)} answers"
    count, largest, worst = 0, 0.0, ""
    for line, (request, expected) in zip(answers, drawn):
        answer = json.loads(line)
        if "refused" in answer:
            largest, worst = math.inf, f"{answer['refused']} {json.dumps(request)}"
            continue
        for pointer, number in expected.items():
            got, count = at(answer, pointer), count + 1
            apart = difference(got, number, floor)
            if not apart <= largest:
                largest, worst = apart, f"{pointer}: {got!r}, {number!r} {json.dumps(request)}"
    return count, largest, worst


def main():
    names = subprocess.run([PROGRAM, "--list"], capture_output=True, text=True, check=True).stdout.split()
    missing = sorted(set(names) - {name for name, *_ in COMPARISONS})
    for name in missing:
        print(f"{name} is not compared")
    failed, total, overall = bool(missing), 0, (0.0, 0.0, "")
    print(f"{'calculation':24} {'by':24} {'cases':>6} {'numbers':>8} {'largest difference':>20} {'limit':>8}", flush=True)
    with multiprocessing.get_context("fork").Pool(min(4, os.cpu_count() or 1)) as pool:
        found = pool.imap(compare, range(len(COMPARISONS)))
        for (name, draw, limit, _), (count, largest, worst) in zip(COMPARISONS, found):
            mark = "" if largest <= limit else "  TOO LARGE"
            failed |= bool(mark)
            total += count
            overall = max(overall, (largest / limit, largest, f"{name} by {draw.__name__}, whose limit is {limit:.0e}"))
            print(f"{name:24} {draw.__name__:24} {CASES:6} {count:8} {largest:20.3e} {limit:8.0e}{mark}", flush=True)
            if mark:
                print("   ", worst[:1500])
    return int(failed), (
        f"{total} comparisons, largest difference {overall[0]:.2g} of its limit: {overall[1]:.3e} in {overall[2]}")


if __name__ == "__main__":
    warnings.simplefilter("error")
    begun = time.time()
    status, line = main()
    print(f"seed {SEED}, {time.time() - begun:.0f} s")
    print(line)
    sys.exit(status)
