"""What the tests of the command line share: a folder with a small bench, and the program run in it."""
import pathlib
import subprocess
import sys
import tempfile
import unittest

from sanitized import SECONDS

PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
BENCH = """bench: One supply
supplies:
  bench:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 20 V, resolution: 1 mV}
        current: {range: 0 A .. 2 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 22 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 50 W}
"""
# 5 V for one second into 10 Ohm: 0.5 A, 0.5 C, 2.5 J (Ohm's and Joule's law).
LOAD = "load: A resistor\nrails: {core: {elements: [{kind: resistor, resistance: 10 Ohm}]}}\n"
PROFILE = """profile "Five volts"
bench "one.bench.yaml"
load "one.load.yaml"
param level = 5 V in 1 V .. 10 V
rail core on bench.ch1
protect core { overvoltage 12 V; fuse after 50 ms; overpower 4 W }
run {
  limit core to 1 A
  on core
  step core to level
  dwell 1 s
  mark "end"
  off core
}
expect no trip
expect voltage(core) at "end" >= 4.9 V
"""


SKIPPED = 77  # what CTest shows as a skip


def main():
    """Runs the tests of the script. Where one is skipped and none fails, the script as a whole counts as skipped."""
    done = unittest.main(exit=False).result
    for test, why in done.skipped:
        print("skipped: %s: %s" % (test, why), file=sys.stderr)
    if not done.wasSuccessful():
        sys.exit(1)
    sys.exit(SKIPPED if done.skipped else 0)


class InFolder(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        self.write("one.bench.yaml", BENCH)
        self.write("one.load.yaml", LOAD)
        self.write("one.ramp", PROFILE)

    def write(self, name, text):
        (self.folder / name).write_bytes(text.encode())

    def run_it(self, *arguments, stdin="", stdout=subprocess.PIPE):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, input=stdin.encode(), stdout=stdout,
                              stderr=subprocess.PIPE, timeout=SECONDS)
