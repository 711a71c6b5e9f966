#!/usr/bin/env python3
"""Help that leads out: whoever does what the hints say, comes to a profile that passes. usage: hints_test.py PROGRAM"""
import json
import re

from program import InFolder, main

# Overpower protection without a delay, as a channel may have it.
BENCH = """bench: One supply
supplies:
  left:
    timing: {minimum_step: 10 ms, resolution: 10 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV}
        current: {range: 0 A .. 2.5 A, resolution: 1 mA}
        protection: {overvoltage: 0.5 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s%s}
"""
LOAD = """load: A capacitor and a resistor
rails: {logic: {wire: 200 mOhm, elements: [{kind: capacitor, capacitance: 2.2 mF, esr: 50 mOhm}, {kind: resistor, resistance: 12 Ohm}]}}
"""
PROFILE = """bench "hints.bench.yaml"
load "hints.load.yaml"
rail logic on left.ch1
protect logic { overvoltage 3.8 V; fuse after 50 ms; overpower 1.2 W after 20 ms }
run {
  limit logic to 1 A
  on logic
  %s
  dwell 100 ms
  ramp logic to 0 V over 1 s
  dwell 100 ms
  off logic
}
"""


# Each of these once led to another one of them.
CHAIN = ("protection-unsupported", "trip-predicted", "overpower-never-acts", "no-overpower")


