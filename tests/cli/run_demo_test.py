#!/usr/bin/env python3
"""The tide gauge example on supplies of the loopback address: rehearsal, demo, burn-in, and what happens to it.
usage: run_demo_test.py PROGRAM
"""
import csv
import json
import os
import pathlib
import re
import shutil
import subprocess
import unittest

from program import PROGRAM, InFolder, main
from pseudo_terminal import run_with_answers
from supplies import LoopbackSupply

EXAMPLE = pathlib.Path(__file__).resolve().parents[2] / "profiles/tide-gauge"
BENCH = "two-supplies-held.bench.yaml"
# What logger.load.yaml has on each rail: leads and the resistance in series with the capacitor, added up; and the slew rate
# that the bench file has for each output, in V/s.
LOGIC = {"ohm": 12.0, "farad": 330e-6, "series": 0.11, "slew": 1000.0}
RADIO = {"ohm": 48.0, "farad": 220e-6, "series": 0.16, "slew": 1000.0}
# What resistors.load.yaml has.
RESISTORS = {"ohm": 12.0, "series": 0.06}, {"ohm": 48.0, "series": 0.08}
# The strict reader of program messages.
REPLAY = os.environ.get("RAMPART_SCPI_REPLAY")
# Lines that a terminal shows again and again.
STATUS = re.compile(r"(\x1b\[\d+F\x1b\[J)?rail |logic  o|radio  o|segment 1,|next: ")
# A busy machine is late, and a late run is not what these tests are about.
LATE = ("--max-late", "20s")
YES = [("Type yes to go on:", "yes")]


class TideGauge(InFolder):
    def setUp(self):
        super().setUp()
        shutil.copytree(EXAMPLE, self.folder, dirs_exist_ok=True)
        # A busy machine does not sustain rows 20 ms apart.
        self.edit(BENCH, "minimum_step: 20 ms", "minimum_step: 100 ms")

    def edit(self, name, *changes):
        text = (self.folder / name).read_text()
        for old, new in zip(changes[::2], changes[1::2]):
            self.assertIn(old, text)
            text = text.replace(old, new)
        self.write(name, text)

    def supplies(self, logic, radio, is_wired=True, **more):
        self.left = LoopbackSupply(self, self.folder, "left", serial="A1001", loads=[logic, {}], **more)
        self.right = LoopbackSupply(self, self.folder, "right", serial="B2002", loads=[radio], **more)
        if is_wired:
            self.left.wire(self.right)
        # What the link file leaves to a person.
        self.left.do("set", channel=1, values={"fuse_delay": 0.02, "opp_delay": 0.1})
        self.right.do("set", channel=1, values={"fuse_delay": 0.05, "opp_delay": 0.1})
        self.edit("two-supplies.link.yaml", "192.0.2.21, port: 5025", "127.0.0.1, port: " + self.left.place,
                  "192.0.2.22, port: 5025", "127.0.0.1, port: " + self.right.place)

    def build(self, profile):
        done = self.run_it("build", profile, "--bench", BENCH, "--as", "json", "-o", "table.json")
        self.assertEqual(done.returncode, 0, done.stderr.decode())

    def play(self, answers=YES):
        code, text = run_with_answers([PROGRAM, "run", "table.json", "--bench", BENCH, "--link", "two-supplies.link.yaml", "--log",
                                       "run.csv", *LATE], self.folder, answers)
        return code, "\n".join(line for line in text.split("\n") if not STATUS.match(line))

    def log(self):
        return list(csv.DictReader((self.folder / "run.csv").read_text().splitlines()))

    def events(self):
        return [row["text"] + (" (%s)" % row["channel"] if row["channel"] else "") for row in self.log() if row["kind"] == "event"]

    def end(self):
        """Why the run ended, as its record has it."""
        return json.loads((self.folder / "run.csv.run.json").read_text())["end"]["reason"]

    def evaluate(self, profile, *arguments):
        done = self.run_it("evaluate", profile, "--bench", BENCH, "--log", "run.csv", *LATE, *arguments)
        return done.returncode, done.stdout.decode() + done.stderr.decode()

    def check_all_off(self):
        for supply in (self.left, self.right):
            self.assertEqual(supply.ask("OUTPut1:STATe?"), "0")
            self.assertEqual(supply.violations(), [])
            self.replay(supply)

    def replay(self, supply):
        """All that was sent, through the strict reader of program messages."""
        if REPLAY is None:
            return
        done = subprocess.run([REPLAY, "2"], input="\n".join(supply.messages()) + "\n", capture_output=True, text=True, timeout=60)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)


