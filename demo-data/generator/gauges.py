"""The centre gauges' checks: what each is found at over the year, and what comes of a finding that is out of limits."""

from generator.catalogue import IN, MACHINES, MM, length
from generator.year import calendar

UNCERTAINTY = {IN: 0.00004, MM: 0.001}

# Gauge: the working days of its checks with the deviation found, and left where it was set right. The first stays as it is,
# the second was dropped, the third grows.
CHECKS = {
    "CG-101": [(-261, 0.00009), (-216, 0.00012), (-171, 0.00007), (-126, 0.00011), (-81, 0.00009), (-36, 0.00008)],
    "CG-102": [(-261, 0.0), (-216, 0.00003), (-170, (0.00049, 0.0)), (-125, 0.00002), (-80, -0.00003), (-35, -0.00008)],
    "CG-103": [(-261, -0.0036), (-218, -0.0024), (-173, -0.0016), (-129, -0.0004), (-84, 0.0005), (-39, 0.0013)],
    "CG-105": [(-261, 0.0005), (-214, 0.0001), (-169, 0.0011), (-112, 0.0004), (-70, 0.0008), (-16, (0.0124, 0.0002))],
    "CG-106": [(-261, 0.00002), (-213, -0.00004), (-168, 0.00003), (-123, -0.00002), (-78, 0.00004), (-34, -0.00001)],
    "CG-107": [(-261, 0.00005), (-211, 0.00008)],
    "CG-108": [(-261, 0.0012), (-205, 0.0018), (-60, 0.0074)],
    "CG-109": [(-261, 0.00003), (-190, 0.00006), (-85, 0.0001)],
}
# The last day on which the last check is valid, told from the day of loading; 180 days after the check where it is not told.
VALID = {"CG-107": "today+0", "CG-108": "today+0", "CG-109": "today-9"}
BOUND_ANEW = -150


def machine_of(gauge):
    special = {"CG-107": "M-101", "CG-108": "M-104", "CG-109": "M-105"}
    return special.get(gauge) or next(code for code, it in MACHINES.items() if it["gauge"] == gauge)


def check(gauge, day, found, number, valid):
    """The body of a check; a pair is what was found and what was left."""
    it = MACHINES[machine_of(gauge)]
    unit, height = it["unit"], it["height"]
    as_found, as_left = found if isinstance(found, tuple) else (found, None)
    body = {"as_found": length(height + as_found, unit), "standard_uncertainty": length(UNCERTAINTY[unit], unit)}
    if as_left is not None:
        body["as_left"] = length(height + as_left, unit)
    return {**body, "certificate": f"LAB-{gauge[3:]}-{number}", "next_check": valid}


def until(day, days=100):
    left = calendar(day) - days
    return f"today-{left}" if left > 0 else f"today+{-left}"


def write(year):
    for gauge, checks in CHECKS.items():
        for number, (day, found) in enumerate(checks, start=1):
            last = number == len(checks)
            valid = VALID.get(gauge, until(day, 180)) if last and gauge != "CG-107" else until(day, 140)
            if not isinstance(found, tuple):
                year.add(day, 450 + 2 * int(gauge[-1]), "inspector", "gauge_check",
                         {"gauge": gauge, "check": check(gauge, day, found, number, valid)})
    # A spare of bay 1 is ground to bay 5's height and bound to it.
    year.add(BOUND_ANEW, 470, "inspector", "bind_gauge", {"gauge": "CG-107", "to": {
        "machine": "M-105", "nominal": length(3.749, IN), "check": {
            "as_found": length(3.75007, IN), "as_left": length(3.74902, IN), "standard_uncertainty": length(0.00004, IN),
            "certificate": "LAB-107-3", "next_check": until(BOUND_ANEW, 185)}}})
    year.add(-20, 470, "inspector", "gauge_check", {"gauge": "CG-107", "check": {
        "as_found": length(3.74897, IN), "standard_uncertainty": length(0.00004, IN), "certificate": "LAB-107-4",
        "next_check": VALID["CG-107"]}})


class Wrong:
    """The gauges that are found out of limits: each is checked on the first day from its own on when nothing is set with it, and
    what it touched is worked through in the days after."""

    def __init__(self, year):
        self.year = year
        self.due = [(day, gauge, found, number) for gauge, checks in CHECKS.items()
                    for number, (day, found) in enumerate(checks, start=1) if isinstance(found, tuple)]

    def day(self, day, floors):
        for one in [one for one in self.due if one[0] <= day and not floors[machine_of(one[1])].setup]:
            self.due.remove(one)
            _, gauge, found, number = one
            self.year.add(day, 450, "inspector", "gauge_check", {
                "gauge": gauge, "check": check(gauge, day, found, number, until(day, 180))})
            self.closed(day) if gauge == "CG-102" else self.begun(gauge)

    def judge(self, day, gauge, touched, outcome, note):
        self.year.add(day, 880, "inspector", "judge_impact",
                      {"gauge": gauge, "touched": touched, "outcome": outcome, "note": note})

    def closed(self, day):
        self.judge(day + 2, "CG-102", "setup", "informed", "Told both setters: heights of these setups were read on a high gauge")
        self.judge(day + 3, "CG-102", "run", "cleared", "Ten pieces of each run measured, all within limits")
        self.judge(day + 3, "CG-102", "tool", "cleared", "Set anew since, or in the drawer")
        self.judge(day + 4, "CG-102", "job", "accepted_as_is", "The customers were told; they keep the parts")
        self.year.add(day + 5, 900, "inspector", "close_impact", {"gauge": "CG-102", "closing": {
            "note": "Nothing to sort; the gauge had been dropped, its case is padded now"}})

    def begun(self, gauge):
        self.judge(-2, gauge, "tool", "cleared", "Profiles compared, no step out of limits")
