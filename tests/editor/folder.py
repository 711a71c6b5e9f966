"""A folder with a profile that imports, its bench and its load, and a server in it."""
import pathlib
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
sys.path.insert(1, str(pathlib.Path(__file__).resolve().parents[1] / "cli"))
import client  # noqa: E402
from client import Client  # noqa: E402

PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
SKIPPED = 77
BENCH = """bench: One supply
supplies:
  left:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    lines: [line1]
    channels:
      ch1:
        voltage: {range: 0 V .. 20 V, resolution: 1 mV}
        current: {range: 0 A .. 2 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 22 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 50 W}
      ch2: {like: ch1}
"""
# 5 V into 10 Ohm: 0.5 A and 2.5 W (Ohm's and Joule's law).
LOAD = """load: A board
rails:
  core: {elements: [{kind: resistor, name: heater, resistance: 10 Ohm}]}
  io: {elements: [{kind: resistor, resistance: 100 Ohm +- 5 %}]}
faults:
  shorted: {rail: core, at: mark up + 1 s, becomes: [{kind: resistor, resistance: 10 mOhm}]}
"""
LIBRARY = """let v_io = 2 * 1.65 V
sequence io_up(level) {
  on io
  ramp io to level over 100 ms
}
"""
PROFILE = """profile "Board"
bench "board.bench.yaml"
load "board.load.yaml"
import "library.ramp"

param level = 5 V in 4 V .. 6 V

rail core on left.ch1
rail io on left.ch2

protect core { ceiling 6 V; overvoltage 7 V; fuse after 100 ms; overpower 4 W }
protect io { ceiling 4 V; overvoltage 4 V; fuse after 100 ms; overpower 2 W }

run {
  limit core to 1 A, io to 1 A
  on core
  ramp core to level over 1 s
  do io_up(v_io)
  mark "up"
  repeat 10 {
    step io to 3 V
    dwell 1 s
    step io to v_io
    dwell 1 s
  }
  ramp core to 0 V, io to 0 V over 1 s
  off io, core
}

safe { off io; dwell 200 ms; off core }

expect trip core by fuse under shorted
"""


class InFolder(unittest.TestCase):
    abilities = client.ABILITIES

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name).resolve()
        for name, text in (("board.bench.yaml", BENCH), ("board.load.yaml", LOAD), ("library.ramp", LIBRARY),
                           ("board.ramp", PROFILE)):
            self.write(name, text)
        self.client = Client(PROGRAM, self.folder, self.abilities)
        self.addCleanup(self.client.kill)

    def write(self, name, text):
        (self.folder / name).write_text(text, encoding="utf-8")

    def open(self, name="board.ramp", text=None):
        return self.client.open(self.folder / name, text)

    def named(self, uri):
        """Names of the findings of a file with their lines, as people count them."""
        return sorted((one["code"], one["range"]["start"]["line"] + 1) for one in self.client.findings.get(uri, []))


def main():
    """Runs the tests of the script, then holds what the server said against the published types, if they are there."""
    done = unittest.main(exit=False).result
    for test, why in done.skipped:
        print("skipped: %s: %s" % (test, why), file=sys.stderr)
    wrong = client.TYPES.check() if client.TYPES else ""
    if wrong:
        print(wrong, file=sys.stderr)
    elif client.TYPES:
        print("%d messages, %d forms, all as the types have them" % (client.TYPES.seen, len(client.TYPES.kept)))
    if not done.wasSuccessful() or wrong:
        sys.exit(1)
    sys.exit(SKIPPED if done.skipped else 0)
