#!/usr/bin/env python3
"""Random pairs of a profile and a log of it: no clean log may be rejected, and no planted deviation above twice the
tolerance may be missed.

usage: as_run_pairs.py RAMPART [COUNT [FIRST SEED]]

The long form is 10000 pairs; the tests try 60. Courses are worked out here in closed form, with nothing of the program:
between two stairs a capacitor with its ESR behind a wire and beside a resistor relaxes with one time constant."""
import bisect
import concurrent.futures
import json
import math
import os
import pathlib
import random
import subprocess
import sys
import tempfile

STEP = 0.01  # s, the minimum step: ramps are played in stairs this long, each at the value of its start


class Rail:
    """A supply's output, its leads and its load."""

    def __init__(self, dice, name):
        self.name = name
        self.wire = dice.choice((0.02, 0.05, 0.1))
        self.ohm = round(10 ** dice.uniform(0.7, 2), 1)
        self.has_capacitor = dice.random() < 0.6
        self.farad = round(10 ** dice.uniform(1.5, 3)) * 1e-6
        self.esr = round(dice.uniform(0.05, 0.3), 2)
        self.top = min(round(dice.uniform(2, 15), 1), round(2.5 * self.ohm, 1))
        self.shape = []  # (from, to, volts at from, volts at to) of its ramps

    def element_lines(self):
        lines = ["{kind: resistor, resistance: %s Ohm}" % self.ohm]
        if self.has_capacitor:
            lines.append("{kind: capacitor, capacitance: %d uF, esr: %s Ohm}" % (round(self.farad * 1e6), self.esr))
        return ", ".join(lines)

    def stairs(self, late_from=math.inf, late=0.0):
        """(time, volts) of its setpoint."""
        points = [(0.0, 0.0)]
        for begin, end, low, high in self.shape:
            shift = late if begin >= late_from else 0.0
            count = max(1, round((end - begin) / STEP))
            first, last = round(1000 * low), round(1000 * high)
            for k in range(1, count + 1):
                # The first stair is where the rail stands already. A setpoint is a whole number of mV, halves rounded up
                # (docs/language.md, "Numbers and units").
                points.append((begin + shift + k * (end - begin) / count,
                               (2 * (first * count + (last - first) * k) + count) // (2 * count) / 1000))
        return points

    def course(self, points, error, load, until):
        """The integrals of its volts and amps. `error`: of the supply, as a share of the setpoint and an offset. A supply that
        cannot sink lets the capacitor go until it is down to the setpoint."""
        ohm = self.ohm / load
        alone, share = (ohm + self.esr) * self.farad, ohm / (ohm + self.esr)
        conductance = 1 / self.wire + 1 / ohm + 1 / self.esr
        tau = self.esr * self.farad / (1 - 1 / (self.esr * conductance))

        def floating(held):
            return lambda t: held * share * alone * -math.expm1(-t / alone), lambda t: 0.0

        def driven(volts, held):
            settled = volts * ohm / (ohm + self.wire)

            def amps(t):
                capacitor = settled * t + (held - settled) * tau * -math.expm1(-t / tau)
                return (volts * t - (volts / self.wire * t + capacitor / self.esr) / conductance) / self.wire

            return lambda t: volts * t, amps

        course, held = Course(), 0.0
        for (begin, volts), (end, _) in zip(points, points[1:] + [(until, 0.0)]):
            volts = max(0.0, volts * (1 + error[0]) + error[1]) if volts > 0 else 0.0
            length = end - begin
            if length <= 0:
                continue
            if not self.has_capacitor:
                course.add(length, lambda t, volts=volts: volts * t, lambda t, volts=volts: volts * t / (ohm + self.wire))
                continue
            if held * share > volts:
                floats = min(length, alone * math.log(held * share / volts) if volts > 0 else length)
                course.add(floats, *floating(held))
                held *= math.exp(-floats / alone)
                length -= floats
                if length <= 1e-12:
                    continue
            course.add(length, *driven(volts, held))
            settled = volts * ohm / (ohm + self.wire)
            held = settled + (held - settled) * math.exp(-length / tau)
        return course


class Course:
    """Integrals of volts and amps over time in closed form, piece by piece; each counts from the begin of its piece."""

    def __init__(self):
        self.begins, self.pieces, self.sums, self.end = [], [], [], 0.0

    def add(self, length, volts, amps):
        base = (0.0, 0.0) if not self.sums else tuple(
            s + f(self.end - self.begins[-1]) for s, f in zip(self.sums[-1], self.pieces[-1]))
        self.begins.append(self.end)
        self.pieces.append((volts, amps))
        self.sums.append(base)
        self.end += length

    def integrals(self, time):
        if time <= 0:
            return 0.0, 0.0
        i = bisect.bisect_right(self.begins, time) - 1
        since = min(time, self.end) - self.begins[i]
        return tuple(s + f(since) for s, f in zip(self.sums[i], self.pieces[i]))

    def means(self, end, window):
        """Of volts and amps over the window."""
        return tuple((b - a) / window for a, b in zip(self.integrals(end - window), self.integrals(end)))


class Pair:
    def __init__(self, seed):
        dice = self.dice = random.Random(seed)
        self.rails = [Rail(dice, name) for name in ("a", "b")[:dice.choice((1, 2, 2))]]
        self.meter_volts = (dice.choice((0.0002, 0.0005, 0.001)), dice.choice((1e-3, 3e-3)))
        self.meter_amps = (dice.choice((0.001, 0.002)), dice.choice((1e-3, 3e-3)))
        self.supply_volts = (dice.choice((0.0002, 0.0005)), dice.choice((1e-3, 4e-3)))
        self.noise = dice.choice((2e-4, 1e-3))
        self.interval = dice.choice((0.011, 0.02, 0.047))
        self.window = dice.choice((0.005, 0.02))
        self.latency = dice.choice((0.0, 0.003))
        self.shift, self.clock = round(dice.uniform(0.3, 3), 4), dice.uniform(-300e-6, 300e-6)
        self.plan()
        self.plant()

    # Up one after another, dwells between, down in reverse order.
    def plan(self):
        dice, time, self.steps = self.dice, 0.1, ["dwell 100 ms"]

        def ramp(rail, low, high):
            nonlocal time
            length = round(dice.uniform(0.4, 1.5), 2)
            rail.shape.append((time, time + length, low, high))
            self.steps.append("ramp %s to %s V over %s s" % (rail.name, high, length))
            time += length

        def dwell(least, most):
            nonlocal time
            length = round(dice.uniform(least, most), 2)
            self.steps.append("dwell %s s" % length)
            time += length

        for rail in self.rails:
            if dice.random() < 0.4:
                ramp(rail, 0, round(rail.top / 2, 1))
                dwell(0.2, 0.6)
                ramp(rail, round(rail.top / 2, 1), rail.top)
            else:
                ramp(rail, 0, rail.top)
            dwell(0.3, 1)
        for rail in reversed(self.rails):
            ramp(rail, rail.top, 0)
            dwell(1.5, 2)
        self.seconds = time

    def plant(self):
        """What is off: nothing in half of the pairs. Tolerances are what the bench's file allows, added up."""
        dice = self.dice
        rail = self.rail = dice.choice(self.rails)
        volts, amps = rail.top, rail.top / (rail.ohm + rail.wire)
        supply = self.supply_volts[0] * volts + self.supply_volts[1]
        band = supply + self.meter_volts[0] * volts + self.meter_volts[1] + self.noise
        amps_band = (supply * amps / volts + self.meter_amps[0] * amps + self.meter_amps[1] + self.noise)
        self.kind = dice.choice(("clean", "clean", "clean", "clean", "offset", "gain", "load", "late", "dead"))
        self.size = 0.0
        above = dice.uniform(2.05, 4)
        begin, end, low, high = rail.shape[-1]
        slope = abs(high - low) / (end - begin)
        if self.kind == "offset":
            self.size = dice.choice((-1, 1)) * above * band
        elif self.kind == "gain":
            self.size = dice.choice((-1, 1)) * above * band / volts
        elif self.kind == "load":
            self.size = 1 + above * amps_band / amps
        elif self.kind == "late":
            self.size = max(0.02, above * (2 * self.interval + self.window + self.latency + STEP + band / slope))
            self.size = round(self.size / 0.001) * 0.001

    def check_supply(self, course, nominal):
        """A clean log is one of a supply that is as accurate as its bench file says."""
        for k in range(int(self.seconds / self.window)):
            is_set = nominal.means((k + 1) * self.window, self.window)[0]
            error = abs(course.means((k + 1) * self.window, self.window)[0] - is_set)
            assert error <= self.supply_volts[0] * is_set + self.supply_volts[1], "the script sets more than the bench allows"

    def allowed(self):
        return self.dice.uniform(-0.6, 0.6)

    def log(self):
        dice, columns = self.dice, []
        for rail in self.rails:
            is_it = rail is self.rail
            points = rail.stairs(rail.shape[-1][0], self.size) if is_it and self.kind == "late" else rail.stairs()
            off = self.allowed()
            error = (off * self.supply_volts[0], off * self.supply_volts[1])
            if is_it and self.kind == "dead":
                points = [(0.0, 0.0)]
            if is_it and self.kind == "offset":
                error = (0.0, self.size)
            load = self.size if is_it and self.kind == "load" else 1
            meter = (self.allowed() * 0.9, self.allowed() * 0.9)
            gain = 1 + self.size if is_it and self.kind == "gain" else 1
            course = rail.course(points, error, load, self.seconds + 3)
            if self.kind == "clean" and not rail.has_capacitor:
                self.check_supply(course, rail.course(points, (0.0, 0.0), 1, self.seconds + 3))
            columns.append((course, meter, gain))
        lines = ["time_s," + ",".join("%s_measured_V,%s_measured_A" % (rail.name, rail.name) for rail in self.rails)]
        time = -0.8 * self.shift
        while time < self.seconds + 0.5:
            end, fields = time - dice.uniform(0, self.latency), []
            for course, meter, gain in columns:
                volts, amps = course.means(end, self.window)
                volts *= gain
                volts += meter[0] * (self.meter_volts[0] * volts + self.meter_volts[1]) + dice.uniform(-1, 1) * self.noise
                amps += meter[1] * (self.meter_amps[0] * amps + self.meter_amps[1]) + dice.uniform(-1, 1) * self.noise
                fields += ["%.5f" % volts, "%.5f" % amps]
            lines.append("%.5f,%s" % (self.shift + time * (1 + self.clock), ",".join(fields)))
            time += self.interval
        return "\n".join(lines) + "\n"

    def files(self):
        accuracy = "%g %% + %g mV"
        channel = ("voltage: {range: 0 V .. 30 V, resolution: 1 mV, accuracy: %s}\n        current: {range: 0 A .. 5 A, resolution: 1 mA}\n"
                   "        readback: {voltage: {accuracy: %s, noise: %g mV}, current: {accuracy: %g %% + %g mA, noise: %g mA}, "
                   "window: %g ms, latency: 0 ms .. %g ms}\n") % (
            accuracy % (100 * self.supply_volts[0], 1e3 * self.supply_volts[1]),
            accuracy % (100 * self.meter_volts[0], 1e3 * self.meter_volts[1]), 1e3 * self.noise,
            100 * self.meter_amps[0], 1e3 * self.meter_amps[1], 1e3 * self.noise, 1e3 * self.window, 1e3 * self.latency)
        bench = ("bench: B\nsupplies:\n  s:\n    timing: {minimum_step: 10 ms, resolution: 10 ms, interpolation: hold}\n    channels:\n"
                 "      ch1:\n        %s      ch2: {like: ch1}\n") % channel
        load = "load: L\nrails:\n" + "".join("  %s: {wire: %s Ohm, elements: [%s]}\n" % (r.name, r.wire, r.element_lines())
                                              for r in self.rails)
        names = ", ".join(rail.name for rail in self.rails)
        profile = ('profile "P"\nbench "b.bench.yaml"\nload "l.load.yaml"\n' +
                   "".join("rail %s on s.ch%d\n" % (rail.name, i + 1) for i, rail in enumerate(self.rails)) +
                   "run {\n  limit %s to 4 A\n  on %s\n  %s\n}\n" % (
                       " to 4 A, ".join(rail.name for rail in self.rails), names, "\n  ".join(self.steps)))
        return {"b.bench.yaml": bench, "l.load.yaml": load, "p.ramp": profile, "log.csv": self.log()}


def evaluate(program, files):
    """What `evaluate` makes of these files, as JSON."""
    with tempfile.TemporaryDirectory() as name:
        for path, text in files.items():
            (pathlib.Path(name) / path).write_text(text)
        return subprocess.run([program, "evaluate", "p.ramp", "--log", "log.csv", "--format", "json"], cwd=name, capture_output=True,
                              text=True, timeout=1200)


def judge(program, seed):
    """What is wrong with the verdict on this pair; nothing where it is right."""
    pair = Pair(seed)
    done = evaluate(program, pair.files())
    if done.returncode > 1:
        return pair.kind, "exit code %d: %s" % (done.returncode, done.stderr[-300:])
    answer = json.loads(done.stdout)["as_run"]
    if answer is None:
        return pair.kind, "no answer: %s" % done.stdout[-500:]
    verdicts = {answer["sequence"]["verdict"], answer["response"]["verdict"]}
    if pair.kind == "clean" and verdicts != {"pass"}:
        return pair.kind, "%s: %s; %s" % (sorted(verdicts), answer["sequence"]["reason"], answer["response"]["reason"])
    # Of one rail that stays at nothing no log tells where the run is: the verdicts are open, and never a pass.
    is_lost = pair.kind == "dead" and len(pair.rails) == 1 and verdicts == {"inconclusive"}
    if pair.kind != "clean" and "fail" not in verdicts and not is_lost:
        return pair.kind, "%s of %g on %s is missed: %s; %s" % (pair.kind, pair.size, pair.rail.name, answer["sequence"]["reason"],
                                                               answer["response"]["reason"])
    return pair.kind, ""


def main():
    program = os.path.abspath(sys.argv[1])
    count, first = (int(sys.argv[2]) if len(sys.argv) > 2 else 60), (int(sys.argv[3]) if len(sys.argv) > 3 else 1)
    tried, wrong = {}, []
    with concurrent.futures.ProcessPoolExecutor(int(os.environ.get("RAMPART_JOBS", "2"))) as pool:
        seeds = range(first, first + count)
        for seed, (kind, problem) in zip(seeds, pool.map(judge, [program] * count, seeds, chunksize=10)):
            tried[kind] = tried.get(kind, 0) + 1
            if problem:
                wrong.append((seed, kind))
                print("seed %d, %s: %s" % (seed, kind, problem))
    print("%d pairs: %s; %d wrong" % (count, ", ".join("%d %s" % (tried[kind], kind) for kind in sorted(tried)), len(wrong)))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
