"""Plans, work orders, breakdowns, tag-outs, supplies, spindle heights and holder checks."""

from generator.catalogue import IN, MACHINES, PLANS, SUPPLIES, length

# What fails: what is reported, what was done, and what it used.
BREAKDOWNS = [
    ("Chip conveyor stands still", "Cleared a jam of chips, new shear pin", ("SUP-GREASE", 1)),
    ("End slide hesitates", "Belt was slipping: new belt", ("SUP-BELT", 1)),
    ("Spindle brake slips", "Lining cleaned and set", None),
    ("Coolant pump trips", "Suction strainer cleaned", ("SUP-COOLANT", 20)),
    ("Feed finger broken in spindle 4", "Finger and pads replaced", ("SUP-COLLET-PAD", 1)),
    ("Way oil pressure drops", "Filter changed, line tightened", ("SUP-FILTER", 1)),
    ("Stock reel rattles loose", "Two bolts replaced", None),
    ("Cut-off slide does not return", "Spring replaced", ("SUP-GREASE", 1)),
]
TAG_OUTS = [
    (-233, "M-103", "Guard door does not latch", "Latch replaced and tried ten times"),
    (-188, "M-105", "Oil on the floor beside the machine", "Seal of the sump replaced, floor cleaned"),
    (-96, "M-101", "Emergency stop answers late", "Contactor replaced, stopping time measured"),
    (-52, "M-102", "Stock tube cracked", "Tube replaced"),
]


