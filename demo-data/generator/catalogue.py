"""What the shop has: the machines, designs, tools, holders, gauges, parts and supplies that the history adds, and what it needs
to know of those that are in the other files. Everything is invented. Lengths are (value, unit)."""

IN, MM = "in", "mm"


def length(value, unit):
    """A length as it is sent, rounded as a shop writes it down: a tenth of a thousandth of an inch, or a micrometre."""
    return {"value": round(value, 5 if unit == IN else 4), "unit": unit}


def limits(lower, upper, unit):
    return {"lower": length(lower, unit), "upper": length(upper, unit)}


# Machine: bay, setter, unit of its heights, spindles, pieces a cycle, gauge height, gauges, and the holder of each station.
MACHINES = {
    "M-101": dict(setter="setter", unit=IN, spindles=6, per_cycle=1, height=3.75, gauge="CG-101",
                  holders={"S1": "HD-01", "S2": "HD-02"}),
    "M-102": dict(setter="setter-2", unit=IN, spindles=6, per_cycle=1, height=3.752, gauge="CG-102",
                  holders={"S1": "HD-04", "CUT": "HD-06"}),
    "M-103": dict(setter="setter", unit=MM, spindles=8, per_cycle=2, height=110.0, gauge="CG-103",
                  holders={"S3": "HD-05"}),
    "M-104": dict(setter="setter-2", unit=MM, spindles=8, per_cycle=1, height=110.5, gauge="CG-105",
                  holders={"S1": "HD-21", "S2": "HD-22", "CUT": "HD-23"}),
    "M-105": dict(setter="setter", unit=IN, spindles=6, per_cycle=1, height=3.749, gauge="CG-106",
                  holders={"S1": "HD-24", "S2": "HD-25", "CUT": "HD-26"}),
}

# Design: rake in degrees, unit, height of a new tool, least height, what a grind takes, scale of an edge's life in pieces, its shape, tools with
# their heights in the beginning. Those of the first four are in tool-designs.json.
KEPT_BACK = "FT-035"  # One more grind ends it: it lies in its drawer for a day without any other.
DESIGNS = {
    "TD-11": dict(rake=6, unit=IN, new=1.25, least=0.5, grind=0.015, scale=7400, shape=2.8, bin="BIN-A1",
                  tools={"FT-021": 1.19, "FT-022": 0.91, "FT-023": 1.24, "FT-024": 0.565, "FT-025": 0.83}),
    "TD-12": dict(rake=4, unit=IN, new=1.25, least=0.5, grind=0.015, scale=9300, shape=3.1, bin="BIN-A1",
                  tools={"FT-031": 1.22, "FT-032": 1.07, "FT-033": 0.88, "FT-034": 0.74, "FT-035": 0.509}),
    "TD-13": dict(rake=0, unit=IN, new=1.25, least=0.5, grind=0.015, scale=6100, shape=2.4, bin="BIN-A2",
                  tools={"FT-041": 1.23, "FT-042": 0.97, "FT-043": 0.79}),
    "TD-14": dict(rake=8, unit=IN, new=1.25, least=0.5, grind=0.015, scale=8800, shape=2.6, bin="BIN-A2",
                  tools={"FT-051": 1.2, "FT-052": 0.94, "FT-053": 0.68}),
    "TD-21": dict(rake=6, unit=MM, new=32.0, least=14.0, grind=0.35, scale=7900, shape=2.7, bin="BIN-A3",
                  tools={"FT-061": 31.2, "FT-062": 27.55, "FT-063": 22.4}),
    "TD-22": dict(rake=4, unit=MM, new=32.0, least=14.0, grind=0.35, scale=9800, shape=3.0, bin="BIN-A3",
                  tools={"FT-071": 32.0, "FT-072": 25.85, "FT-073": 15.9}),
    # Heights of the circular form are its arc: 20 mm that stay, and what may be used.
    "TD-23": dict(rake=6, unit=MM, new=161.37, least=20.0, grind=0.5, scale=9000, shape=2.5, bin="BIN-A3",
                  tools={"FT-081": 161.37, "FT-082": 116.39}),
    "TD-24": dict(rake=8, unit=IN, new=1.25, least=0.6, grind=0.012, scale=48000, shape=3.0, bin="BIN-A4",
                  tools={"FT-091": 1.17, "FT-092": 1.02}),
}