class Hints(InFolder):
    def check(self, text):
        self.write("hints.ramp", text)
        done = self.run_it("check", "--format", "json", "hints.ramp")
        self.assertIn(done.returncode, (0, 1), done.stderr)
        return [one for one in json.loads(done.stdout)["profiles"][0]["findings"] if one["severity"] != "note"]

    def follow(self, text, finding):
        """The text once more, with what the hint of the finding says done in it."""
        hint = finding["hint"]
        protection = re.compile(r"; overpower [^;}]*")
        accept = re.search("`(accept .*)`", hint)
        if "leave out `after`" in hint:
            return re.sub(r"(overpower [\d.]+ W) after [\d.]+ ms", r"\1", text)
        value = re.search(r"([\d.]+ m?W) or more does not trip here", hint)
        if value:
            return protection.sub("; overpower %s " % value[1], text)
        self.assertIsNotNone(accept, hint)
        return protection.sub(" ", text).replace("run {", accept[1].replace("…", "the load may draw this") + "\nrun {")

    def rounds(self, step):
        self.write("hints.bench.yaml", BENCH % ", overpower: 0 W .. 50 W")
        self.write("hints.load.yaml", LOAD)
        text = PROFILE % step
        names = []
        while findings := [one for one in self.check(text) if one["name"] in CHAIN]:
            names.append(findings[0]["name"])
            self.assertLess(len(names), 6, names)
            changed = self.follow(text, findings[0])
            self.assertNotEqual(changed, text, findings[0])
            text = changed
        return names

    def test_overpower_without_a_delay(self):
        # A stair of 33 mV into 250 mOhm adds 0.13 A to the 0.27 A of the resistor: 1.3 W at 3.3 V, more than 1.2 W and
        # less than setpoint times limit, 3.3 W.
        self.assertEqual(self.rounds("ramp logic to 3.3 V over 1 s"), ["protection-unsupported", "trip-predicted"])

    def test_overpower_with_a_delay(self):
        # 2.2 mF at 1 A less what the resistor takes are above 1.2 W for 5 ms to 10 ms, the steps of the channel.
        self.write("hints.bench.yaml", BENCH % ", overpower: 0 W .. 50 W, overpower_delay: 0 s .. 8 s step 5 ms")
        self.write("hints.load.yaml", LOAD)
        text = (PROFILE % "step logic to 3.3 V").replace("after 20 ms", "after 5 ms")
        hint = next(one["hint"] for one in self.check(text) if one["name"] == "trip-predicted")
        self.assertIn("`after 10 ms` or longer does not trip here", hint)
        self.assertNotIn("trip-predicted", [one["name"] for one in self.check(text.replace("after 5 ms", "after 10 ms"))])

    def test_no_threshold_is_left(self):
        # The step charges at the limit up to 3.3 V: setpoint times limit is drawn.
        names = self.rounds("step logic to 3.3 V")
        self.assertEqual(names, ["protection-unsupported", "trip-predicted"])

    def test_a_threshold_that_never_acts(self):
        self.write("hints.bench.yaml", BENCH % ", overpower: 0 W .. 50 W")
        self.write("hints.load.yaml", LOAD)
        text = (PROFILE % "ramp logic to 3.3 V over 1 s").replace("1.2 W after 20 ms", "4 W")
        findings = self.check(text)
        self.assertEqual([one["name"] for one in findings], ["overpower-never-acts"])
        self.assertEqual(self.check(self.follow(text, findings[0])), [])

    def test_a_protection_that_the_bench_lacks(self):
        self.write("hints.bench.yaml", BENCH % "")
        self.write("hints.load.yaml", LOAD)
        text = PROFILE % "ramp logic to 3.3 V over 1 s"
        findings = self.check(text)
        self.assertEqual([one["name"] for one in findings], ["protection-unsupported"])
        self.assertIn("add `overpower` under `protection:` of this channel in the bench file", findings[0]["hint"])
        text = text.replace("; overpower 1.2 W after 20 ms", "")
        findings = self.check(text)
        self.assertEqual([one["name"] for one in findings], ["no-overpower"])
        self.assertEqual(self.check(self.follow(text, findings[0])), [])

    def test_stairs_that_draw_too_much(self):
        self.write("hints.bench.yaml", (BENCH % ", overpower: 0 W .. 50 W, overpower_delay: 0 s .. 8 s")
                   .replace("minimum_step: 10 ms", "minimum_step: 20 ms"))
        self.write("hints.load.yaml", LOAD.replace("200 mOhm", "40 mOhm").replace("2.2 mF, esr: 50 mOhm", "470 uF, esr: 20 mOhm")
                   .replace("resistor, resistance: 12 Ohm", "constant_current, current: 600 mA"))
        text = (PROFILE % "ramp logic to 1.8 V at 9 V/s").replace("1.2 W", "1.6 W")
        findings = self.check(text)
        self.assertEqual([one["name"] for one in findings], ["current-limited"])
        # 9 V/s x 20 ms = 180 mV, 3 A through 60 mOhm. 1 A less 600 mA leaves 400 mA x 60 mOhm = 24 mV, two counts of
        # 10 mV in 20 ms: 1 V/s.
        self.assertIn(": each stair of 180 mV draws 3 A through the 60 mOhm of wire and esr, in addition to the 600 mA of the "
                      "load; ramps up to 1 V/s stay below 1 A", findings[0]["hint"])
        text = text.replace("at 9 V/s", "at 1 V/s")
        self.assertEqual(self.check(text), [])
        # Two counts draw 333 mA and 600 mA.
        expecting = text.replace("run {", "expect peak_current(logic) <= 900 mA\nrun {")
        findings = self.check(expecting)
        self.assertEqual([one["name"] for one in findings], ["expectation-failed"])
        self.assertRegex(findings[0]["message"], r"it is 933\.\d+ mA at [\d.]+ m?s, line 9, violated by 33\.\d+ mA")
        self.assertEqual([note["line"] for note in findings[0]["notes"]], [9])
        slope = re.search(r"ramps up to ([\d.]+ m?V/s) stay below 900 mA", findings[0]["hint"])[1]
        self.assertEqual(slope, "500 mV/s")  # one count in 20 ms; 18 mV would be room for it, and not for two
        self.assertEqual(self.check(expecting.replace("at 1 V/s", "at " + slope)), [])

    def test_what_is_not_due_to_stairs(self):
        self.write("hints.bench.yaml", BENCH % ", overpower: 0 W .. 50 W, overpower_delay: 0 s .. 8 s")
        self.write("hints.load.yaml", LOAD)
        # A step has no stairs, and 2.2 mF at 1 V/ms draw 2.2 A as a ramp without stairs would.
        for move in ("step logic to 3.3 V", "ramp logic to 3.3 V at 1000 V/s"):
            findings = [one for one in self.check(PROFILE % move) if one["name"] == "current-limited"]
            self.assertEqual(len(findings), 1, move)
            self.assertNotIn("stair", findings[0]["hint"])

    def test_a_wait_for_a_voltage(self):
        self.write("hints.bench.yaml", BENCH % ", overpower: 0 W .. 50 W, overpower_delay: 0 s .. 8 s")
        self.write("hints.load.yaml", LOAD)
        text = PROFILE % "ramp logic to 3.3 V over 1 s\n  wait until logic >= 3.2 V"
        findings = self.check(text)
        self.assertEqual([one["name"] for one in findings], ["syntax"])
        instead = re.search("`(await [^`]*)`", findings[0]["hint"])
        self.assertEqual(instead[1], "await logic >= 3.2 V within 10 ms")
        self.assertEqual(self.check(text.replace("wait until logic >= 3.2 V", instead[1])), [])

    def test_a_load_file_as_one_guesses_it(self):
        self.write("hints.bench.yaml", BENCH % ", overpower: 0 W .. 50 W, overpower_delay: 0 s .. 8 s")
        load = LOAD.replace("2.2 mF", "2.2 mF, tolerance: 20 %").replace("{kind: resistor, resistance: 12 Ohm}",
                                                                        "{kind: constant_power, power: 1 W}")
        self.write("hints.load.yaml", load)
        text = PROFILE % "ramp logic to 3.3 V over 1 s"
        findings = self.check(text)
        self.assertEqual([one["name"] for one in findings], ["unknown-key", "bad-value"])
        done = self.run_it("check", "hints.ramp")
        self.assertIn("currents, trips and margins: not simulated, the load file has errors", done.stdout.decode())
        value = re.search("write `(capacitance: [^`]*)`", findings[0]["hint"])[1]
        part = re.search("`({kind: constant_power[^`]*})`", findings[1]["hint"])[1]
        self.write("hints.load.yaml", load.replace("capacitance: 2.2 mF, tolerance: 20 %", value)
                   .replace("{kind: constant_power, power: 1 W}", part))
        self.assertFalse({one["name"] for one in self.check(text)} & {"unknown-key", "bad-value"})

    def test_a_load_file_that_is_not_there(self):
        self.write("hints.bench.yaml", BENCH % ", overpower: 0 W .. 50 W, overpower_delay: 0 s .. 8 s")
        self.write("hints.ramp", PROFILE % "ramp logic to 3.3 V over 1 s")
        (self.folder / "hints.load.yaml").unlink(missing_ok=True)
        self.assertNotIn("no load file is given", self.run_it("check", "hints.ramp").stdout.decode())

    def test_what_may_stand_there_is_listed(self):
        for text, words in (("banana \"x\"\n", ["profile", "bench", "load", "rail", "protect", "run", "safe", "rule", "expect"]),
                            ("run {\n  banana 1 s\n}\n", ["dwell", "ramp", "step", "limit", "repeat", "await"]),
                            ("rail core on b.ch1\nprotect core { limit 1 A }\n", ["ceiling", "overvoltage", "fuse", "overpower"]),
                            ("expect banana(core) <= 1 A\n", ["peak_current", "energy", "voltage"])):
            said = " ".join(one["message"] + " " + (one["hint"] or "") for one in self.check(text))
            for word in words:
                self.assertIn("`%s`" % word, said)


if __name__ == "__main__":
    main()
