"""The crib and the grinder: form tools with their edges, who has what, and what becomes of worn edges."""

from generator.catalogue import DESIGNS, IN, KEPT_BACK, MM, length

MOST_A_DAY = 12


class Tool:
    def __init__(self, year, code, design, height):
        self.code, self.design, self.height = code, design, height
        self.state = "usable"
        self.ended = "worn"
        self.made = 0
        self.new_edge(year)

    def new_edge(self, year):
        it = DESIGNS[self.design]
        self.life = max(900, round(year.random.weibullvariate(it["scale"], it["shape"])))
        self.made = 0

    @property
    def left(self):
        return max(0, self.life - self.made)


class Crib:
    def __init__(self, year):
        self.year = year
        self.tools = {}
        for design, it in DESIGNS.items():
            for code, height in it["tools"].items():
                self.tools[code] = Tool(year, code, design, height)
        self.tools[KEPT_BACK].state = "kept back"
        self.bins = {**{code: it["bin"] for it in DESIGNS.values() for code in it["tools"]}}

    def pick(self, design):
        """The usable tool of a design with the most left on its edge, taken out of the crib; none when all are away."""
        usable = [tool for tool in self.tools.values() if tool.design == design and tool.state == "usable"]
        if not usable:
            return None
        tool = max(usable, key=lambda tool: (tool.left, tool.code))
        tool.state = "out"
        return tool

    def usable(self, design):
        return any(tool.design == design and tool.state == "usable" for tool in self.tools.values())

    def place(self, code):
        if code in self.bins:
            return self.bins[code]
        if code.startswith("CG-"):
            return "BIN-G1"
        if code.startswith("HD-"):
            return "BIN-H1" if code < "HD-10" else "BIN-H2"
        return "SHELF-1"

    def take_back(self, day, minute, person, items):
        """The clerk takes items back; each is a code or a tool."""
        rows = []
        for item in items:
            code, condition = item, "usable"
            if isinstance(item, Tool):
                code = item.code
                condition = item.state = self.judged(item)
            elif isinstance(item, tuple):
                code, condition = item
            rows.append({"code": code, "place": self.place(code), "condition": condition})
        self.year.add(day, minute, "clerk", "check_in", {"items": rows, "person": person})

    def judged(self, tool):
        if tool.state == "needs_check":
            return "needs_check"
        if tool.left == 0:
            tool.ended = "damaged" if self.year.chance(0.06) else "worn"
            return "needs_grinding"
        if tool.left < 0.2 * tool.life and self.year.chance(0.6):
            tool.ended = "early"
            return "needs_grinding"
        return "usable"

    def grind(self, day):
        """What came back worn goes to the grinder in the morning, and to the inspector after that."""
        worn = [tool for tool in self.tools.values() if tool.state == "needs_grinding"][:MOST_A_DAY]
        touched_up = [tool for tool in self.tools.values()
                      if tool.state == "usable" and 0.3 < tool.made / tool.life < 0.8 and self.year.chance(0.006)]
        tools = worn + touched_up[:2]
        if not tools:
            return
        self.year.add(day, 362, "clerk", "check_out", {
            "items": [tool.code for tool in tools], "person": "grinder", "purpose": "grind"})
        minute = 368
        for tool in tools:
            self.grind_one(day, minute, tool, touched_up)
            minute += 9
        self.year.add(day, 490, "clerk", "check_in", {"person": "grinder", "items": [
            {"code": tool.code, "place": self.place(tool.code),
             "condition": "retired" if tool.state == "retired" else "needs_check"} for tool in tools]})
        for number, tool in enumerate(tool for tool in tools if tool.state != "retired"):
            self.check(day, 495 + 5 * number, tool)

    def grind_one(self, day, minute, tool, touched_up):
        random, it = self.year.random, DESIGNS[tool.design]
        unit = it["unit"]
        grind = {"kind": "full", "wheel": random.choice(["Aluminium oxide, cup", "Cubic boron nitride, cup"]),
                 "profile_checked": random.random() < 0.8}
        if random.random() < 0.5:
            grind["dressed"] = True
        if tool in touched_up:
            self.year.add(day, minute, "grinder", "regrind", {"tool": tool.code, "grind": {**grind, "kind": "touch_up"}})
            tool.life += round(0.1 * tool.life)
            return
        if tool.ended == "early" and random.random() < 0.3:
            # Some of the wear stays: the count of pieces goes on.
            grind["kind"] = "partial"
            tool.height = round(tool.height - 0.4 * it["grind"], 4 if unit == IN else 3)
            tool.life += round(0.35 * tool.life)
        else:
            grind["edge_ended"] = tool.ended
            more = 1.9 if tool.ended == "damaged" else 1.0
            loss = it["grind"] * more * random.uniform(0.85, 1.25)
            tool.height = round(tool.height - loss, 4 if unit == IN else 3)
            tool.new_edge(self.year)
        grind["height_after"] = length(tool.height, unit)
        if random.random() < 0.015:
            grind["burn_seen"] = True
        self.year.add(day, minute, "grinder", "regrind", {"tool": tool.code, "grind": grind})
        tool.burnt = grind.get("burn_seen", False)
        tool.state = "retired" if tool.height < it["least"] else "ground"
        if tool.state == "retired":
            self.replace(day, minute, tool)

    def check(self, day, minute, tool):
        it = DESIGNS[tool.design]
        check = {"accepted": True, "profile_checked": True}
        if getattr(tool, "burnt", False):
            check |= {"edge_sound": True, "note": "Etched: no burn left at the edge"}
        check |= {"height": length(tool.height, it["unit"]), "rake_deg": round(it["rake"] + self.year.random.uniform(-0.2, 0.2), 1)}
        if tool.design == "TD-23":
            # The sine of clearance and rake together, times the radius.
            check["face_offset"] = length(9.27 + round(self.year.random.uniform(-0.06, 0.06), 3), MM)
        self.year.add(day, minute, "inspector", "tool_check", {"tool": tool.code, "check": check})
        tool.state, tool.burnt = "usable", False

    def replace(self, day, minute, old):
        """A retired tool is followed by a new one."""
        it = DESIGNS[old.design]
        code = f"FT-{101 + sum(1 for code in self.tools if code > 'FT-100')}"
        self.bins[code] = it["bin"]
        self.tools[code] = Tool(self.year, code, old.design, it["new"])
        self.tools[code].state = "ordered"
        came = min(day + 15, -2)
        self.year.add(came, 600, "supervisor", "put_on_record", {"form_tool": {
            "code": code, "design": old.design, "place": it["bin"]}})
        self.tools[code].comes = came

    def deliveries(self, day):
        for tool in self.tools.values():
            if tool.state == "ordered" and tool.comes < day:
                tool.state = "usable"
