#!/usr/bin/env python3
"""The same bytes on one core and on all that there are. usage: threads_test.py PROGRAM"""
import os
import pathlib
import subprocess

from program import PROFILE, PROGRAM, InFolder, main
from sanitized import SECONDS

TIDE_GAUGE = pathlib.Path(__file__).resolve().parents[2] / "profiles/tide-gauge/power-up.ramp"
TOLERANT = """load: A resistor and a capacitor
rails: {core: {wire: 50 mOhm +- 20 %, elements: [{kind: resistor, resistance: 10 Ohm +- 10 %}, {kind: capacitor, capacitance: 100 uF +- 20 %, esr: 50 mOhm +- 20 %}]}}
faults: {shorted: {rail: core, at: mark end, becomes: [{kind: resistor, resistance: 100 mOhm}]}}
"""


class Threads(InFolder):
    def run_on(self, cores, arguments):
        limit = lambda: os.sched_setaffinity(0, cores)
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, preexec_fn=limit, capture_output=True, timeout=2 * SECONDS)

    def test_the_same_bytes_on_one_core_and_on_all(self):
        cores = os.sched_getaffinity(0)
        if len(cores) == 1:
            self.skipTest("there is one core")
        self.write("one.load.yaml", TOLERANT)
        self.write("long.ramp", PROFILE.replace("dwell 1 s", "\nrepeat 40000 { step core to 4 V; dwell 10 ms; step core to 5 V; dwell 10 ms }\n"))
        for arguments in (("check", "one.ramp", "--corners", "--format", "json"),
                          ("simulate", str(TIDE_GAUGE), "--sample", "40", "--format", "json"),
                          ("simulate", "one.ramp", "--sample", "300", "--format", "json"),
                          ("simulate", "one.ramp", "--every-fault", "--format", "json"),
                          ("check", "one.ramp", str(TIDE_GAUGE), "long.ramp", "one.ramp", "--format", "json"),
                          ("sweep", "one.ramp", "--format", "json"),
                          ("build", "long.ramp", "--as", "json", "-o", "-")):
            with self.subTest(arguments=arguments):
                one, many = self.run_on({min(cores)}, arguments), self.run_on(cores, arguments)
                self.assertIn(one.returncode, (0, 1), one.stderr)
                self.assertEqual((one.returncode, one.stdout, one.stderr), (many.returncode, many.stdout, many.stderr))


if __name__ == "__main__":
    main()
