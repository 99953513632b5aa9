"""The first day: what the history's own shop has is put on record, what is bought comes in, and every gauge is checked."""

from generator.catalogue import (DESIGNS, IN, MACHINES, MM, NAMES, OPERATIONS_OF, PARTS, PLANS, SUPPLIES, WORDS, length, limits)


def slide(unit):
    travel = length(0.05, IN) if unit == IN else length(1.25, MM)
    return [{"code": "SLIDE", "name": "slide turnbuckle", "travel_per_turn": travel, "clockwise_moves": "tool_in",
             "seen_from": "operator's side", "has_stop": True, "backlash": length(0.002, IN)}]


def machine(code, name):
    it = MACHINES[code]
    cross = [("S1", 1, "up"), ("S2", 2, "up"), ("S3", 3, "down"), ("CUT", it["spindles"], "up")]
    stations = [{"code": station, "position": position, "kind": "cross_slide", "tool_face": face,
                 "adjusters": slide(it["unit"])} for station, position, face in cross]
    depth = {"code": "DEPTH", "name": "end slide turnbuckle", "arrangement": "turnbuckle", "clockwise_moves": "deeper",
             "threads": [{"per_inch": 16, "hand": "right"}, {"per_inch": 16, "hand": "left"}],
             "seen_from": "operator's side", "affects": ["E2"]}
    stations.append({"code": "E2", "position": 2, "kind": "end_slide", "tool_face": "up", "adjusters": [depth]})
    return {"code": code, "name": name, "spindles": it["spindles"], "positions": it["spindles"],
            "cutoff_position": it["spindles"], "pieces_per_cycle": it["per_cycle"], "spindle_rotation": "counterclockwise",
            "center_height": {"nominal": length(it["height"], it["unit"])}, "stations": stations}


def design(code, name, face, steps, **more):
    it = DESIGNS[code]
    unit = it["unit"]
    shape = [{"diameter": length(diameter, unit), "z": length(z, unit), "tolerance": limits(lower, upper, unit)}
             for diameter, z, lower, upper in steps]
    return {"code": code, "name": name, "kind": "flat", "tool_face": face, "steps": shape, "rake_deg": 6, "clearance_deg": 12,
            "new_height": length(it["new"], unit), "minimum_height": length(it["least"], unit),
            "grind_stock": length(it["grind"], unit), "holder_style": "DT-A", "lead_time_days": 35, **more}


def ring():
    new = design("TD-23", "Spacer ring, circular form", "up",
                 [(18.0, 0.0, -0.04, 0.04), (20.5, 4.0, -0.05, 0.05)], kind="circular", expected_pieces_per_grind=8000,
                 tool_radius=length(30, MM), usable_angle_deg=270)
    del new["new_height"]
    return new


def holder(code, style, place="BIN-H2"):
    screws = [
        {"code": "HEIGHT", "name": "height screw", "threads": [{"per_inch": 28, "hand": "right"}], "arrangement": "single",
         "clockwise_moves": "edge_up", "seen_from": "above"},
        {"code": "SIDE", "name": "side screw", "threads": [{"per_inch": 20, "hand": "right"}], "arrangement": "single",
         "clockwise_moves": "toward_collet", "seen_from": "operator's side"}]
    return {"code": code, "style": style, "adjusters": screws if style == "DT-A" else [], "next_check": "today-180",
            "check_interval_days": 190, "place": place}


def gauge(code, name, of, half):
    it = MACHINES[of]
    return {"code": code, "name": name, "machine": of, "nominal": length(it["height"], it["unit"]),
            "limits": limits(-half, half, it["unit"]), "check_interval_days": 190, "place": "BIN-G1"}


def part(code):
    it = PARTS[code]
    operations = []
    for station, with_what, features in it["stations"]:
        operation = {"station": station, "features": [
            {"code": feature, "name": WORDS[kind], "kind": kind, "target": length(target, unit),
             "tolerance": limits(lower, upper, unit), **({"measured_from": "free_end"} if kind == "length" else {})}
            for feature, kind, target, lower, upper, unit in features]}
        if with_what in DESIGNS:
            operation["tool_design"] = with_what
        if station in OPERATIONS_OF:
            operation["holder_style"] = OPERATIONS_OF[station]
        if code == "P-2104":
            operation["holder_style"] = "DT-B"
        operations.append(operation)
    return {"code": code, "name": NAMES[code], "cycle_seconds": it["cycle"], "operations": operations}


def wide_ring():
    new = part("P-2102")
    return {**new, "code": "P-2105", "name": NAMES["P-2105"],
            "operations": [{**new["operations"][0], "tool_design": "TD-25"}]}


