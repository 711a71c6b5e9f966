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