# Part: machine, seconds a cycle, bar, and of each station its design or blade and its features: code, kind, target, lower and
# upper limit, unit.
PARTS = {
    "P-2001": dict(machines=["M-101", "M-105"], cycle=5.2, bar=(0.6875, IN, "round"), stations=[
        ("S1", "TD-11", [("D1", "diameter", 0.5, -0.005, 0.005, IN)]),
        ("S2", "TD-12", [("D2", "diameter", 0.48, -0.002, 0.0, IN), ("D3", "diameter", 0.6, -0.002, 0.0, IN)])]),
    "P-2002": dict(machines=["M-102"], cycle=4.6, bar=(0.5625, IN, "round"), stations=[
        ("S1", "TD-13", [("D1", "diameter", 0.375, -0.002, 0.0, IN)]),
        ("CUT", "CB-02", [("L1", "length", 0.75, -0.005, 0.005, IN)])]),
    "P-2003": dict(machines=["M-103"], cycle=9.0, bar=(0.375, IN, "round"), stations=[
        ("S3", "TD-14", [("D1", "diameter", 0.25, -0.001, 0.001, IN)])]),
    "P-2101": dict(machines=["M-104"], cycle=5.8, bar=(19.0, MM, "round"), stations=[
        ("S1", "TD-21", [("D1", "diameter", 12.5, -0.05, 0.05, MM)]),
        ("S2", "TD-22", [("D2", "diameter", 12.0, -0.03, 0.0, MM)]),
        ("CUT", "CB-11", [("L1", "length", 28.0, -0.1, 0.1, MM)])]),
    "P-2102": dict(machines=["M-104"], cycle=6.4, bar=(22.0, MM, "round"), stations=[
        ("S1", "TD-23", [("D1", "diameter", 18.0, -0.04, 0.04, MM)])]),
    "P-2103": dict(machines=["M-105"], cycle=7.5, bar=(0.75, IN, "hexagon"), stations=[
        ("S1", "TD-24", [("D1", "diameter", 0.55, -0.003, 0.003, IN)]),
        ("E2", "DR-11", [("B1", "depth", 0.62, -0.01, 0.01, IN)]),
        ("CUT", "CB-12", [("L1", "length", 1.125, -0.006, 0.006, IN)])]),
    "P-2104": dict(machines=["M-102"], cycle=5.0, bar=(0.5625, IN, "round"), stations=[
        ("S1", "TD-13", [("D1", "diameter", 0.375, -0.002, 0.0, IN)]),
        ("CUT", "CB-02", [("L1", "length", 1.5, -0.006, 0.006, IN)])]),
}
NAMES = {"P-2101": "Valve stem", "P-2102": "Spacer ring", "P-2103": "Plug with bore", "P-2104": "Bushing, long",
         "P-2105": "Spacer ring, wide"}
OPERATIONS_OF = {"S1": "DT-A", "S2": "DT-A", "CUT": "DT-C"}
WORDS = {"diameter": "diameter", "length": "length over all", "depth": "depth of the bore"}

# What is bought: unit, least, ordered at once, days to come. The first four are in supplies.json.
SUPPLIES = {
    "SUP-COLLET-PAD": dict(minimum=4, order=10, lead=21, start=12, use=(1, 2)),
    "SUP-GREASE": dict(minimum=3, order=12, lead=7, start=12, use=(1, 1)),
    "SUP-WAY-OIL": dict(minimum=40, order=200, lead=10, start=180, use=(8, 20)),
    "SUP-FILTER": dict(minimum=2, order=4, lead=30, start=5, use=(1, 1)),
    "SUP-CUT-INSERT": dict(name="Inserts for cut-off blades", unit="piece", minimum=12, order=30, lead=14, start=40, use=(1, 4)),
    "SUP-COOLANT": dict(name="Coolant concentrate", unit="litre", minimum=50, order=200, lead=12, start=200, use=(6, 15)),
    "SUP-BELT": dict(name="Drive belt, end slide", unit="piece", minimum=1, order=2, lead=28, start=3, use=(1, 1)),
}

# Plan: machine, what, the interval, about how many minutes, the supply that it uses. The first five are in
# maintenance-plans.json; the last three of all are left undone toward the end.
PLANS = {
    "MP-101-CARRIER": dict(machine="M-101", days=90, hours=500, uses=("SUP-GREASE", 2)),
    "MP-102-CHUCKS": dict(machine="M-102", setups=20, pieces=200000, uses=("SUP-COLLET-PAD", 2)),
    "MP-104-CARRIER": dict(machine="M-104", days=60, pieces=180000, uses=("SUP-GREASE", 1), name="Grease the spindle carrier",
                           steps=["Stop the machine and lock it out", "Grease both bearings until it shows at the seal"]),
    "MP-104-OIL": dict(machine="M-104", hours=250, uses=("SUP-FILTER", 1), name="Change the way oil filter",
                       steps=["Stop the machine and lock it out", "Change the filter", "Note the pressure after ten minutes"]),
    "MP-105-CHUCKS": dict(machine="M-105", pieces=150000, uses=("SUP-COLLET-PAD", 1), name="Clean collets and pushers",
                          steps=["Stop the machine and lock it out", "Take the collets out and clean them"]),
    "MP-COOLANT": dict(machine=None, days=120, uses=("SUP-COOLANT", 40)),
    "MP-103-OIL": dict(machine="M-103", hours=1000, days=365, uses=None),
    "MP-105-BELT": dict(machine="M-105", days=110, uses=("SUP-BELT", 1), name="Look at the end slide's belt", left_from=-100,
                        steps=["Stop the machine and lock it out", "Look for cracks and measure the slack"]),
}