class Demo(TideGauge):
    def test_a_rehearsal_on_resistors(self):
        done = self.run_it("simulate", "power-up.ramp", "--bench", BENCH, "--load", "resistors.load.yaml")
        self.assertTrue(done.stdout.startswith(b"PASS"), done.stdout.decode())
        self.supplies(*RESISTORS)
        self.build("power-up.ramp")
        code, text = self.play()
        self.assertEqual(code, 0, text)
        code, text = self.evaluate("power-up.ramp", "--load", "resistors.load.yaml")
        self.assertEqual(code, 0, text)
        self.check_all_off()

    def test_the_power_up(self):
        self.supplies(LOGIC, RADIO)
        self.build("power-up.ramp")
        code, text = self.play()
        self.assertEqual(code, 0, text)
        self.assertIn("set by hand at the supplies:", text)
        self.assertIn("the switch-off of `left.ch1` by the fuse of `right.ch1`; link `cable`, wired, within 10 ms", text)
        self.assertEqual(self.events(), ["start", "segment 1", "mark logic up", "mark nominal", "end played to its end"])
        code, text = self.evaluate("power-up.ramp", "--corners")
        self.assertEqual(code, 0, text)
        self.assertIn("PASS: the bench played what was reviewed, and the device behaved as predicted", text)
        self.check_all_off()
        table = json.loads((self.folder / "table.json").read_text())
        record = json.loads((self.folder / "run.csv.run.json").read_text())
        self.assertEqual(record["origin"], table["origin"])

    def test_a_short_takes_the_other_rail_along(self):
        self.check_a_short()

    def test_a_short_that_shows_on_the_other_rail_first(self):
        self.check_a_short(left="20 ms", right="600 ms")
        self.assertIn("right.ch1 tripped: fuse; left.ch1 went off with it", self.end())

    def test_a_short_that_shows_on_its_own_rail_first(self):
        self.check_a_short(left="600 ms", right="20 ms")

    def check_a_short(self, left="100 ms", right="100 ms"):
        """Whichever supply is asked first, the end names the fuse that acted."""
        self.edit("two-supplies.link.yaml", "{ch1: 1, ch2: 2}\n    monitor: 100 ms", "{ch1: 1, ch2: 2}\n    monitor: " + left,
                  "{ch1: 1}\n    monitor: 100 ms", "{ch1: 1}\n    monitor: " + right)
        self.supplies(LOGIC, dict(RADIO, ohm=0.5))
        self.build("power-up.ramp")
        code, text = self.play()
        self.assertEqual(code, 1, text)
        self.assertTrue(self.end().startswith("right.ch1 tripped: fuse"), text)
        self.assertIn("\nended early: " + self.end(), text)
        self.assertIn("2 outputs confirmed off\n", text)
        self.assertIn("trip fuse (right.ch1)", self.events())
        self.assertIn("trip linked (left.ch1)", self.events())
        self.assertNotIn("link still on (left.ch1)", self.events())
        self.assertIn("safe", self.events())
        self.check_all_off()

    def test_a_cable_that_was_forgotten(self):
        self.supplies(LOGIC, dict(RADIO, ohm=0.5), is_wired=False)
        self.build("power-up.ramp")
        code, text = self.play()
        self.assertEqual(code, 1, text)
        self.assertIn("right.ch1 tripped: fuse; its link had not switched left.ch1 off when the run asked, so the run did\n", text)
        self.assertIn("link still on (left.ch1)", self.events())
        self.assertIn("2 outputs confirmed off\n", text)
        self.check_all_off()


class BurnIn(TideGauge):
    """Ten passes of ten minutes on supplies whose clock runs 200 times as fast as this computer's."""

    SPEED = 200

    def setUp(self):
        super().setUp()
        self.edit("burn-in.ramp", "let rise = 1 s", "let rise = 400 ms", "let fall = 1 s", "let fall = 400 ms",
                  "let cycle = 10 min", "let cycle = 3 s", "let running = 8 min", "let running = 600 ms",
                  "repeat for 48 h", "repeat for 30 s")

    def test_ten_passes(self):
        self.supplies(LOGIC, RADIO, speed=self.SPEED)
        self.build("burn-in.ramp")
        code, text = self.play()
        self.assertEqual(code, 0, text)
        self.check_all_off()
        for supply in (self.left, self.right):
            self.assertEqual(supply.messages().count("OUTPut1:STATe ON"), 10)
        warm = [float(row["measured_A"]) for row in self.log() if row["kind"] == "reading" and row["channel"] == "right.ch1" and
                row["set_V"] == "12" and row["output"] == "1"]
        # Ohm's law: 12 V across 48 Ohm and 0.16 Ohm.
        self.assertAlmostEqual(max(warm), 12 / 48.16, places=5)
        code, text = self.evaluate("burn-in.ramp")
        self.assertIn("  sequence: PASS, ", text)

    def test_a_device_that_fails_in_the_middle(self):
        self.supplies(LOGIC, dict(RADIO, fails_at=5 * 600.0, becomes={"ohm": 0.5}), speed=self.SPEED)
        self.build("burn-in.ramp")
        code, text = self.play()
        self.assertEqual(code, 1, text)
        self.assertIn("right.ch1 tripped: fuse", text)
        self.assertIn("2 outputs confirmed off\n", text)
        self.assertGreater(self.right.messages().count("OUTPut1:STATe ON"), 3)
        self.assertLess(self.right.messages().count("OUTPut1:STATe ON"), 10)
        self.check_all_off()

    def test_two_days_need_a_watchdog_or_a_word(self):
        shutil.copy(EXAMPLE / "burn-in.ramp", self.folder)
        self.build("burn-in.ramp")
        arguments = ("run", "table.json", "--bench", BENCH, "--link", "two-supplies.link.yaml", "--log", "run.csv")
        done = self.run_it(*arguments)
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"[no-watchdog]", done.stderr)
        self.assertFalse((self.folder / "run.csv").exists())


if __name__ == "__main__":
    main()
