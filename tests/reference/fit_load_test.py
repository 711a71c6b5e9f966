"""`rampart fit-load` on logs whose truth is known: courses in closed form (as_run_pairs.py), noise that is correlated in time.

usage: fit_load_test.py RAMPART [unittest arguments]

RAMPART_FIT_SEEDS=200 is the long form: estimates have to lie within two standard errors in 95 % ± 3 % of all cases."""
import json
import math
import os
import pathlib
import random
import subprocess
import sys
import tempfile
import unittest

from as_run_pairs import Rail

INTERVAL, WINDOW = 0.012, 0.005
VOLTS_NOISE, AMPS_NOISE, MEMORY = 0.4e-3, 0.4e-3, 0.6  # standard deviations, and correlation with the reading before
OHM, FARAD, WIRE = 10.23, 430e-6, 0.052
ACCURATE = "0.01 % + 0.1 mV"

BENCH = """bench: B
supplies:
  s:
    timing: {minimum_step: 10 ms, resolution: 10 ms, interpolation: hold}
    channels:
      ch1:
        voltage: {range: 0 V .. 30 V, resolution: 1 mV%s}
        current: {range: 0 A .. 5 A, resolution: 1 mA}
        readback: {voltage: {accuracy: %s}, current: {accuracy: %s}, window: 5 ms}
"""
PROFILE = """profile "P"
bench "b.bench.yaml"
load "l.load.yaml"
rail a on s.ch1
run {
  limit a to 4 A
  on a
  dwell 100 ms
  ramp a to 6 V over 800 ms
  dwell 800 ms
  ramp a to 9 V over 400 ms
  dwell 800 ms
  ramp a to 0 V over 900 ms
  dwell 300 ms
}
"""
SHAPE = [(0.1, 0.9, 0, 6), (1.7, 2.1, 6, 9), (2.9, 3.8, 9, 0)]
SECONDS = 4.1
PARTS = ("{kind: resistor, resistance: 10 Ohm +- 5 %}, {kind: capacitor, capacitance: 400 uF +- 20 %, esr: 200 mOhm}")


def device(ohm=OHM, farad=FARAD, wire=WIRE):
    rail = Rail(random.Random(1), "a")
    rail.ohm, rail.farad, rail.wire, rail.esr, rail.has_capacitor, rail.top, rail.shape = ohm, farad, wire, 0.2, True, 9, SHAPE
    return rail.course(rail.stairs(), (0.0, 0.0), 1, SECONDS + 1)


class Noise:
    """Steady noise of a given deviation that remembers a share of the reading before."""

    def __init__(self, dice, deviation, memory):
        self.dice, self.memory = dice, memory
        self.step = deviation * math.sqrt(1 - memory * memory)
        self.last = dice.gauss(0, deviation)

    def next(self):
        self.last = self.memory * self.last + self.dice.gauss(0, self.step)
        return self.last


def log(course, seed, volts=(1, 0), amps=(1, 0), memory=MEMORY, step=1e-6, late=0.0):
    """`volts` and `amps`: gain and offset of the meter. `step`: of its current. `late`: by how much the rows were, s."""
    dice = random.Random(seed)
    noises = Noise(dice, VOLTS_NOISE, memory), Noise(dice, AMPS_NOISE, memory)
    lines, time = ["time_s,a_measured_V,a_measured_A"], -0.3
    while time < SECONDS + 0.2:
        fields = []
        for mean, noise, (gain, offset) in zip(course.means(time - late, WINDOW), noises, (volts, amps)):
            value = mean * gain + offset + noise.next()
            fields.append("%.6f" % (value if not fields else round(value / step) * step))
        lines.append("%.6f,%s" % (time + 1, ",".join(fields)))
        time += INTERVAL
    return "\n".join(lines) + "\n"


def load(parts=PARTS, wire="52 mOhm"):
    return "load: L\nrails:\n  a: {wire: %s, elements: [%s]}\n" % (wire, parts)


