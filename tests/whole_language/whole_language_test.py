#!/usr/bin/env python3
"""Holds table and simulation of a profile that uses every feature against values worked out by hand.

usage: whole_language_test.py PROGRAM

Every instant is counted from the statements of every-feature.ramp; every level is a setpoint written there. Figures of
the simulation follow from Ohm's law and Joule's law, stated beside each.
"""
import csv
import io
import json
import pathlib
import re
import subprocess
import sys
import unittest

PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
FOLDER = pathlib.Path(__file__).resolve().parent
PROFILE = "every-feature.ramp"


def run(*arguments):
    done = subprocess.run([PROGRAM, *arguments], cwd=FOLDER, capture_output=True, text=True, timeout=60)
    if done.returncode != 0:
        raise AssertionError("exit code %d\n%s%s" % (done.returncode, done.stdout, done.stderr))
    return done.stdout


class Table:
    """What each channel is set to at any instant."""

    def __init__(self, text):
        self.rows = {}
        for row in csv.DictReader(io.StringIO(text)):
            self.rows.setdefault((row["segment"], row["channel"]), []).append(row)

    def times(self, segment, channel):
        return [float(row["time_s"]) for row in self.rows[segment, channel]]

    def at(self, segment, channel, time):
        """Voltage, limit and output of the last row at or before `time`, s."""
        found = [row for row in self.rows[segment, channel] if float(row["time_s"]) <= time + 1e-12][-1]
        return float(found["voltage_V"]), float(found["current_A"]), int(found["output"])