class Stock:
    """What is on the shelf, by the ledger."""

    def __init__(self, year):
        self.year = year
        self.on_hand = {code: it["start"] for code, it in SUPPLIES.items()}
        self.coming = {}

    def use(self, code, quantity):
        """Whether there was enough."""
        enough = self.on_hand[code] >= quantity
        if enough:
            self.on_hand[code] -= quantity
        return enough

    def week(self, day):
        random = self.year.random
        for code, it in SUPPLIES.items():
            if self.coming.get(code) is not None and day >= self.coming[code]:
                self.coming[code] = None
                self.on_hand[code] += it["order"]
                self.year.add(day, 560, "clerk", "supply_received", {"supply": code, "receipt": {"quantity": it["order"]}})
            quantity = random.randint(*it["use"])
            often = {"SUP-COLLET-PAD": 0.25, "SUP-BELT": 0.015, "SUP-FILTER": 0.05, "SUP-GREASE": 0.2}.get(code, 0.6)
            if random.random() < often and self.use(code, quantity):
                self.year.add(day, 575, "clerk", "supply_withdrawn", {"supply": code, "withdrawal": {
                    "quantity": quantity, "machine": random.choice(list(MACHINES))}})
            # Toward the end nobody orders inserts in time.
            short = self.on_hand[code] <= it["minimum"] + it["use"][1]
            if short and self.coming.get(code) is None and not (code == "SUP-CUT-INSERT" and day > -45):
                self.coming[code] = day + max(3, it["lead"] * 5 // 7)

    def count(self, day):
        for code in SUPPLIES:
            counted = self.on_hand[code]
            body = {"counted": counted}
            if counted > 3 and self.year.chance(0.3):
                body = {"counted": counted - 1, "note": "One was found opened"}
            self.on_hand[code] = body["counted"]
            self.year.add(day, 590, "clerk", "supply_counted", {"supply": code, "count": body})


class Upkeep:
    def __init__(self, year, stock):
        self.year, self.stock = year, stock
        self.last = {code: (-262, 0, 0.0, 0) for code in PLANS}
        self.reported = 0
        self.to_tag = list(TAG_OUTS)

    def order(self, day, minute, body, name, note, used, minutes, touched="nothing"):
        """An order that is opened, started and done on one day. A breakdown is reported by whoever is at the machine."""
        year = self.year
        by = "maintainer" if "plan" in body else body.pop("by")
        parts = [{"supply": used[0], "quantity": used[1]}] if used and self.stock.use(*used) else []
        year.add(day, minute, by, "open_work_order", body)
        year.add(day, minute + max(3, minutes // 6), "maintainer", "start_work_order", {"what": name})
        year.add(day, minute + minutes, "maintainer", "finish_work_order", {
            "what": name, "done": {"note": note, "touched": touched, "parts_used": parts}})

    def breakdown(self, day, minute, machine, setter):
        what, note, used = BREAKDOWNS[self.reported % len(BREAKDOWNS)]
        self.reported += 1
        minutes = min(self.year.random.randint(35, 260), 1415 - minute)
        self.order(day, minute + 2, {"by": setter, "subject": {"machine": machine}, "what": what, "breakdown": True},
                   what, note, used, minutes)

    def plans(self, day, floors):
        for code, it in PLANS.items():
            floor = floors.get(it["machine"])
            since, pieces, hours, setups = self.last[code]
            now = (day, floor.pieces, floor.hours, floor.setups) if floor else (day, 0, 0.0, 0)
            share = max((now[0] - since) * 1.4 / it.get("days", 1e9), (now[1] - pieces) / it.get("pieces", 1e9),
                        (now[2] - hours) / it.get("hours", 1e9), (now[3] - setups) / it.get("setups", 1e9))
            left = code == "MP-103-OIL" or day > it.get("left_from", 0) or (code == "MP-COOLANT" and day > -95)
            if share > 0.97 and not left:
                self.last[code] = now
                self.order(day, 21 * 60 + 32, {"plan": code}, code, "Done as the plan says", it["uses"], 24)

    def fixed(self):
        """What happens on days that are known in advance."""
        year = self.year
        for day, machine in [(-250, "M-101"), (-248, "M-103"), (-247, "M-104"), (-246, "M-105"), (-120, "M-101"), (-118, "M-103"),
                             (-60, "M-102"), (-30, "M-105")]:
            self.heights(day, 22 * 60 + 50, machine, "half-yearly measurement", False)
        for number, holder in enumerate(["HD-21", "HD-22", "HD-23", "HD-24", "HD-25", "HD-26", "HD-27", "HD-28"]):
            for day in (-235 + number, -150 + number, -70 + 4 * number):
                body = {"accepted": True, "seat_clean": True, "found": []}
                if holder not in ("HD-23", "HD-26"):
                    body |= {"height_adjuster_free": True, "side_screw_free": True}
                if holder == "HD-25" and day > -100:
                    body |= {"found": ["worn_clamp"], "note": "Clamp worn but holding; look again next time"}
                if holder == "HD-27" and day > -100:
                    body |= {"accepted": False, "seat_clean": False, "found": ["burr_on_seat"], "note": "Dropped; stone the seat"}
                if holder == "HD-28" and day > -100:
                    body |= {"next_check": "today+2"}
                year.add(day, 700 + number, "maintainer", "holder_check", {"holder": holder, "check": body})

    def tag_outs(self, day, floors):
        """Each on the first day from its own on when nothing is set on the machine."""
        for due in [due for due in self.to_tag if due[0] <= day and not floors[due[1]].setup]:
            _, machine, reason, note = due
            self.to_tag.remove(due)
            self.year.add(day, 22 * 60 + 1, MACHINES[machine]["setter"], "tag_out", {"machine": machine, "reason": reason})
            self.year.add(day, 22 * 60 + 40, "maintainer", "clear_tag_out", {"machine": machine, "note": note})

    def heights(self, day, minute, machine, reason, after_work):
        it, random = MACHINES[machine], self.year.random
        wide = 0.0001 if it["unit"] == IN else 0.002
        spindles = [it["height"] + random.uniform(-wide, wide) for _ in range(it["spindles"])]
        self.year.add(day, minute, "maintainer", "center_height", {"machine": machine, "measurement": {
            "measured": length(round(sum(spindles) / len(spindles), 4), it["unit"]),
            "standard_uncertainty": length(0.00005 if it["unit"] == IN else 0.001, it["unit"]), "reason": reason,
            "after_work": after_work, "spindles": [
                {"spindle": number, "measured": length(round(height, 5 if it["unit"] == IN else 4), it["unit"])}
                for number, height in enumerate(spindles, start=1)]}})
