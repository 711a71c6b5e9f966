#!/usr/bin/env python3
"""Random profiles with one value left open: the intervals of `sweep` against a plain scan by `check`.

usage: sweep_scan.py RAMPART [PROFILES [POINTS [FIRST SEED]]]

The long form is 200 profiles with 10000 points each; the tests try a few. RAMPART_PROGRESS=1 prints the counts after
each profile, so that what a run has shown is known if it has to be ended early. A point is a file of its own in which the
value is written out, so `check` knows nothing of a parameter, and only its verdict counts. In a third of the profiles
the sweep tries every value of its range, in the others it scans and follows borders. There it may miss what is shorter
than the distance that it tells; a run of points that it judges otherwise is counted as missed where its neighbours on
both sides are nearer than that, and is wrong where not. Where all values are tried nothing may be missed."""
import concurrent.futures
import json
import os
import pathlib
import random
import subprocess
import sys
import tempfile

ALL_TRIED = 10000  # values of which a sweep tries every one
CHUNK = 500  # files in one call


def text_of(number):
    """Decimal text of a number of millionths."""
    whole, rest = divmod(number, 1_000_000)
    return ("%d.%06d" % (whole, rest)).rstrip("0").rstrip(".")


class Case:
    """A bench, a load and a profile with the value `x`, all by one seed. Values are in millionths of a unit."""

    def __init__(self, seed, points):
        dice = self.dice = random.Random(seed)
        self.rails = ["a", "b"][:dice.choice((1, 2, 2))]
        self.hold = {rail: dice.random() < 0.5 for rail in self.rails}
        self.delayed = dice.random() < 0.4
        self.slew = dice.random() < 0.3
        self.farad = {rail: round(10 ** dice.uniform(1.5, 3.2)) for rail in self.rails}  # uF
        self.ohm = {rail: round(10 ** dice.uniform(0.8, 1.8), 1) for rail in self.rails}
        self.wire = {rail: dice.choice((20, 60, 150)) for rail in self.rails}
        self.level = {rail: round(dice.uniform(1.5, 12), 1) for rail in self.rails}
        self.limit = {rail: round(self.level[rail] / self.ohm[rail] + dice.uniform(0.2, 1.5), 2) for rail in self.rails}
        self.ramp = {rail: "%d ms" % dice.choice((50, 100, 200, 400)) for rail in self.rails}
        self.wait = {rail: "%d ms" % dice.choice((10, 20, 50, 100)) for rail in self.rails}
        self.over = {rail: "%.2f V" % (self.level[rail] + dice.uniform(0.3, 2)) for rail in self.rails}
        self.level = {rail: "%g V" % volts for rail, volts in self.level.items()}
        self.limit_text = {rail: "%g A" % amps for rail, amps in self.limit.items()}
        self.gap = "%d ms" % dice.choice((20, 40, 100, 200))
        self.open_one(points)
        self.ask()

    def volts(self, rail):
        return float(self.level[rail].split()[0]) if self.level[rail][0].isdigit() else self.middle

    def charging(self, rail, seconds):
        """The current that charges the capacitor in about that time, beside what the resistor takes."""
        volts = self.volts(rail)
        return volts / self.ohm[rail] + self.farad[rail] * 1e-6 * volts / seconds

    def open_one(self, points):
        """Which value is left open, and between which ends: wide enough that one of them is usually in trouble."""
        dice = self.dice
        rail = dice.choice(self.rails)
        self.kind = dice.choice(("ramp", "ramp", "level", "fold", "limit", "wait", "gap", "rate"))
        self.middle = volts = float(self.level[rail].split()[0])
        self.unit, expression = "s", "x"
        if self.kind == "ramp":
            low, high = 2_000, dice.choice((300_000, 1_000_000))
            self.ramp[rail] = expression
            self.limit_text[rail] = "%.3f A" % self.charging(rail, dice.uniform(0.01, 0.2))
        elif self.kind == "level":
            self.unit, low, high = "V", round(volts * 0.5e6), round(volts * 1.5e6)
            self.level[rail] = expression
        elif self.kind == "fold":  # goes up, down and up again
            self.unit, low, high = "V", round(volts * 0.4e6), round(volts * 1.6e6)
            mirror = text_of(round(volts * dice.uniform(1.7, 2.2) * 1e6))
            cap = text_of(round(volts * dice.uniform(0.9, 1.2) * 1e6))
            self.level[rail] = dice.choice(("max(x, %s V - x)" % mirror, "min(x, max(%s V - x, %s V))" % (mirror, cap)))
        elif self.kind == "limit":
            self.unit, low, high = "A", 10_000, round(self.limit[rail] * 2e6)
            self.limit_text[rail] = expression
        elif self.kind == "wait":
            low, high = 1_000, 400_000
            self.limit_text[rail] = "%.3f A" % self.charging(rail, dice.uniform(0.01, 0.3))
            self.ramp[rail], self.wait[rail] = "5 ms", expression
        elif self.kind == "gap":
            low, high = 0, 400_000
            self.gap = expression
        else:  # how fast a rate is written
            self.unit, low, high = "s", 1_000, 500_000
            self.ramp[rail] = "x + %d ms" % dice.choice((1, 20))
        # Whole steps from end to end.
        values = min(points, ALL_TRIED) if dice.random() < 1 / 3 else ALL_TRIED * dice.choice((3, 7, 15))
        self.step = max(1, (high - low) // (values - 1))
        self.low = low
        self.count = min(values, (high - low) // self.step + 1)
        self.all_tried = self.count <= ALL_TRIED
        self.present = dice.randrange(self.count)

    def ask(self):
        """Rules and expectations, most of which the middle of the range meets."""
        dice, first = self.dice, self.rails[0]
        volts = self.volts(first)
        asked = ["expect no trip"] if dice.random() < 0.9 else []
        if dice.random() < 0.5:
            asked.append("expect voltage(%s) at \"up\" >= %.3f V" % (first, volts * dice.choice((0.6, 0.8, 0.95))))
        if dice.random() < 0.3:
            asked.append("expect peak_current(%s) <= %.3f A" % (first, self.limit[first] * dice.uniform(0.7, 1.5)))
        if dice.random() < 0.3:
            asked.append("expect duration <= %.3f s" % dice.uniform(1.5, 3))
        if dice.random() < 0.2:
            asked.append("expect energy(total) <= %.3f J" % (volts ** 2 / self.ohm[first] * dice.uniform(0.8, 4)))
        if dice.random() < 0.3:
            asked.append("rule \"clean\" %s rises from %.2f V to %.2f V within %d ms" % (
                first, volts * 0.1, volts * 0.7, dice.choice((100, 300, 600))))
        if dice.random() < 0.2:
            asked.append("rule \"bounded\" always current(%s) <= %.3f A" % (first, self.limit[first] * dice.uniform(0.8, 1.5)))
        if len(self.rails) == 2:
            if dice.random() < 0.6:
                asked.append("rule \"order\" a >= %.2f V before b >= %.2f V by %d ms" % (
                    self.volts("a") * 0.8, self.volts("b") * 0.3, dice.choice((0, 10, 50, 150))))
            if dice.random() < 0.4:
                asked.append("rule \"outlives\" always a >= %.2f V while b >= %.2f V" % (
                    self.volts("a") * dice.choice((0.5, 0.8)), self.volts("b") * 0.5))
            if dice.random() < 0.3:
                asked.append("rule \"follows\" b >= %.2f V within %d ms after a >= %.2f V" % (
                    self.volts("b") * 0.6, dice.choice((300, 500, 700)), self.volts("a") * 0.6))
        self.asked = asked

    def bench(self):
        text = "bench: B\nsupplies:\n"
        for i, rail in enumerate(self.rails):
            text += ("  s%d:\n    timing: {minimum_step: %s, resolution: 1 ms, skew: 1 ms, interpolation: %s%s}\n    channels:\n"
                     "      ch1:\n        voltage: {range: 0 V .. 30 V, resolution: 1 mV, accuracy: 0.05 %% + 5 mV}\n"
                     "        current: {range: 0 A .. 10 A, resolution: 1 mA, accuracy: 0.2 %% + 2 mA}\n%s"
                     "        protection: {overvoltage: 0.5 V .. 32 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s,\n"
                     "                     overpower: 0 W .. 300 W, overpower_delay: 0 s .. 8 s}\n") % (
                i, self.dice.choice(("5 ms", "10 ms")), "hold" if self.hold[rail] else "linear",
                ", on_delay: 0 ms .. 15 ms" if self.delayed else "",
                "        slew: {up: 1 V/ms, down: 1 V/ms}\n" if self.slew else "")
        return text

    def load(self):
        return "load: L\nrails:\n" + "".join(
            "  %s: {wire: %d mOhm, elements: [{kind: capacitor, capacitance: %d uF, esr: 50 mOhm}, "
            "{kind: resistor, resistance: %s Ohm}]}\n" % (rail, self.wire[rail], self.farad[rail], self.ohm[rail])
            for rail in self.rails)

    def profile(self, opened):
        """With the value as this line has it."""
        lines = ['profile "P"', 'bench "b.bench.yaml"', 'load "l.load.yaml"', opened]
        for i, rail in enumerate(self.rails):
            lines.append("rail %s on s%d.ch1" % (rail, i))
        for rail in self.rails:
            lines.append("protect %s { overvoltage %s; fuse after %s }" % (rail, self.over[rail], self.wait[rail]))
        lines += self.asked
        names = ", ".join(self.rails)
        lines += ["run {", "  limit " + ", ".join("%s to %s" % (r, self.limit_text[r]) for r in self.rails), "  on " + names,
                  "  dwell 20 ms"]
        for rail in self.rails:
            lines += ["  ramp %s to %s over %s" % (rail, self.level[rail], self.ramp[rail]), "  dwell " + self.gap]
        lines += ["  mark \"up\"", "  dwell 300 ms"]
        for rail in reversed(self.rails):
            lines += ["  ramp %s to 0 V over 200 ms" % rail, "  dwell 100 ms"]
        lines += ["  off " + ", ".join(reversed(self.rails)), "}", "safe { off %s }" % names]
        return "\n".join(lines) + "\n"

    def value(self, index):
        return "%s %s" % (text_of(self.low + self.step * index), self.unit)


def called(program, folder, *arguments):
    done = subprocess.run([program, *arguments], cwd=folder, capture_output=True, text=True, timeout=3600)
    if done.returncode > 1:
        raise RuntimeError("exit code %d: %s" % (done.returncode, done.stderr[-400:]))
    return json.loads(done.stdout)


def scanned(program, folder, case, indices):
    """By index, whether `check` finds no error."""
    holds = {}
    for begin in range(0, len(indices), CHUNK):
        chunk = indices[begin:begin + CHUNK]
        names = ["x%d.ramp" % index for index in chunk]
        for index, name in zip(chunk, names):
            (folder / name).write_text(case.profile("let x = " + case.value(index)))
        answers = called(program, folder, "check", "--format", "json", *names)["profiles"]
        for index, name, answer in zip(chunk, names, answers):
            if answer["profile"] != name:
                raise RuntimeError("%s is answered as %s" % (name, answer["profile"]))
            holds[index] = not any(found["severity"] == "error" for found in answer["findings"])
            (folder / name).unlink()
    return holds


class Compared:
    def __init__(self, case, sweep, holds):
        unit = case.step / 1e6
        swept = sweep["parameters"][0]
        place = lambda end: round((end["value"] - case.low / 1e6) / unit)
        intervals = [(place(i["low"]), place(i["high"])) for i in swept["intervals"]]
        apart = 0 if swept["scan_step"] is None else round(swept["scan_step"] / unit)
        self.kind, self.intervals, self.all_tried = case.kind, len(intervals), swept["scan_step"] is None
        self.points, self.borders, self.missed, self.wrong = len(holds), 0, 0, []
        if self.all_tried != case.all_tried or not swept["refined"]:
            self.wrong.append("the scan is not as asked for")
        run, before, held = [], -1, None
        for index in sorted(holds) + [case.count]:
            is_end = index == case.count
            told = not is_end and any(low <= index <= high for low, high in intervals)
            if not is_end and told != holds[index]:
                run.append(index)
            else:
                self.judge(case, run, index - before, apart)
                run, before = [], index
            if not is_end:
                self.borders += held is not None and holds[index] != held
                held = holds[index]
        # Both sides of each border of the sweep.
        for low, high in intervals:
            for index, expected in ((low - 1, False), (low, True), (high, True), (high + 1, False)):
                if holds.get(index, expected) != expected:
                    self.wrong.append("border at %s" % case.value(index))

    def judge(self, case, run, room, apart):
        """Of points one after another that the sweep judges otherwise, between two that it judges alike."""
        if not run:
            return
        if room <= apart:
            self.missed += 1
        else:
            self.wrong.append("%s to %s" % (case.value(run[0]), case.value(run[-1])))


def compare(program, seed, points):
    case = Case(seed, points)
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "b.bench.yaml").write_text(case.bench())
        (folder / "l.load.yaml").write_text(case.load())
        (folder / "p.ramp").write_text(case.profile("param x = %s" % case.value(case.present)))
        vary = "x=%s..%s step %s %s" % (case.value(0), case.value(case.count - 1), text_of(case.step), case.unit)
        try:
            sweep = called(program, folder, "sweep", "p.ramp", "--vary", vary, "--format", "json")
            dice = random.Random(-seed)
            indices = set(dice.sample(range(case.count), min(points, case.count)))
            for interval in sweep["parameters"][0]["intervals"]:
                for end, beyond in (("low", -1), ("high", 1)):
                    at = round((interval[end]["value"] - case.low / 1e6) / (case.step / 1e6))
                    indices |= {i for i in (at, at + beyond) if 0 <= i < case.count}
            return seed, Compared(case, sweep, scanned(program, folder, case, sorted(indices)))
        except (RuntimeError, KeyError, IndexError) as problem:
            return seed, "%s: %s" % (case.kind, problem)


def told(results, wrong):
    return ("%d profiles, %d points: %d contradictions; %d with borders, %d borders met, %d with several intervals, "
            "%d stretches missed that are shorter than the scan's distance" % (
                len(results), sum(r.points for r in results), len(wrong), sum(r.borders > 0 for r in results),
                sum(r.borders for r in results), sum(r.intervals > 1 for r in results), sum(r.missed for r in results)))


def main():
    program = os.path.abspath(sys.argv[1])
    count, points, first = (int(sys.argv[i]) if len(sys.argv) > i else usual for i, usual in ((2, 200), (3, 10000), (4, 1)))
    jobs = int(os.environ.get("RAMPART_JOBS", "2"))
    results, wrong = [], []
    with concurrent.futures.ProcessPoolExecutor(jobs) as pool:
        work = [pool.submit(compare, program, seed, points) for seed in range(first, first + count)]
        for done in concurrent.futures.as_completed(work):
            seed, result = done.result()
            if isinstance(result, str):
                wrong.append("seed %d: %s" % (seed, result))
            else:
                results.append(result)
                wrong += ["seed %d, %s: %s" % (seed, result.kind, text) for text in result.wrong]
            if os.environ.get("RAMPART_PROGRESS"):
                print("seed %d done. %s" % (seed, told(results, wrong)), *wrong[-3:], sep="\n  ", file=sys.stderr, flush=True)
    for text in wrong[:40]:
        print(text)
    print(told(results, wrong))
    if len(results) + len(wrong) < count or 3 * sum(r.borders > 0 for r in results) < len(results):
        sys.exit("too few profiles with a border: nothing was shown")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
