"""`rampart evaluate` on logs that ngspice and a script made: clean ones pass, and each planted deviation is found with
its reason, at its place, and once.

usage: as_run_test.py RAMPART [unittest arguments]"""
import dataclasses
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

import as_run_circuits as circuits
import as_run_plants as plants
from as_run_plants import Logger, Off


def write(name, plant, text, description=None):
    """The files of a plant."""
    folder = pathlib.Path(name)
    (folder / "test.bench.yaml").write_text(plants.BENCH)
    (folder / "test.load.yaml").write_text(plant.load)
    (folder / "test.ramp").write_text(plant.profile)
    (folder / "log.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    if description:
        (folder / "log.log.yaml").write_text(description)
    return folder


def evaluate(plant, text, description=None, arguments=()):
    """(exit code, document)."""
    with tempfile.TemporaryDirectory() as name:
        return run(write(name, plant, text, description), arguments)


def run(folder, arguments=()):
    """(exit code, document)."""
    done = subprocess.run([PROGRAM, "evaluate", "test.ramp", "--log", "log.csv", "--format", "json", *arguments], cwd=folder,
                          capture_output=True, text=True, timeout=120)
    if done.returncode > 1 or not done.stdout:
        raise AssertionError("exit code %d: %s%s" % (done.returncode, done.stdout, done.stderr))
    return done.returncode, json.loads(done.stdout)


def causes(document):
    return [(e["rail"], e["quantity"], e["cause"]) for e in document["as_run"]["excursions"]]


def names(document):
    return [f["name"] for f in document["findings"] if f["severity"] == "error"]


# Eight passes of 80 s.
PASSES = """profile "Passes"
bench "test.bench.yaml"
load "test.load.yaml"
rail a on held.ch1
rail b on held.ch2
protect a { fuse after 100 ms }
protect b { fuse after 100 ms }
run {
  limit a to 2 A, b to 2 A
  on a, b
  repeat 8 {
    step a to 5 V
    dwell 3 s
    step b to 12 V
    dwell 57 s
    step a to 0 V, b to 0 V
    dwell 20 s
  }
  off a, b
}
"""


def volts_in_pass(time):
    """Of rails a and b; `time`: since the run began."""
    if not 0 <= time < 640:
        return 0.0, 0.0
    within = time % 80
    return 5.0 if within < 60 else 0.0, 12.0 if 3 <= within < 60 else 0.0


def pass_log(interval, phase, volts):
    """A log in which the run begins at 200 s."""
    lines = ["time_s,a_measured_V,a_measured_A,b_measured_V,b_measured_A"]
    time = phase
    while time < 1000:
        a, b = volts(time - 200)
        lines.append("%.3f,%.6f,%.6f,%.6f,%.6f" % (time, a, a / 10.05, b, b / 24.05))
        time += interval
    return "\n".join(lines) + "\n"


class AsRun(unittest.TestCase):
    solved = {}

    def solve(self, plant, off=Off()):
        key = (plant.name, off)
        if key not in self.solved:
            self.solved[key] = plants.solve(plant, off)
        return self.solved[key]

    def passes(self, plant, text, description=None, arguments=()):
        code, document = evaluate(plant, text, description, arguments)
        answer = document["as_run"]
        self.assertEqual((answer["sequence"]["verdict"], answer["response"]["verdict"], code), ("pass", "pass", 0),
                         json.dumps({**answer, "rules": None, "findings": document["findings"]}, indent=1))
        return answer

    def finds(self, plant, text, expected, description=None, arguments=()):
        code, document = evaluate(plant, text, description, arguments)
        self.assertEqual(causes(document), expected, json.dumps(document["as_run"], indent=1))
        self.assertEqual(code, 1)
        return document["as_run"]

    def test_clean_logs_pass(self):
        for plant in circuits.EVERY:
            for logger in (Logger(seed=1), Logger(seed=2, clock=-300e-6, shift=0), Logger(seed=3, interval=0.011)):
                with self.subTest(plant.name, logger=logger):
                    rows = plants.log_rows(plant, self.solve(plant), logger)
                    answer = self.passes(plant, plants.wide_csv(plant, rows))
                    began = logger.shift + logger.before
                    self.assertAlmostEqual(answer["logs"][0]["shift_s"], began, delta=logger.interval)
                    self.assertAlmostEqual(answer["logs"][0]["clock_error"], logger.clock, delta=500e-6)

    def test_channels_pass_as_rails_do(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        self.passes(plants.RESISTORS, plants.long_csv(plants.RESISTORS, rows, {"a": "held.ch1", "b": "held.ch2"}))

    def test_observed_wait(self):
        rows = plants.log_rows(plants.WAITS, self.solve(plants.WAITS))
        answer = self.passes(plants.WAITS, plants.wide_csv(plants.WAITS, rows))
        self.assertEqual(len(answer["segments"]), 2)
        self.assertAlmostEqual(answer["segments"][1]["waited_s"], plants.WAIT_S, delta=0.03)

    def test_two_observed_waits(self):
        rows = plants.log_rows(circuits.TWO_WAITS, self.solve(circuits.TWO_WAITS))
        answer = self.passes(circuits.TWO_WAITS, plants.wide_csv(circuits.TWO_WAITS, rows))
        waits = [segment["waited_s"] for segment in answer["segments"]]
        self.assertEqual(len(waits), 3)
        self.assertAlmostEqual(waits[1], 1.4, delta=0.03)
        self.assertAlmostEqual(waits[2], 0.6, delta=0.03)

    LINEAR = (plants.RESISTORS, plants.CAPACITORS, plants.STRAIGHT, circuits.COIL, circuits.LEAKING, circuits.NEGATIVE)

    def test_late_row(self):
        for plant in self.LINEAR + (plants.CURVE, circuits.CLAMP, circuits.LAMP_STRAIGHT):
            with self.subTest(plant.name):
                rows = plants.log_rows(plant, self.solve(plant, Off(late=0.03)))
                answer = self.finds(plant, plants.wide_csv(plant, rows), [("a", "voltage", "late")])
                found = answer["excursions"][0]
                self.assertAlmostEqual(found["amount"], 0.03, delta=0.015)
                self.assertAlmostEqual(found["from"]["run_s"], plant.second, delta=2 * Logger().interval + 0.03)
                self.assertEqual(answer["sequence"]["verdict"], "fail")

    def test_low_output(self):
        for plant in (plants.RESISTORS, plants.CAPACITORS, plants.STRAIGHT, circuits.COIL):
            with self.subTest(plant.name):
                rows = plants.log_rows(plant, self.solve(plant, Off(volts=-0.04)))
                answer = self.finds(plant, plants.wide_csv(plant, rows), [("a", "voltage", "offset")])
                self.assertAlmostEqual(answer["excursions"][0]["amount"], -0.04, delta=0.006)
                self.assertEqual(answer["response"]["verdict"], "fail")

    def test_gain(self):
        for plant in (plants.RESISTORS, plants.STRAIGHT, circuits.COIL, circuits.LEAKING, circuits.NEGATIVE):
            with self.subTest(plant.name):
                rows = plants.log_rows(plant, self.solve(plant), Logger(volts_gain=1.01))
                found = self.finds(plant, plants.wide_csv(plant, rows), [("a", "voltage", "gain")])["excursions"][0]
                self.assertAlmostEqual(found["amount"], 0.01, delta=0.002)

    def test_heavier_load(self):
        for plant in (plants.RESISTORS, plants.CAPACITORS, plants.STRAIGHT, plants.CURVE,
                      circuits.TWO_WAITS, circuits.LAMP, circuits.CONVERTER, circuits.CONVERTER_STRAIGHT):
            with self.subTest(plant.name):
                rows = plants.log_rows(plant, self.solve(plant, Off(load=1.1)))
                found = self.finds(plant, plants.wide_csv(plant, rows), [("a", "current", "other-load")])["excursions"][0]
                self.assertAlmostEqual(found["amount"], 0.1, delta=0.02)

    def test_low_limit(self):
        rows = plants.log_rows(plants.LIMITED, self.solve(plants.LIMITED, Off(limit=0.95)))
        answer = self.finds(plants.LIMITED, plants.wide_csv(plants.LIMITED, rows), [("a", "current", "limit")])
        self.assertAlmostEqual(answer["excursions"][0]["amount"], -0.025, delta=0.005)

    def test_output_that_stays_off(self):
        for plant in (plants.RESISTORS, plants.CAPACITORS):
            with self.subTest(plant.name):
                rows = plants.log_rows(plant, self.solve(plant, Off(dead=True)))
                answer = self.finds(plant, plants.wide_csv(plant, rows), [("a", "voltage", "output-off")])
                self.assertEqual(answer["sequence"]["verdict"], "fail")

    def check_finding(self, text, expected, description=None, plant=plants.RESISTORS):
        code, document = evaluate(plant, text, description)
        self.assertEqual((code, names(document)), (1, [expected]), json.dumps(document, indent=1))
        self.assertNotEqual(document["as_run"]["response"]["verdict"], "pass")
        self.assertNotEqual(document["as_run"]["sequence"]["verdict"], "pass")

    def test_missing_readings(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        self.check_finding(plants.wide_csv(plants.RESISTORS, rows[:150] + rows[190:]), "log-gap")

    def test_missing_hour(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        hour = [(time + (3600 if i >= 150 else 0), row) for i, (time, row) in enumerate(rows)]
        # Before and after it the same edges are as far apart as the run has them: the clock was put ahead.
        code, document = evaluate(plants.RESISTORS, plants.wide_csv(plants.RESISTORS, hour))
        self.assertEqual((code, names(document)), (1, ["log-time"]), json.dumps(document["findings"], indent=1))

    def test_clock_put_back(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        text = [7200 + time - (3600 if i >= 150 else 0) for i, (time, _) in enumerate(rows)]
        stamps = iter("2027-10-31T%02d:%02d:%06.3f" % (t // 3600, t % 3600 // 60, t % 60) for t in text)
        csv = plants.wide_csv(plants.RESISTORS, rows, time_text=lambda _: next(stamps))
        code, document = evaluate(plants.RESISTORS, csv, 'log: local times\ntime: {format: iso8601, zone: "+01:00"}\n')
        self.assertEqual((code, names(document)), (1, ["log-time"]))
        self.assertIn("put back by an hour", document["findings"][0]["hint"])

    def test_two_loggers(self):
        plant = plants.RESISTORS
        solved = self.solve(plant, Off(volts=-0.04))
        one = plants.log_rows(plant, solved, Logger(seed=4, shift=3, clock=-200e-6))
        other = plants.log_rows(plant, solved, Logger(seed=5, interval=0.04))
        for first, second, expected in (("ab", "b", 1), ("a", "b", 1), ("a", "ab", 1)):
            with self.subTest(first=first, second=second):
                parts = [plants.wide_csv(dataclasses.replace(plant, rails=tuple(rails)), rows)
                         for rails, rows in ((first, one), (second, other))]
                with tempfile.TemporaryDirectory() as name:
                    folder = write(name, plant, parts[0])
                    (folder / "other.csv").write_text(parts[1])
                    code, document = run(folder, ["--log", "other.csv"])
                answer = document["as_run"]
                self.assertEqual((code, causes(document)), (1, [("a", "voltage", "offset")] * expected), json.dumps(answer, indent=1))
                self.assertAlmostEqual(answer["logs"][0]["shift_s"], 4, delta=0.025)
                self.assertAlmostEqual(answer["logs"][1]["shift_s"], 2.25, delta=0.04)

    def test_a_log_that_is_given_twice(self):
        plant = plants.RESISTORS
        text = plants.wide_csv(plant, plants.log_rows(plant, self.solve(plant), Logger(seed=4)))
        with tempfile.TemporaryDirectory() as name:
            folder = write(name, plant, text)
            (folder / "link.csv").symlink_to("log.csv")
            for again in ("log.csv", "./log.csv", "link.csv"):
                code, document = run(folder, ["--log", again])
                self.assertEqual((code, names(document)), (1, ["log-malformed"]), document["findings"])

    def test_restarted_logger(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        restarted = rows[:150] + [(time - rows[150][0], row) for time, row in rows[150:]]
        self.check_finding(plants.wide_csv(plants.RESISTORS, restarted), "log-time")

    def test_decimal_comma(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        text = plants.wide_csv(plants.RESISTORS, rows, ";", comma=True)
        self.passes(plants.RESISTORS, text, "log: with commas\ndecimal: comma\n")
        code, document = evaluate(plants.RESISTORS, text)
        self.assertEqual((code, names(document)), (1, ["log-malformed"]))

    def test_days_taken_for_seconds(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        text = plants.wide_csv(plants.RESISTORS, rows, time_text=lambda time: f"{45000 + time / 86400:.12f}")
        self.passes(plants.RESISTORS, text, "log: in days\ntime: {format: days}\n")
        self.check_finding(text, "not-aligned")

    def test_dates(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS))
        text = plants.wide_csv(plants.RESISTORS, rows, time_text=lambda time: f"2027-03-01T12:00:{time:09.6f}+01:00")
        self.passes(plants.RESISTORS, text, "log: dates\ntime: {format: iso8601}\n")

    def test_known_shift(self):
        rows = plants.log_rows(plants.RESISTORS, self.solve(plants.RESISTORS), Logger(clock=0))
        self.passes(plants.RESISTORS, plants.wide_csv(plants.RESISTORS, rows), arguments=("--shift", "2.25s"))

    def test_readings_of_passes_that_are_far_apart(self):
        """So far that some levels are not read at all: the run is placed where it was, not some passes later, and nothing is called wrong.
        The terminals are at the setpoint, and the current is by Ohm's law."""
        plant = dataclasses.replace(plants.RESISTORS, profile=PASSES)
        later = [volts_in_pass(time) for time in range(80)]
        self.assertEqual((later[10], later[70]), ((5.0, 12.0), (0.0, 0.0)))
        for interval in (2, 10, 25, 30, 37):
            for phase in (0.1, 0.45, 0.8):
                with self.subTest(interval=interval, phase=phase):
                    code, document = evaluate(plant, pass_log(interval, phase * interval, volts_in_pass))
                    answer = document["as_run"]
                    self.assertNotIn("fail", (answer["sequence"]["verdict"], answer["response"]["verdict"]), answer)
                    if interval <= 10:
                        self.assertEqual(code, 0, answer)
                    self.assertLess(abs(answer["logs"][0]["shift_s"] - 200), max(interval, 1), answer)

    def test_an_order_that_only_single_readings_show(self):
        """Rail b comes and goes 3.0 s early in each pass, and readings come every 2 s."""
        plant = dataclasses.replace(plants.RESISTORS, profile=PASSES)
        early = lambda time: (volts_in_pass(time)[0], volts_in_pass(time + 3.0)[1])
        code, _ = evaluate(plant, pass_log(2, 0.3, early))
        self.assertEqual(code, 1)

    def test_hostile_logs(self):
        header = b"time_s,a_measured_V,a_measured_A,b_measured_V,b_measured_A\n"
        good = b"".join(b"%d,0,0,0,0\n" % i for i in range(100))
        hostile = {"empty": b"", "binary": bytes(range(256)) * 200, "header alone": header, "truncated": header + good[:-4],
                   "too large": header + b"1,1e999,0,0,0\n" + good, "long line": header + b"1" * 1_000_000 + b"\n" + good,
                   "twice": header.replace(b"b_measured_V", b"a_measured_V") + good, "NaN": header + b"1,NaN,inf,9.91E37,\n" * 50,
                   "quotes": header + b'"1,0,0,0,0\n' * 50, "no readings": b"time_s,note\n1,x\n", "NUL": header + b"1,\0,0,0,0\n"}
        for name, text in hostile.items():
            with self.subTest(name):
                code, document = evaluate(plants.RESISTORS, text)
                self.assertEqual(code, 1)
                self.assertTrue(document["findings"] or document["as_run"]["response"]["reason"])
                self.assertNotEqual(document["as_run"]["response"]["verdict"], "pass")


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main()
