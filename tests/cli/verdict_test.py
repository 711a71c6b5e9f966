#!/usr/bin/env python3
"""The verdict against all that stands below it, over the library and over random runs. usage: verdict_test.py PROGRAM"""
import json
import pathlib
import random
import unittest

import program
from program import BENCH, InFolder

PROFILES = pathlib.Path(__file__).resolve().parents[2] / "profiles"
RUNS = 120
# What warns of a rail that is not where it should be by the next change, and so stands behind a negative settling time.
UNSETTLED = {"not-settled", "cannot-sink", "left-charged", "residual-at-on"}


class Verdict(InFolder):
    def judge(self, profile, *options):
        done = self.run_it("simulate", str(profile), "--format", "json", *options)
        answer = json.loads(done.stdout)
        passes = answer["verdict"]["pass"]
        errors = [found["name"] for found in answer["findings"] if found["severity"] == "error"]
        names = {found["name"] for found in answer["findings"]}
        self.assertEqual(passes, not errors, answer["verdict"]["text"])
        self.assertEqual(passes, done.returncode == 0)
        if "rails" not in answer:
            return passes
        trips = [name for name, rail in answer["rails"].items() if rail["trip"]]
        self.assertFalse(passes and trips, trips)
        for margin in answer["margins"]:
            # A threshold of power may be exceeded for less than its delay, which has a margin of its own.
            if not passes or margin["margin"] >= -1e-9 * margin["limit"] or margin["what"] == "overpower-level":
                continue
            self.assertEqual(margin["what"], "settling")
            self.assertTrue(names & UNSETTLED, names)
        self.look_at_reached(answer)
        shares = [tight["margin"] / tight["limit"] for tight in answer["verdict"]["tightest"] if tight["limit"]]
        self.assertEqual(shares, sorted(shares))
        return passes

    def look_at_reached(self, answer):
        """What is used up without a trip is told, among the tightest margins or beside them, and nothing else is."""
        told = answer["verdict"]["reached"]
        tight = [(one["what"], one["rail"]) for one in answer["verdict"]["tightest"]]
        cannot_act = {line.split(":")[0] for line in answer["verdict"]["not_judged"]}
        expected = set()
        for margin in answer["margins"]:
            rail = margin["rail"]
            if rail is None or answer["rails"][rail]["trip"] or (margin["what"], rail) in tight:
                continue
            if margin["what"] == "current-limit" and answer["rails"][rail]["cc_time_s"] > 0:
                expected.add("current limit of %s: reached for " % rail)
            if margin["what"] == "overpower-level" and margin["margin"] < -1e-9 * margin["limit"] and \
                    "overpower headroom of " + rail not in cannot_act:
                expected.add("overpower threshold of %s: exceeded by " % rail)
        for words in expected:
            self.assertTrue(any(line.startswith(words) for line in told), (words, told))
            self.reached[words.split(" of ")[0]] = self.reached.get(words.split(" of ")[0], 0) + 1
        if "corners" not in answer:
            self.assertEqual(len(told), len(expected), told)

    def setUp(self):
        super().setUp()
        self.reached = {}

    def test_limits_that_are_reached_without_a_trip(self):
        self.write("one.load.yaml", "load: x\nrails: {core: {wire: 50 mOhm, elements: ["
                   "{kind: capacitor, capacitance: 1 mF, esr: 40 mOhm}, {kind: resistor, resistance: 100 Ohm}]}}\n")
        self.write("one.bench.yaml", BENCH.replace("overpower: 1 W .. 50 W", "overpower: 1 W .. 50 W, overpower_delay: 0 s .. 1 s"))
        # A jump to 5 V charges 1 mF at the limit of 1 A: C V / I = 5 ms, a little more for what the resistor takes and a
        # little less for what wire and esr drop. From 2 V on that is more than 2 W, up to 5 W, for 3 of these 5 ms. Both
        # are over before fuse and overpower protection act.
        self.write("step.ramp", """bench "one.bench.yaml"
load "one.load.yaml"
rail core on bench.ch1
protect core { overvoltage 6 V; fuse after 50 ms; overpower 2 W after 100 ms }
run { limit core to 1 A; on core; step core to 5 V; dwell 1 s; ramp core to 0 V over 1 s; dwell 100 ms; off core }
safe { off core }
""")
        self.assertTrue(self.judge("step.ramp"))
        self.assertEqual(self.reached, {"current limit": 1, "overpower threshold": 1})
        text = self.run_it("check", "step.ramp").stdout.decode()
        self.assertRegex(text, r"limits reached, without a trip\n"
                         r"  overpower threshold of core: exceeded by 3 W, for up to 3\.\d+ ms \(it acts after 100 ms\), "
                         r"at 5\.0\d+ ms, line 5\n"
                         r"  current limit of core: reached for 5\.0\d+ ms in total \(its fuse acts after 50 ms\), at 0 s, line 5\n")

    def test_library(self):
        profiles = sorted(path for path in PROFILES.rglob("*.ramp") if "templates" not in path.parts)
        self.assertGreater(len(profiles), 50)
        for profile in profiles:
            with self.subTest(profile=profile.name):
                self.judge(profile)

    def test_random_runs(self):
        self.write("one.bench.yaml", BENCH.replace("channels:", "power: 20 W\n    channels:"))
        counts = {True: 0, False: 0}
        for seed in range(RUNS):
            draw = random.Random(seed)
            volts, amps = draw.choice([2, 5, 9, 12]), draw.choice([0.3, 0.8, 1.5, 2])
            elements = ["{kind: resistor, resistance: %d Ohm}" % draw.choice([4, 10, 30, 100])]
            if draw.random() < 0.6:
                elements.append("{kind: capacitor, capacitance: %d uF, esr: 50 mOhm}" % draw.choice([47, 470, 2200]))
            if draw.random() < 0.4:
                elements.append("{kind: pulsed_current, current: %g A, on: %d ms, period: %d ms}"
                                % (draw.choice([0.2, 0.8, 2]), draw.randint(1, 40), draw.randint(60, 300)))
            self.write("one.load.yaml", "load: x\nrails:\n  core: {wire: 100 mOhm, elements: [%s]}\n" % ", ".join(elements))
            steps = []
            for _ in range(draw.randint(1, 4)):
                level = draw.choice([volts, volts / 2, 0])
                steps.append(draw.choice(["ramp core to %g V over %d ms" % (level, draw.choice([20, 100, 1000])),
                                          "step core to %g V" % level]))
                steps.append("dwell %d ms" % draw.choice([10, 50, 500]))
            self.write("random.ramp", "\n".join(
                ['bench "one.bench.yaml"', 'load "one.load.yaml"', "rail core on bench.ch1",
                 "protect core { overvoltage %g V; fuse after %d ms; overpower %g W }"
                 % (volts * 1.2 + 1, draw.choice([10, 50, 200]), max(1, round(volts * amps * draw.choice([0.3, 0.6, 0.9])))),
                 "expect peak_current(core) <= %g A" % (amps * draw.choice([0.5, 1.1])),
                 "run {", "limit core to %g A" % amps, "on core"] + steps +
                ["ramp core to 0 V over 100 ms", "dwell 100 ms", "off core", "}", "safe { off core }", ""]))
            with self.subTest(seed=seed):
                counts[self.judge("random.ramp", *(["--corners"] if seed % 7 == 0 else []))] += 1
        self.assertGreater(min(counts.values()), RUNS // 10, counts)


if __name__ == "__main__":
    program.main()
