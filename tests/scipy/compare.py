"""Thousands of random cases through the program, beside numpy and scipy by other routes; prints the largest difference.

    tests/scipy/run [CASES]

Every comparison draws a request and gives the numbers to expect, by pointer into the answer. Geometry is redone in the
plane with roots by bisection; fits by scipy's optimisers; probabilities by scipy's distributions. A difference is relative
to the number, or to `floor` where that is larger; absolute where `floor` is 1. Exit status 1 when one exceeds its limit.
"""

import json
import math
import subprocess
import sys
import time

import numpy as np

import geometry  # noqa: F401, it lists its comparisons
import probability  # noqa: F401, it lists its comparisons
from cases import COMPARISONS

PROGRAM = sys.argv[1]
CASES = int(sys.argv[2]) if len(sys.argv) > 2 else 2000


def at(answer, pointer):
    for name in pointer.split("/")[1:]:
        answer = answer[int(name) if isinstance(answer, list) else name]
    return answer


def plain(value):
    """numpy's numbers as Python's."""
    if isinstance(value, dict):
        return {name: plain(field) for name, field in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.item() if isinstance(value, np.generic) else value


def main():
    failed = False
    print(f"{'calculation':24} {'by':24} {'cases':>6} {'largest difference':>20} {'limit':>8}")
    for name, draw, limit, floor in COMPARISONS:
        drawn = []
        while len(drawn) < CASES:
            case = draw()
            if case is not None:
                drawn.append(case)
        lines = "".join(json.dumps({"calculation": name, "request": plain(request)}) + "\n" for request, _ in drawn)
        answers = subprocess.run([PROGRAM], input=lines, capture_output=True, text=True, check=True).stdout.splitlines()
        assert len(answers) == CASES, f"{name}: {len(answers)} answers"
        largest, worst = 0.0, ""
        for line, (request, expected) in zip(answers, drawn):
            answer = json.loads(line)
            if "refused" in answer:
                largest, worst = math.inf, f"{answer['refused']} {plain(request)}"
                continue
            for pointer, number in expected.items():
                got = at(answer, pointer)
                difference = abs(got - number) / max(abs(number), floor) if floor < 1 else abs(got - number)
                if not difference <= largest:
                    largest, worst = difference, f"{pointer}: {got!r}, {number!r} {plain(request)}"
        mark = "" if largest <= limit else "  TOO LARGE"
        failed |= bool(mark)
        print(f"{name:24} {draw.__name__:24} {CASES:6} {largest:20.3e} {limit:8.0e}{mark}")
        if mark:
            print("   ", worst[:900])
    return int(failed)


if __name__ == "__main__":
    begun = time.time()
    status = main()
    print(f"{time.time() - begun:.0f} s")
    sys.exit(status)