class FitLoad(unittest.TestCase):
    def setUp(self):
        self.area = tempfile.TemporaryDirectory()
        self.addCleanup(self.area.cleanup)
        self.folder = pathlib.Path(self.area.name)

    def write(self, text, loads=None, supply="", volts="0.0001 % + 1 uV", amps="0.0001 % + 1 uA"):
        for name, content in {"b.bench.yaml": BENCH % (supply, volts, amps), "l.load.yaml": loads or load(), "p.ramp": PROFILE,
                              "log.csv": text}.items():
            (self.folder / name).write_text(content)

    def rampart(self, *arguments):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, capture_output=True, text=True, timeout=300)

    def fit(self, *arguments):
        done = self.rampart("fit-load", "p.ramp", "--log", "log.csv", "--shift", "1s", "--format", "json", *arguments)
        self.assertIn(done.returncode, (0, 1), done.stderr)
        return done.returncode, json.loads(done.stdout)

    def names(self, document):
        """Findings of the fit."""
        return [one["name"] for one in document["findings"] if one["name"] in ("at-tolerance", "not-determined", "nothing-to-fit")]

    def values(self, document):
        return {value["name"].split(" of ")[0]: value for value in document["fit"]["values"]}

    def hits(self, seeds, memory):
        """Shares of estimates that lie within two of their standard errors."""
        course = device()
        truth = {"resistance": OHM, "capacitance": FARAD}
        hits = {name: 0 for name in truth}
        for seed in range(1, seeds + 1):
            self.write(log(course, seed, memory=memory))
            values = self.values(self.fit()[1])
            for name, true in truth.items():
                value = values[name]
                self.assertTrue(value["determined"], (seed, value))
                hits[name] += abs(value["estimate"] - true) <= 2 * value["standard_error"]
        share = sum(hits.values()) / (seeds * len(truth))
        print("correlation %g: within two standard errors, of %d: %s; %.1f %%" % (memory, seeds, hits, 100 * share))
        return share

    def test_estimates_lie_within_two_standard_errors(self):
        seeds = int(os.environ.get("RAMPART_FIT_SEEDS", "12"))
        # The short form has to allow for three deviations of a binomial distribution.
        room = 0.03 if seeds >= 200 else 3 * math.sqrt(0.95 * 0.05 / (2 * seeds)) + 0.01
        for memory in (0.0, MEMORY, 0.8):
            with self.subTest(memory=memory):
                self.assertLessEqual(abs(self.hits(seeds, memory) - 0.95), room)

    def test_correlated_noise_widens_the_errors(self):
        # Of an AR(1) process the variance of a mean is (1 + r) / (1 - r) times as large (G. E. P. Box, G. M. Jenkins,
        # "Time Series Analysis", 1976, section 2.1.5 and 3.2.3): 9 at r = 0.8. What tells r in some hundred readings is good
        # to some percent, and what it says of the mean to a quarter.
        course, seeds = device(), range(1, 6)
        for memory, widening in ((0.0, 1.0), (0.8, 3.0)):
            errors, told = [], []
            for seed in seeds:
                self.write(log(course, seed, memory=memory))
                document = self.fit()[1]
                errors.append(self.values(document)["resistance"]["noise_error"])
                told += [one["widening"] for one in document["fit"]["residuals"]]
            mean = sum(errors) / len(errors)
            if memory == 0:
                independent = mean
            self.assertAlmostEqual(mean / independent, widening, delta=0.2 * widening)
            self.assertAlmostEqual(sum(told) / len(told), widening, delta=0.2 * widening)
        # What there is to say of the last one is said.
        text = self.rampart("fit-load", "p.ramp", "--log", "log.csv", "--shift", "1s").stdout
        self.assertIn("noise of the current of a is correlated from reading to reading", text)

    def test_meter_gain_is_apart_from_the_noise(self):
        # A current that reads 0.3 % high is within 0.5 %: the resistance is 0.3 % off, which its error by meters covers.
        self.write(log(device(), 5, amps=(1.003, 0)), volts=ACCURATE, amps="0.5 %")
        value = self.values(self.fit()[1])["resistance"]
        self.assertGreater(value["meter_error"], 5 * value["noise_error"])
        self.assertAlmostEqual(value["meter_error"] / value["estimate"], 0.005 / math.sqrt(3), delta=0.001)
        self.assertLess(abs(value["estimate"] - OHM), 2 * value["standard_error"])
        self.assertGreater(abs(value["estimate"] - OHM), 5 * value["noise_error"])

    def test_coarse_readings_are_not_taken_for_exact(self):
        # Nearly all readings of a rest are rounded alike; a step of 10 mA has a standard deviation of 2.9 mA (JCGM 100:2008,
        # F.2.2.1), which some 200 stairs of different currents, 0.5 A in the middle, bring down to 4e-4.
        course, far = device(), 0
        for seed in range(1, 9):
            self.write(log(course, seed, memory=0, step=10e-3))
            document = self.fit()[1]
            value = self.values(document)["resistance"]
            self.assertGreater(value["standard_error"], 2e-4 * OHM)
            far += abs(value["estimate"] - OHM) > 2 * value["standard_error"]
            self.assertIn("rounded so far that most readings are equal", " ".join(document["fit"]["left_out"]))
        self.assertLessEqual(far, 2)

    def test_fitted_file_is_complete_and_passes(self):
        self.write(log(device(ohm=9.6, farad=460e-6), 7), volts="0.01 % + 8 mV", amps="0.02 % + 8 mA", supply=", accuracy: 0.01 % + 1 mV")
        before = json.loads(self.rampart("evaluate", "p.ramp", "--log", "log.csv", "--format", "json").stdout)["as_run"]
        self.assertEqual(before["response"]["verdict"], "fail")
        code, document = self.fit("-o", "fitted.load.yaml")
        self.assertEqual(code, 0, document["findings"])
        text = (self.folder / "fitted.load.yaml").read_text()
        self.assertIn("# design: resistance 10 Ohm +- 5 %, capacitance 400 uF +- 20 %\n", text)
        checked = self.rampart("check", "p.ramp", "--load", "fitted.load.yaml")
        self.assertEqual(checked.returncode, 0, checked.stderr)
        for residual in document["fit"]["residuals"]:
            self.assertLess(residual["after"], residual["before"] + 1e-9)
        after = json.loads(self.rampart("evaluate", "p.ramp", "--log", "log.csv", "--load", "fitted.load.yaml", "--corners", "--format",
                                        "json").stdout)["as_run"]
        self.assertEqual([e["text"] for e in after["excursions"] if e["quantity"] == "current"], [])

    def test_what_is_not_determined_is_said_and_left(self):
        pair = ("{kind: resistor, resistance: 20 Ohm +- 5 %}, {kind: resistor, resistance: 20 Ohm +- 5 %}, "
                "{kind: capacitor, capacitance: 400 uF, esr: 200 mOhm +- 1 %}")
        self.write(log(device(), 9), loads=load(pair, "52 mOhm"))
        code, document = self.fit("-o", "fitted.load.yaml")
        self.assertEqual(code, 1)
        values = document["fit"]["values"]
        self.assertEqual([value["determined"] for value in values], [False, False, False], values)
        self.assertIn("not told apart from the resistance of resistor 2 of a", values[0]["why"])
        # Nothing was fitted, so nothing is written.
        self.assertFalse((self.folder / "fitted.load.yaml").exists())

    def test_estimates_stay_within_their_tolerance(self):
        self.write(log(device(), 11), loads=load("{kind: resistor, resistance: 10 Ohm +- 1 %}, "
                                                 "{kind: capacitor, capacitance: 430 uF, esr: 200 mOhm}", "52 mOhm"))
        code, document = self.fit()
        self.assertEqual((code, self.names(document)), (0, ["at-tolerance"]))
        self.assertAlmostEqual(document["fit"]["values"][0]["estimate"], 10.1, delta=1e-6)

    def test_supplies_that_start_apart_have_shifts_of_their_own(self):
        # The second supply plays its rows 6 ms later, which its bench file allows.
        late, course = 0.006, device()
        bench = BENCH % ("", "0.0001 % + 1 uV", "0.0001 % + 1 uA")
        bench = bench.replace("resolution: 10 ms,", "resolution: 10 ms, skew: 8 ms,")
        bench += bench.split("supplies:\n")[1].replace("  s:", "  t:", 1)
        profile = PROFILE.replace("rail a on s.ch1", "rail a on s.ch1\nrail b on t.ch1").replace("on a\n", "on a, b\n")
        profile = profile.replace("limit a to 4 A", "limit a to 4 A, b to 4 A")
        for volts in ("6", "9", "0"):
            profile = profile.replace("ramp a to %s V" % volts, "ramp a to %s V, b to %s V" % (volts, volts))
        loads = load() + load().split("rails:\n")[1].replace("  a:", "  b:", 1)
        for seed in range(1, 4):
            columns = [log(course, seed, memory=0).splitlines(), log(course, seed + 10, memory=0, late=late).splitlines()]
            lines = ["time_s,a_measured_V,a_measured_A,b_measured_V,b_measured_A"]
            lines += [a + "," + b.split(",", 1)[1] for a, b in zip(*(column[1:] for column in columns))]
            for name, text in {"b.bench.yaml": bench, "l.load.yaml": loads, "p.ramp": profile, "log.csv": "\n".join(lines) + "\n"}.items():
                (self.folder / name).write_text(text)
            for value in self.fit()[1]["fit"]["values"]:
                true = OHM if value["unit"] == "Ohm" else FARAD
                self.assertTrue(value["determined"], (seed, value))
                self.assertLess(abs(value["estimate"] - true), 3 * value["standard_error"], (seed, value))
                self.assertLess(value["standard_error"], 0.03 * true)

    def test_nothing_to_fit(self):
        self.write(log(device(), 13), loads=load("{kind: resistor, resistance: 10 Ohm}", "50 mOhm"))
        code, document = self.fit()
        self.assertEqual((code, document["fit"], self.names(document)), (1, None, ["nothing-to-fit"]))


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main()