def things():
    """Who puts what on record."""
    for code, name, kind in [("BIN-A3", "Form tools, drawer A3", "bin"), ("BIN-A4", "Customers' tools, drawer A4", "bin"),
                             ("BIN-H2", "Holders, drawer H2", "bin"), ("SHELF-2", "Supplies, shelf 2", "shelf")]:
        yield "supervisor", "place", {"code": code, "name": name, "kind": kind}
    yield "supervisor", "machine", machine("M-104", "Eight-spindle, bay 4")
    yield "supervisor", "machine", machine("M-105", "Six-spindle, bay 5")
    yield "supervisor", "tool_design", design("TD-21", "Valve stem, rough form", "up", [
        (12.5, 0.0, -0.05, 0.05), (16.0, 8.0, -0.05, 0.05)], expected_pieces_per_grind=7000)
    yield "supervisor", "tool_design", design("TD-22", "Valve stem, finish form", "up", [
        (12.0, 0.0, -0.03, 0.0), (15.5, 8.0, -0.03, 0.0)], rake_deg=4, expected_pieces_per_grind=9000)
    yield "supervisor", "tool_design", ring()
    yield "supervisor", "tool_design", design("TD-24", "Plug form", "up", [
        (0.55, 0.0, -0.003, 0.003), (0.7, 0.4, -0.003, 0.003)], rake_deg=8, expected_pieces_per_grind=40000)
    yield "supervisor", "tool_design", {**design("TD-21", "Spacer ring, wide form", "up", [
        (18.0, 0.0, -0.04, 0.04), (20.5, 9.0, -0.05, 0.05)], expected_pieces_per_grind=8000), "code": "TD-25"}
    for code in ("P-2101", "P-2102", "P-2103", "P-2104"):
        yield "supervisor", "part", part(code)
    yield "supervisor", "part", wide_ring()
    for code, it in DESIGNS.items():
        for tool, height in it["tools"].items():
            new = {"code": tool, "design": code, "height": length(height, it["unit"]), "pieces_on_edge": 0,
                   "place": it["bin"]}
            if code == "TD-23":
                del new["height"]
                new["usable_angle_deg"] = 270 if tool == "FT-081" else 184.1
            if code == "TD-24":
                new |= {"owner": "Harrowgate Valves", "reserved_for": "P-2103"}
            yield "supervisor", "form_tool", new
    for code, style in [("HD-21", "DT-A"), ("HD-22", "DT-A"), ("HD-23", "DT-C"), ("HD-24", "DT-A"), ("HD-25", "DT-A"),
                        ("HD-26", "DT-C"), ("HD-27", "DT-A"), ("HD-28", "DT-A")]:
        yield "supervisor", "holder", holder(code, style)
    yield "supervisor", "center_gauge", gauge("CG-105", "Centre gauge, bay 4", "M-104", 0.008)
    yield "supervisor", "center_gauge", gauge("CG-106", "Centre gauge, bay 5", "M-105", 0.0003)
    yield "supervisor", "center_gauge", gauge("CG-107", "Centre gauge, from bay 1", "M-101", 0.0003)
    yield "supervisor", "center_gauge", gauge("CG-108", "Centre gauge, bay 4, spare", "M-104", 0.008)
    yield "supervisor", "center_gauge", gauge("CG-109", "Centre gauge, bay 5, spare", "M-105", 0.0003)
    for code, name in [("CB-11", "Cut-off blade, 3 mm"), ("CB-12", "Cut-off blade"), ("DR-11", "Drill 5/16 in"),
                       ("MIC-11", "Micrometer 0 to 25 mm"), ("MIC-12", "Micrometer 0 to 1 in"), ("CAL-11", "Calliper")]:
        yield "supervisor", "other_item", {"code": code, "kind": "other", "name": name, "place": "SHELF-1"}
    for code, it in PLANS.items():
        if "name" not in it:
            continue
        names = {"days": "days", "pieces": "pieces", "hours": "running_hours"}
        interval = {names[key]: value for key, value in it.items() if key in names}
        yield "maintainer", "maintenance_plan", {
            "code": code, "name": it["name"], "subject": {"machine": it["machine"]}, "steps": it["steps"],
            "cautions": ["Lock the machine out first"], "interval": interval}
    for code, it in SUPPLIES.items():
        if "name" in it:
            yield "supervisor", "supply", {
                "code": code, "name": it["name"], "unit": it["unit"], "minimum": it["minimum"], "reorder_quantity": it["order"],
                "lead_time_days": it["lead"], "place": "SHELF-2"}


def open_shop(year):
    minute = 365
    for number, (who, kind, thing) in enumerate(things()):
        year.add(-261, minute + number // 4, who, "put_on_record", {kind: thing})
    for code, it in SUPPLIES.items():
        year.add(-261, 390, "clerk", "supply_received",
                 {"supply": code, "receipt": {"quantity": it["start"], "note": "First stock"}})
    for tool in DESIGNS["TD-24"]["tools"]:
        year.add(-261, 395, "supervisor", "consent", {"tool": tool, "consent": {
            "kind": "grind", "given_by": "R. Tamsin, Harrowgate Valves", "note": "Frame order 118"}})