class WholeLanguage(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.table = Table(run("build", PROFILE, "--as", "csv", "-o", "-"))
        cls.simulation = json.loads(run("simulate", PROFILE, "--format", "json"))

    def expect(self, segment, channel, time, voltage, current=None, output=1):
        got = self.table.at(segment, channel, time)
        self.assertAlmostEqual(got[0], voltage, 9, (segment, channel, time))
        if current is not None:
            self.assertAlmostEqual(got[1], current, 9, (segment, channel, time))
        self.assertEqual(got[2], output, (segment, channel, time))

    def test_the_profile_uses_every_statement(self):
        text = (FOLDER / PROFILE).read_text(encoding="utf-8") + (FOLDER / "levels.ramp").read_text(encoding="utf-8")
        for word in ("on off step ramp limit dwell mark repeat for together track raise lower pulse await do profile "
                     "bench load import param let rail line protect accept rule sequence run safe expect").split():
            self.assertRegex(text, r"(?m)(^|[{;]) *%s\b" % word)
        for words in ("sense remote", "reversed", "output when trip", "input off", "ceiling", "overvoltage", "linked with",
                      "overpower", "always", "while", "before", "within", "after", "rises", "falls", "under", "operator",
                      "assume", "from", " by ", " at ", "max(", "min(", "abs(", "not ", " and ", " or "):
            self.assertIn(words, text)

    def test_segment_1_power_up(self):
        # bias is still off, but its limit stands from the start; heater has none yet.
        self.expect("1", "left.ch1", 0, 0, 0.6)
        self.expect("1", "left.ch2", 0, 0, 0.25)
        self.expect("1", "right.ch1", 0, 0, 0.1, output=0)
        self.expect("1", "left.ch3", 0, 0, 0, output=0)
        # 1.2 V over 240 ms in 24 stairs of 10 ms and 50 mV; each holds the ramp's value at its start.
        for k in range(25):
            self.expect("1", "left.ch1", k * 0.010, k * 0.050)
        # io: 300 ms to 630 ms, 3.3 V at 10 V/s, 33 stairs of 100 mV.
        self.expect("1", "left.ch2", 0.309, 0)
        for k in range(34):
            self.expect("1", "left.ch2", 0.300 + k * 0.010, k * 0.100)

    def test_segment_1_linear_and_series(self):
        # bias on a linear supply: the ramp is its two ends, 630 ms and 1830 ms. The rail is negative because the channel is connected the other way round.
        self.assertEqual(self.table.times("1", "right.ch1"), [0, 0.63, 1.83, 2.4])
        self.expect("1", "right.ch1", 0.63, 0, 0.1)
        self.expect("1", "right.ch1", 1.83, 5, 0.1)
        # heater: 48 V shared evenly by two equal channels in series, 24 V each.
        for channel in ("left.ch3", "left.ch4"):
            self.expect("1", channel, 0.620, 0, 0, output=0)
            self.expect("1", channel, 0.630, 0, 0.6)
            self.expect("1", channel, 1.830, 24, 0.6)

    def test_segment_1_limit(self):
        # 600 mA to 500 mA within 200 ms from 2030 ms: 20 stairs of 5 mA.
        for k in range(21):
            self.expect("1", "left.ch1", 2.030 + k * 0.010, 1.2, 0.600 - k * 0.005)
        # The segment lasts until 2400 ms: every channel has its last row there.
        for channel in ("left.ch1", "left.ch2", "left.ch3", "left.ch4", "right.ch1"):
            self.assertAlmostEqual(self.table.times("1", channel)[-1], 2.4)

    def test_segment_2_margins(self):
        for turn in range(3):
            start = turn * 1.0
            # 105 % from 100 ms, 95 % from 600 ms on: 1.26 V and 1.14 V, 3.465 V and 3.135 V.
            self.expect("2", "left.ch1", start + 0.100, 1.260)
            self.expect("2", "left.ch2", start + 0.100, 3.465)
            self.expect("2", "left.ch1", start + 0.600, 1.140)
            self.expect("2", "left.ch2", start + 0.600, 3.135)
        # Half way up, the stair that holds 50 ms: 1.2 V to 1.26 V in the first round, 1.14 V to 1.26 V later.
        self.expect("2", "left.ch1", 0.050, 1.230)
        self.expect("2", "left.ch1", 1.050, 1.200)

    def test_segment_2_steps(self):
        for k, level in enumerate((1.15, 1.20, 1.25)):
            self.expect("2", "left.ch1", 3.000 + k * 0.050, level)
        # Relative steps: 3.135 V and 10 mV more each of three times, at 3150, 3170 and 3190 ms; back at 3210 ms.
        for k in range(3):
            self.expect("2", "left.ch2", 3.150 + k * 0.020, 3.135 + (k + 1) * 0.010)
        self.expect("2", "left.ch2", 3.210, 3.135)
        self.expect("2", "left.ch1", 3.210, 1.2)

    def test_segment_2_together(self):
        # Branch 1 down to 1.1 V at 3400 ms and up again at 3550 ms; branch 2 from 3.2 V at 3250 ms to 3.3 V at 3590 ms.
        self.expect("2", "left.ch1", 3.400, 1.1)
        self.expect("2", "left.ch1", 3.550, 1.2)
        self.expect("2", "left.ch2", 3.250, 3.2)
        self.expect("2", "left.ch2", 3.289, 3.2)
        self.expect("2", "left.ch2", 3.590, 3.3)
        lines = [(row["time_s"], row["output"]) for row in self.table.rows["2", "left.line5"]]
        self.assertEqual(lines, [("3.250000000", "1"), ("3.350000000", "0")])
        lines = [(row["time_s"], row["output"]) for row in self.table.rows["2", "left.line1"]]
        self.assertEqual(lines, [("3.250000000", "1"), ("4.000000000", "0")])

    def test_segment_2_track(self):
        # core rises by 60 mV within 100 ms from 3590 ms; heater follows by the same amount, half in each channel. Then
        # both are set back at once: at 3690 ms only the last value stands in the table.
        self.expect("2", "left.ch1", 3.640, 1.230)
        for channel in ("left.ch3", "left.ch4"):
            self.expect("2", channel, 3.640, 24.015)
            self.expect("2", channel, 3.690, 24)
        self.expect("2", "left.ch1", 3.690, 1.2)

    def test_segment_3(self):
        # 2 s hold six passes of 300 ms: io at 3.2 V for 150 ms and at 3.3 V for 150 ms.
        for k in range(6):
            self.expect("3", "left.ch2", k * 0.3, 3.2)
            self.expect("3", "left.ch2", k * 0.3 + 0.15, 3.3)
        # Two blinks from 1800 ms on: 20 ms high, 30 ms low.
        lines = [(float(row["time_s"]), row["output"]) for row in self.table.rows["3", "left.line1"]]
        self.assertEqual(lines, [(1.8, "1"), (1.82, "0"), (1.85, "1"), (1.87, "0")])
        self.assertAlmostEqual(self.table.times("3", "left.ch1")[-1], 1.9)

    def expect_pump(self, segment, time, voltage, current):
        # In parallel both channels stand at the voltage and share the current limit evenly.
        for channel in ("left.ch5", "left.ch6"):
            self.expect(segment, channel, time, voltage, current / 2)

    def test_segment_4(self):
        # 12 V at 24 V/s: 50 stairs of 10 ms and 240 mV; where it arrives, a step follows at once.
        for k in range(50):
            self.expect_pump("4", k * 0.010, k * 0.240, 2)
        for k, level in enumerate((11, 10, 9, 11, 10, 9)):
            self.expect_pump("4", 0.500 + k * 0.100, level, 2)
        self.expect_pump("4", 1.100, 9, 1.5)
        # At 1 V/s: io arrives after 200 ms, pump after 3 s.
        self.expect("4", "left.ch2", 1.300, 3.4)
        self.expect("4", "left.ch2", 1.400, 3.5)
        self.expect("4", "left.ch2", 4.199, 3.5)
        self.expect("4", "left.ch2", 4.200, 3.3)
        self.expect_pump("4", 2.700, 10.5, 1.5)
        self.expect_pump("4", 4.190, 11.99, 1.5)
        # Two steps of a volt, and up again within 200 ms.
        self.expect_pump("4", 4.200, 11, 1.5)
        self.expect_pump("4", 4.250, 10, 1.5)
        self.expect_pump("4", 4.400, 11, 1.5)
        self.expect_pump("4", 4.500, 11.9, 1.5)
        self.expect_pump("4", 4.540, 12, 1.5)
        self.expect("4", "left.ch2", 4.500, 3.2)
        self.expect("4", "left.ch2", 4.540, 3.3)
        lamp = [(float(row["time_s"]), row["output"]) for row in self.table.rows["4", "left.line5"]]
        self.assertEqual(lamp, [(4.25, "1"), (4.3, "0")])
        shutter = [(float(row["time_s"]), row["output"]) for row in self.table.rows["4", "left.line1"]]
        self.assertEqual(shutter, [(4.6, "1")])

    def test_segments_5_and_6(self):
        self.assertAlmostEqual(self.table.times("5", "left.ch1")[-1], 0.02)
        for segment, edges in (("5", [(0, "0"), (0.02, "1")]), ("6", [(0, "0")])):
            shutter = [(float(row["time_s"]), row["output"]) for row in self.table.rows[segment, "left.line1"]]
            self.assertEqual(shutter, edges)
        # io down within 300 ms from 20 ms, 150 ms more; core at 6 V/s from 470 ms: 200 ms; the rest within 1 s.
        self.expect("6", "left.ch2", 0.320, 0)
        self.expect("6", "left.ch1", 0.460, 1.2)
        self.expect("6", "left.ch1", 0.670, 0)
        self.expect("6", "left.ch3", 0.670, 24)
        self.expect("6", "left.ch3", 1.670, 0)
        self.expect("6", "right.ch1", 1.670, 0)
        self.expect_pump("6", 0.670, 12, 1.5)
        self.expect_pump("6", 1.670, 0, 1.5)
        self.assertAlmostEqual(self.table.times("6", "left.ch1")[-1], 1.67)

    def test_segment_7_and_safe(self):
        for channel in ("left.ch1", "left.ch2", "left.ch3", "left.ch4", "left.ch5", "left.ch6", "right.ch1"):
            self.expect("7", channel, 0, 0, output=0)
        # The stop does not know where a trip left the setpoints, so it leaves them alone.
        stop = {channel: rows for (segment, channel), rows in self.table.rows.items() if segment == "safe"}
        switched = {channel: next(float(row["time_s"]) for row in rows if row["output"] == "0")
                    for channel, rows in stop.items()}
        self.assertEqual(switched, {"left.ch3": 0, "left.ch4": 0, "left.ch5": 0, "left.ch6": 0,
                                    "left.ch2": 0.02, "right.ch1": 0.02, "left.ch1": 0.04})
        self.assertEqual({row["voltage_V"] for rows in stop.values() for row in rows}, {""})

    def test_simulated_figures(self):
        answer = self.simulation
        # Segments and waits in turn; the last wait is for a condition that holds at once.
        self.assertAlmostEqual(answer["duration_s"],
                               2.4 + 10 + 4 + 1.5 + 1.9 + 2 + 4.6 + 0.5 + 0.02 + 0.5 + 1.67, 9)
        rails = answer["rails"]
        # Remote sense keeps the load, 10 Ohm, at the setpoint: 1.26 V draw 126 mA at most.
        self.assertAlmostEqual(rails["core"]["peak_current_A"], 1.26 / 10, 9)
        # At the terminals the drop along 50 mOhm comes on top.
        self.assertAlmostEqual(rails["core"]["peak_voltage_V"], 1.26 + 0.126 * 0.05, 9)
        self.assertAlmostEqual(rails["io"]["peak_current_A"], 3.5 / 33, 9)
        self.assertAlmostEqual(rails["bias"]["peak_power_W"], 5 * 5 / 1000, 9)
        # The highest stair that heater stands at while it tracks core: 48 V and nine tenths of 60 mV.
        self.assertAlmostEqual(rails["heater"]["peak_power_W"], 48.054**2 / 100, 6)
        for rail in rails.values():
            self.assertEqual(rail["trip"], None)
            self.assertEqual(rail["cc_time_s"], 0)
        # 12 V into 12 Ohm.
        self.assertAlmostEqual(rails["pump"]["peak_power_W"], 12, 9)
        # bias, linear: rises within 1.2 s, stands from 1.83 s of segment 1 until 670 ms of segment 6, falls within 1 s.
        # A ramp to V over T into R takes V²·T/(3·R), the level V²·t/R (Joule's law).
        standing = (2.4 - 1.83) + 10 + 4 + 1.5 + 1.9 + 2 + 4.6 + 0.5 + 0.02 + 0.5 + 0.67
        # The point at 640 ms is 1.67 mV low for being a count of 10 mV: that takes 3.4 uJ away.
        self.assertAlmostEqual(rails["bias"]["energy_J"], 25 / 1000 * (1.2 / 3 + standing + 1.0 / 3), delta=4e-6)

    def test_rules_and_expectations_hold(self):
        rules = self.simulation["rules"]
        names = re.findall(r'(?m)^rule "([^"]+)"', (FOLDER / PROFILE).read_text(encoding="utf-8"))
        self.assertEqual({rule["name"] for rule in rules}, set(names))
        for rule in rules:
            self.assertTrue(rule["holds"], rule)
        margins = {(rule["name"], rule["side"]): rule["margin"] for rule in rules}
        # 5 V within 1 s are 5 V/s, of the 6 V/s that may be.
        self.assertAlmostEqual(margins["bias moves gently", "setpoints"], 1, 9)
        # From 0.1 V to 1.1 V at 5 V/s takes 200 ms of 300 ms. Off go 1 ms of skew and, at 5 V/s, half a stair of 50 mV at
        # either level and the errors of 0.05 % + 2 mV there.
        errors = 2 * 0.025 + (0.0005 * 0.1 + 0.002) + (0.0005 * 1.1 + 0.002)
        self.assertAlmostEqual(margins["core rises cleanly", "setpoints"], 0.3 - 0.2 - 0.001 - errors / 5, 6)
        for expectation in self.simulation["expectations"]:
            self.assertTrue(expectation["holds"], expectation)


if __name__ == "__main__":
    unittest.main()
