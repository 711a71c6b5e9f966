#!/usr/bin/env python3
"""Readings against a script of our own: from the rows of the CSV table and a load of resistors. usage: readings_test.py PROGRAM"""
import csv
import json
import unittest
from fractions import Fraction

from program import BENCH, InFolder, main

TWO_CHANNELS = BENCH + "      ch2: {like: ch1}\n"
OHMS = {"bench.ch1": Fraction(10) + Fraction("0.25"), "bench.ch2": Fraction(47) + Fraction("0.5")}  # load and wire
LOAD = """load: Two resistors
rails:
  core: {wire: 250 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}]}
  io: {wire: 500 mOhm, elements: [{kind: resistor, resistance: 47 Ohm}]}
"""
# Readings in ramps, over steps, over the ends of passes, and over marks.
PROFILE = """profile "Readings of every kind"
bench "two.bench.yaml"
load "two.load.yaml"
rail core on bench.ch1
rail io on bench.ch2
protect core { overvoltage 12 V; fuse after 50 ms; overpower 4 W }
protect io { overvoltage 12 V; fuse after 50 ms; overpower 4 W }
run {
  limit core to 1 A, io to 1 A
  on core, io
  ramp core to 3 V, io to 5 V over 130 ms
  measure "ramp" over 77 ms
  dwell 1 s
  measure "still" over 200 ms
  for k in [95 %, 105 %] {
    ramp core to k * 3 V over 100 ms
    dwell 300 ms
    mark "in between"
    dwell 40 ms
    measure "core {k}" over 250 ms
  }
  repeat 7 {
    step core to 1 V; dwell 20 ms
    step core to 2 V; dwell 50 ms
    measure "pass" over 60 ms
  }
  measure "three passes" over 210 ms
  ramp core to 0 V, io to 0 V over 100 ms
  dwell 20 ms
  off core, io
}
"""


def setpoints(rows, channel):
    """(time, volts) of each row of a channel whose output is on, else 0 V."""
    return [(Fraction(row["time_s"]), Fraction(row["voltage_V"]) if row["output"] == "1" else Fraction(0))
            for row in rows if row["channel"] == channel]


def mean(course, begin, end):
    """Of a staircase, which holds each value until the next."""
    total = Fraction(0)
    for (at, volts), (until, _) in zip(course, course[1:] + [(end, None)]):
        total += volts * max(Fraction(0), min(until, end) - max(at, begin))
    return total / (end - begin)


class Readings(InFolder):
    def setUp(self):
        super().setUp()
        self.write("two.bench.yaml", TWO_CHANNELS)
        self.write("two.load.yaml", LOAD)
        self.write("two.ramp", PROFILE)

    def answer(self, *arguments):
        return json.loads(self.run_it("simulate", "two.ramp", "--format", "json", *arguments).stdout)

    def test_means_of_the_table(self):
        done = self.run_it("build", "two.ramp", "--as", "csv", "-o", "-")
        self.assertEqual(done.returncode, 0, done.stderr.decode())
        rows = list(csv.DictReader(done.stdout.decode().splitlines()))
        readings = self.answer()["readings"]
        self.assertEqual([(one["name"], one["count"]) for one in readings],
                         [("ramp", 1), ("still", 1), ("core 95 %", 1), ("core 105 %", 1), ("pass", 7), ("three passes", 1)])
        compared = 0
        for one in readings:
            end = Fraction(str(one["time_s"]))
            begin = end - Fraction(str(one["over_s"]))
            for rail, channel in (("core", "bench.ch1"), ("io", "bench.ch2")):
                volts = mean(setpoints(rows, channel), begin, end)
                said = one["rails"][rail]
                self.assertAlmostEqual(said["voltage_V"], float(volts), delta=1e-12 * 5)
                self.assertAlmostEqual(said["current_A"], float(volts / OHMS[channel]), delta=1e-12)
                compared += 1
        self.assertEqual(compared, 12)

    def test_what_changes_in_a_reading_is_found(self):
        found = [(finding["name"], finding["line"]) for finding in self.answer()["findings"] if finding["severity"] == "warning"]
        lines = PROFILE.splitlines()
        wanted = {number for number, line in enumerate(lines, start=1)
                  if any('"%s"' % name in line for name in ("ramp", "pass", "three passes")) and "measure" in line}
        self.assertEqual({line for name, line in found if name == "reading-too-early"}, wanted)

    def test_values_are_written_as_they_were(self):
        self.write("two.ramp", PROFILE.replace("run {", "param level = 5 % in 1 % .. 8 %\nlet half = 500 mV\nrun {", 1).replace(
            '"still"', '"{level}, {half}, \\{k}"'))
        for setting, text in (((), "5 %, 500 mV, {k}"), (("--set", "level=2.50%"), "2.5 %, 500 mV, {k}"),
                              (("--set", "level=0.03"), "0.03, 500 mV, {k}")):
            self.assertIn(text, [one["name"] for one in self.answer(*setting)["readings"]])

    def test_values_of_a_for_are_written_in_one_unit(self):
        for values, names in (("[1, 1 - level, 1 + level]", ["100 %", "95 %", "105 %"]), ("[1, 2]", ["1", "2"]),
                              ("[1 - level, 1]", ["95 %", "100 %"]), ("[0.9, 110 %]", ["90 %", "110 %"]),
                              ("0.9 .. 1.1 step 10 %", ["90 %", "100 %", "110 %"]), ("[1 V, 500 mV]", ["1 V", "500 mV"]),
                              ("[1 A * 1 Ohm, 500 mV]", ["1000 mV", "500 mV"])):
            self.write("two.ramp", PROFILE.replace("run {", "param level = 5 % in 1 % .. 8 %\nrun {", 1).replace(
                "  off core", "  for k in " + values + " { dwell 1 s; measure \"k {k}\" over 500 ms }\n  off core", 1))
            taken = [one["name"] for one in self.answer()["readings"] if one["name"].startswith("k ")]
            self.assertEqual(taken, ["k " + name for name in names])


if __name__ == "__main__":
    main()
