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
        shares = [tight["margin"] / tight["limit"] for tight in answer["verdict"]["tightest"] if tight["limit"]]
        self.assertEqual(shares, sorted(shares))
        return passes

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
