"""The shop over a year: machines, crib, grinder and upkeep, day by day."""

from generator import gauges, opening
from generator.catalogue import IN, MACHINES, MM, PARTS, length
from generator.crib import Crib
from generator.floor import Floor
from generator.upkeep import Stock, Upkeep
from generator.year import DAYS, Year

CRASH = -117
PROVISIONAL_FROM = -200
NIGHTS = {"M-103": -140, "M-105": -64, "M-102": -27}
SETTINGS = {"first_piece_by_another_person": True, "first_piece_from_every_spindle": False, "recheck_after_holder_move": "advised",
            "height_limit": length(0.002, IN), "provisional_release": {"most_pieces": 2000, "most_minutes": 480}}


class Shop:
    def __init__(self, seed):
        self.year = Year(seed)
        self.crib = Crib(self.year)
        self.stock = Stock(self.year)
        self.upkeep = Upkeep(self.year, self.stock)
        # The last days of the first three belong to the story that is loaded after the year.
        last = {"M-101": -9, "M-102": -9, "M-103": -9}
        self.floors = {code: Floor(self.year, self.crib, code, last.get(code, -1)) for code in MACHINES}
        self.jobs = 4000
        self.again = None
        self.judged_later = []
        self.wrong = gauges.Wrong(self.year)

    def new_job(self, day, machine):
        """A job for an idle machine: its number, part and quantity; none when no tools are there for it."""
        floor, random = self.floors[machine], self.year.random
        if self.again and machine == "M-104" and floor.ready(self.again[1]):
            job, self.again = self.again, None
            return job
        parts = [part for part, it in PARTS.items() if machine in it["machines"] and floor.ready(part)]
        if not parts:
            return None
        part = random.choice(parts)
        self.jobs += 1
        quantity = 24000 if day == -2 else random.randrange(6000, 15001, 500)
        number = f"J-{self.jobs}"
        self.year.add(day, 540, "erp", "put_on_record", {"job": {
            "number": number, "part": part, "machine": machine, "quantity": quantity,
            "planned_start": f"workday-{-day}", "planned_end": f"workday-{max(1, -day - 4)}"}})
        return number, part, quantity

    def crashed(self, day, end, floor):
        """A slide was struck: the machine is out of use, what was near it is checked, and it is set anew."""
        year, setup, at = self.year, floor.setup, floor.code
        year.add(day, end + 5, "maintainer", "tag_out", {"machine": at, "reason": "Slide 2 was struck by a broken bar end"})
        year.add(day, end + 8, setup.setter, "open_work_order", {
            "subject": {"machine": at}, "what": "Slide 2 was struck", "breakdown": True})
        floor.event(day, end + 12, "abandoned", reason="struck; to be set anew after the repair")
        first, second = setup.tools["S1"], setup.tools["S2"]
        first.state = second.state = "needs_check"
        holders = floor.it["holders"]
        back = [first, second, setup.tools["CUT"], (holders["S1"], "needs_check"), (holders["S2"], "needs_check"), holders["CUT"]]
        self.crib.take_back(day, 21 * 60 + 5, setup.setter, back + ([floor.it["gauge"]] if setup.gauge_out else []))
        good = {"accepted": True, "seat_clean": True, "height_adjuster_free": True, "side_screw_free": True}
        year.add(day + 1, 520, "maintainer", "start_work_order", {"what": "Slide 2 was struck"})
        year.add(day + 1, 540, "maintainer", "holder_check", {"holder": holders["S1"], "check": good})
        year.add(day + 1, 545, "maintainer", "holder_check", {"holder": holders["S2"], "check": {
            "accepted": False, "found": ["bent_screw"], "condition": "damaged", "seat_clean": True, "height_adjuster_free": False,
            "side_screw_free": True, "note": "Height screw bent by the blow"}})
        year.add(day + 1, 560, "inspector", "tool_check", {"tool": first.code, "check": {
            "accepted": True, "profile_checked": True, "edge_sound": True}})
        year.add(day + 1, 566, "inspector", "tool_check", {"tool": second.code, "check": {
            "accepted": False, "profile_checked": False, "found": ["chip"], "condition": "needs_grinding",
            "note": "Chipped at the front step"}})
        year.add(day + 2, 610, "maintainer", "holder_check", {"holder": holders["S2"], "check": {
            **good, "note": "New height screw, tried through its travel"}})
        self.judged_later = [(day + 2, first, "usable"), (day + 2, second, "needs_grinding")]
        second.ended = "damaged"
        self.upkeep.heights(day + 3, 780, at, "after the carrier was struck", True)
        year.add(day + 3, 800, "maintainer", "finish_work_order", {"what": "Slide 2 was struck", "done": {
            "note": "Slide aligned, carrier run-out measured, nothing bent", "touched": "spindle_carrier",
            "parts_used": [{"supply": "SUP-GREASE", "quantity": 1}] if self.stock.use("SUP-GREASE", 1) else []}})
        year.add(day + 3, 850, "inspector", "gauge_check", {"gauge": "CG-105", "check": gauges.check(
            "CG-105", day + 3, 0.0006, "C", gauges.until(day + 3, 140))})
        year.add(day + 3, 870, "maintainer", "clear_tag_out", {"machine": at, "note": "Repaired, measured, gauge checked"})
        self.again = (setup.job, setup.part, setup.left)
        floor.crash_on, floor.setup, floor.next_start = None, None, day + 4

    def day(self, day):
        year = self.year
        if day == PROVISIONAL_FROM:
            year.add(day, 480, "administrator", "settings", SETTINGS)
        for machine, night in NIGHTS.items():
            if day == night:
                self.floors[machine].night_on = day
        if day == CRASH:
            self.floors["M-104"].crash_on = day
        for on, tool, state in self.judged_later:
            if on == day:
                tool.state = state
        self.crib.deliveries(day)
        for floor in self.floors.values():
            floor.morning(day)
        self.wrong.day(day, self.floors)
        self.crib.grind(day)
        if day % 5 == 0:
            self.stock.week(day)
        if day % 66 == 0:
            self.stock.count(day)
        if day == -2:
            # Something is set on the last evening.
            for code in ("M-104", "M-105"):
                self.floors[code].next_start = day
        for floor in self.floors.values():
            floor.set_up(day, self.new_job)
        for code, floor in self.floors.items():
            stopped = floor.run(day)
            if stopped and stopped[1] == "breakdown":
                self.upkeep.breakdown(day, stopped[0], code, floor.setup.setter)
            if stopped and stopped[1] == "crash":
                self.crashed(day, stopped[0], floor)
            else:
                floor.evening(day, stopped)
        self.upkeep.plans(day, self.floors)
        self.upkeep.tag_outs(day, self.floors)

    def ending(self):
        """What is open on the day of loading: things out, jobs to come, tools kept for them."""
        year, crib, stock = self.year, self.crib, self.stock
        year.add(-2, 1310, "clerk", "supply_withdrawn", {"supply": "SUP-CUT-INSERT", "withdrawal": {
            "quantity": stock.on_hand["SUP-CUT-INSERT"] - 5, "machine": "M-104", "note": "A box was soaked and thrown away"}})
        assert not self.wrong.due
        assert any(self.floors[code].setup for code in ("M-104", "M-105"))
        for day, items, who, due in [(-6, ["MIC-11"], "inspector", "today-3"), (-3, ["CAL-11"], "setter", "today+0"),
                                     (-2, ["MIC-12"], "setter-2", "today+4")]:
            year.add(day, 620, "clerk", "check_out", {"items": items, "person": who, "purpose": "use", "due": due})
        year.add(-2, 650, "clerk", "check_out", {"items": ["HD-27"], "person": "grinder", "purpose": "check", "due": "today+6"})
        year.add(-2, 655, "clerk", "transfer", {"items": ["HD-27"], "to": {"place": "OUT-GRIND"}})
        year.add(-1, 660, "setter", "transfer", {"items": ["CAL-11"], "to": {"person": "setter-2"}})
        coming = [("J-6001", "P-2101", "M-104", 1200, 3), ("J-6002", "P-2103", "M-105", 9000, 5), ("J-6003", "P-2105", "M-104", 5000, 9),
                  ("J-6004", "P-2104", "M-102", 7000, 21), ("J-6005", "P-2001", "M-105", 8000, 5), ("J-6006", "P-2102", "M-104", 40000, 16),
                  ("J-6007", "P-2001", "M-101", 4000, 28), ("J-6008", "P-2103", "M-105", 60000, 6)]
        for number, part, machine, quantity, start in coming:
            year.add(-1, 545, "erp", "put_on_record", {"job": {
                "number": number, "part": part, "machine": machine, "quantity": quantity, "planned_start": f"today+{start}"}})
        for job, station, design in [("J-6007", "S1", "TD-11"), ("J-6007", "S2", "TD-12"), ("J-6004", "S1", "TD-13")]:
            tool = crib.pick(design)
            assert tool, design
            year.add(-1, 1300, "clerk", "book", {"job": job, "bookings": {"items": [{"station": station, "item": tool.code}]}})
        year.add(-1, 1330, "setter", "open_work_order", {"subject": {"machine": "M-105"}, "what": "Door switch sticks", "breakdown": True})
        year.add(-3, 1340, "setter-2", "open_work_order", {"subject": {"item": "HD-22"}, "what": "Side screw squeaks", "breakdown": True})
        year.add(-2, 1345, "maintainer", "cancel_work_order", {"what": "Side screw squeaks", "cancelled": {"note": "Only dry; oiled at once"}})

    def live(self):
        opening.open_shop(self.year)
        gauges.write(self.year)
        self.upkeep.fixed()
        for day in range(-DAYS + 1, 0):
            self.day(day)
        for code in ("M-101", "M-102", "M-103"):
            assert self.floors[code].setup is None, code
        self.ending()
        return self.year


def live(seed):
    """The whole year, lived with the numbers of a seed."""
    return Shop(seed).live()
