"""One machine on the floor: jobs are set, run, stopped, set again with a fresh edge, and closed."""

from generator.catalogue import DESIGNS, IN, MACHINES, MM, PARTS, length

OTHER = {"setter": "setter-2", "setter-2": "setter"}


class Setup:
    def __init__(self, job, part, quantity, setter):
        self.job, self.part, self.left, self.setter = job, part, quantity, setter
        self.tools = {}
        self.missing = [station for station, *_ in PARTS[part]["stations"]]
        self.highest = self.first_good = 0
        self.released_at = None
        self.held = self.gauge_out = False
        self.again = []


class Floor:
    def __init__(self, year, crib, code, last_day):
        self.year, self.crib, self.code, self.last_day = year, crib, code, last_day
        self.it = MACHINES[code]
        self.setup = None
        self.next_start = -260 + year.random.randint(0, 4)
        self.pieces, self.hours, self.setups = 0, 0.0, 0
        self.since = {}
        self.crash_on = self.night_on = None
        self.down = False

    def event(self, day, minute, kind, by=None, **fields):
        self.year.add(day, minute, by or self.setup.setter, "setup_event",
                      {"machine": self.code, "event": {"kind": kind, **fields}})

    # What a day brings, in its order.

    def morning(self, day):
        setup = self.setup
        if not setup or setup.missing:
            return
        minute = 366 + self.year.random.randint(0, 12)
        if setup.held:
            self.event(day, minute, "held_pieces_judged", by="inspector", accepted=True, readings=self.readings())
            setup.held, minute = False, minute + 6
        if setup.again:
            for station in setup.again:
                self.event(day, minute, "approach_read", station=station, gap=self.gap())
            setup.again = []
            minute = self.first_piece(day, minute + 6)
        self.release(day, minute + 3)

    def set_up(self, day, new_job):
        """A new job is set, or a station gets a fresh edge."""
        if self.down or day > self.last_day and not self.setup:
            return
        if not self.setup and day >= self.next_start:
            job = new_job(day, self.code)
            if job:
                self.setup = Setup(*job, self.it["setter"])
                self.open(day)
        elif self.setup and self.setup.missing:
            self.fit(day, 9 * 60 + 30 + self.year.random.randint(0, 40))

    def ready(self, part):
        needed = [with_what for _, with_what, _ in PARTS[part]["stations"] if with_what in DESIGNS]
        return all(self.crib.usable(design) for design in needed)

    def open(self, day):
        setup = self.setup
        minute = 9 * 60 + 30 + self.year.random.randint(0, 60)
        if self.night_on is not None and day >= self.night_on:
            minute = 19 * 60
            self.night_on, setup.held = None, True
        self.setups += 1
        self.fit(day, minute, opening=True)

    def fit(self, day, minute, opening=False):
        setup, part = self.setup, PARTS[self.setup.part]
        wanted = [(station, what) for station, what, _ in part["stations"] if station in setup.missing]
        if not all(self.crib.usable(what) for _, what in wanted if what in DESIGNS):
            return
        for station, what in wanted:
            setup.tools[station] = self.crib.pick(what) if what in DESIGNS else what
        codes = {station: getattr(tool, "code", tool) for station, tool in setup.tools.items()}
        kit = [codes[station] for station in setup.missing] + [self.it["gauge"]]
        if opening:
            kit += [self.it["holders"][station] for station in codes if station in self.it["holders"]]
        self.year.add(day, minute, "clerk", "check_out", {
            "items": kit, "person": setup.setter, "machine": self.code, "job": setup.job, "purpose": "use"})
        setup.gauge_out = True
        minute += 7
        if opening:
            rows = [{"station": station, "form_tool": code, **(
                {"holder": self.it["holders"][station]} if station in self.it["holders"] else {})}
                for station, code in codes.items()]
            self.year.add(day, minute, setup.setter, "open_setup", {
                "machine": self.code, "part": setup.part, "job": setup.job, "stations": rows})
            minute += 5
        for station in setup.missing:
            minute = self.station(day, minute, station, codes[station], opening)
        if opening:
            diameter, unit, shape = part["bar"]
            self.event(day, minute, "stock_fed", bar_diameter=length(diameter, unit), bar_shape=shape,
                       heat=f"H-{self.year.random.randint(4000, 8999)}")
            minute += 6
        self.event(day, minute, "index_clearance_confirmed", confirmed=True)
        minute += 4
        for station in setup.missing + [at for at in setup.again if at not in setup.missing]:
            if station != "E2":
                self.event(day, minute, "approach_read", station=station, gap=self.gap())
                minute += 2
        self.event(day, minute, "trial_cut_begun")
        setup.first_good = setup.highest + 25 if setup.highest else 1
        minute = self.trial(day, minute + 4, setup.missing[0])
        setup.missing, setup.again = [], []
        late = minute > 18 * 60
        minute = self.first_piece(day, minute, by=OTHER[setup.setter] if late else "inspector")
        self.release(day, minute + 3)

    def station(self, day, minute, station, code, opening):
        random, gauge = self.year.random, self.it["gauge"]
        holder = self.it["holders"].get(station)
        if opening and holder:
            self.event(day, minute, "holder_seated", station=station, holder=holder, seat_clean=True, seated_flush=True,
                       side_screw_free=True)
        self.event(day, minute + 2, "tool_inserted", station=station, form_tool=code)
        if station == "E2":
            self.event(day, minute + 4, "tool_clamped", station=station)
            return minute + 6
        self.event(day, minute + 3, "gauge_placed", station=station, gauge=gauge, machine_stopped=True)
        minute += 5
        if station in ("S1", "S2") and random.random() < 0.2:
            high = random.uniform(0.0024, 0.005)
            self.event(day, minute, "height_read", station=station, phase="before_clamping", deviation=self.across(high))
            self.event(day, minute + 2, "adjusted", station=station, adjuster="HEIGHT",
                       turns=round(high * 28, 3), direction="counterclockwise")
            minute += 4
        self.height(day, minute, station, "before_clamping")
        self.event(day, minute + 2, "tool_clamped", station=station)
        self.height(day, minute + 4, station, "after_clamping")
        self.event(day, minute + 5, "gauge_removed", station=station, gauge=gauge)
        return minute + 7

    def height(self, day, minute, station, phase):
        if self.year.chance(0.25):
            self.event(day, minute, "height_read", station=station, phase=phase, on_gauge=True)
        else:
            inches = max(-0.0012, min(0.0012, self.year.random.gauss(0.0001, 0.0004)))
            self.event(day, minute, "height_read", station=station, phase=phase, deviation=self.across(inches))

    def across(self, inches):
        """A small length in the machine's unit, from inches."""
        return length(round(inches, 4), IN) if self.it["unit"] == IN else length(round(inches * 25.4, 3), MM)

    def gap(self):
        return self.across(self.year.random.choice([0.008, 0.01, 0.012, 0.015]))

    # Pieces.

    def trial(self, day, minute, station):
        setup = self.setup
        features = next(features for at, _, features in PARTS[setup.part]["stations"] if at == station)
        piece = setup.first_good
        code, kind, target, lower, upper, unit = features[0]
        if kind == "diameter" and self.year.chance(0.55):
            off = (upper - lower) * self.year.random.uniform(0.6, 1.4)
            size = length(round(target + upper + off / 2, 4 if unit == IN else 3), unit)
            self.event(day, minute, "sizes_read", station=station, piece=piece, spindle=1,
                       readings=[{"feature": code, "value": size}])
            travel = 0.05 if unit == IN else 1.25
            self.event(day, minute + 3, "adjusted", station=station, adjuster="SLIDE",
                       turns=max(0.001, round(off / 2 / travel, 3)), direction="counterclockwise"
                       if station == "S3" else "clockwise")
            self.event(day, minute + 5, "approach_read", station=station, gap=self.gap())
            self.event(day, minute + 6, "trial_cut_begun")
            setup.highest, minute = piece, minute + 10
            piece = setup.first_good = piece + 25
        self.event(day, minute, "sizes_read", station=station, piece=piece, spindle=1, readings=self.sizes(features))
        if "E2" in setup.missing:
            self.event(day, minute + 2, "depth_read", station="E2", piece=piece, spindle=1,
                       depth=length(0.62 + round(self.year.random.uniform(-0.004, 0.004), 4), IN))
            minute += 2
        setup.highest = piece
        return minute + 4

    def sizes(self, features, worn=0.3):
        rows = []
        for code, kind, target, lower, upper, unit in features:
            wide = upper - lower
            # A worn edge leaves more on the bar.
            share = 0.3 + 0.35 * worn + max(-0.12, min(0.12, self.year.random.gauss(0, 0.05)))
            value = round(target + lower + wide * share, 4 if unit == IN else 3)
            rows.append({"feature": code, "value": length(value, unit)})
        return rows

    def readings(self, worn=0.3):
        rows = []
        for station, _, features in PARTS[self.setup.part]["stations"]:
            spindle = self.year.random.randint(1, self.it["spindles"])
            rows += [{"station": station, "spindle": spindle, **row} for row in self.sizes(features, worn)]
        return rows

    def first_piece(self, day, minute, by="inspector"):
        setup = self.setup
        setup.highest = piece = max(setup.highest + 2, setup.first_good)
        if by == "inspector" and self.year.chance(0.03):
            self.event(day, minute, "first_piece_judged", by=by, accepted=False, piece=piece, readings=[])
            minute, piece = minute + 12, piece + 6
            setup.highest = piece
        self.event(day, minute, "first_piece_judged", by=by, accepted=True, piece=piece, readings=self.readings())
        return minute + 4

    def release(self, day, minute):
        self.setup.released_at = minute
        self.event(day, minute, "run_released")

    def form_tools(self):
        return [tool for tool in self.setup.tools.values() if not isinstance(tool, str)]

    def run(self, day):
        """What a released machine makes of the day; tells when it stopped, and why."""
        setup = self.setup
        if not setup or setup.released_at is None:
            return None
        random, begun = self.year.random, setup.released_at
        an_hour = 3600 / PARTS[setup.part]["cycle"] * self.it["per_cycle"] * random.uniform(0.78, 0.9)
        until = 23 * 60 + 50 if setup.held else 21 * 60
        longest = round(an_hour * (until - begun) / 60)
        if setup.held:
            longest = min(longest, 1900, setup.left - 10, *(tool.left - 10 for tool in self.form_tools()))
        edge = min(tool.left for tool in self.form_tools())
        pieces = min(longest, edge, setup.left)
        reason = "end of the shift" if pieces == longest else "edge worn" if pieces == edge else "order complete"
        if self.crash_on is not None and day >= self.crash_on and self.code == "M-104" and setup.part == "P-2101":
            reason, pieces = "crash", round(pieces * 0.4)
        elif not setup.held and self.year.chance(0.055):
            reason, pieces = "breakdown", round(pieces * random.uniform(0.2, 0.8))
        end = begun + max(2, round(pieces / an_hour * 60))
        self.in_process(day, begun, end, pieces)
        setup.highest = max(setup.highest, self.highest_before + pieces)
        if reason == "crash":
            self.event(day, end, "crash_reported", station="S2")
            end += 4
        self.event(day, end, "run_stopped", pieces=pieces, reason=reason)
        for tool in self.form_tools():
            tool.made += pieces
        setup.left -= pieces
        setup.released_at = None
        self.pieces, self.hours = self.pieces + pieces, self.hours + (end - begun) / 60
        return end, reason

    def in_process(self, day, begun, end, pieces):
        setup, random = self.setup, self.year.random
        self.highest_before = setup.highest
        if end - begun < 90 or pieces < 400:
            return
        for share in ([0.35, 0.75] if random.random() < 0.35 else [0.5]):
            station, _, features = PARTS[setup.part]["stations"][0]
            tool = setup.tools[station]
            piece = self.highest_before + round(pieces * share)
            setup.highest = piece
            worn = min(1.0, (tool.made + pieces * share) / tool.life)
            at = begun + round((end - begun) * share)
            self.event(day, at, "sizes_read", station=station, piece=piece,
                       spindle=random.randint(1, self.it["spindles"]), readings=self.sizes(features, worn))
            if worn > 0.5 and share < 0.6 and station != "S3" and random.random() < 0.3:
                self.event(day, at + 4, "adjusted", station=station, adjuster="SLIDE", turns=round(random.uniform(0.004, 0.012), 3),
                           direction="clockwise")
                setup.again = [station]
                setup.first_good = piece + 25

    def evening(self, day, stopped):
        """Worn tools come out, a job that is done is closed, and the clerk takes back what is out."""
        if not stopped:
            return
        setup, (end, reason) = self.setup, stopped
        back = []
        done = setup.left <= 0
        if reason == "crash":
            return
        if setup.again:
            setup.first_good = setup.highest + 25
        if setup.held:
            return
        if done:
            self.event(day, end + 6, "closed", reason="order complete")
            back = list(setup.tools.values()) + [self.it["holders"][at] for at in setup.tools if at in self.it["holders"]]
        else:
            for station, tool in list(setup.tools.items()):
                if not isinstance(tool, str) and tool.left == 0:
                    self.event(day, end + 8, "tool_removed", station=station, form_tool=tool.code)
                    setup.missing.append(station)
                    setup.tools.pop(station)
                    back.append(tool)
        if setup.gauge_out:
            back.append(self.it["gauge"])
            setup.gauge_out = False
        if back:
            self.crib.take_back(day, max(end + 14, 21 * 60 + 5), setup.setter, back)
        if done:
            self.year.add(day, 21 * 60 + 40, "supervisor", "change_job", {"job": setup.job, "change": {"state": "done"}})
            self.finish(day)
        elif not setup.missing and self.year.chance(0.06):
            self.event(day, end + 10, "handed_over", to=OTHER[setup.setter])
            setup.setter = OTHER[setup.setter]

    def finish(self, day):
        self.setup = None
        self.next_start = day + self.year.random.randint(6, 12)
