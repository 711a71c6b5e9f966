"""A bench of two supplies on the loopback address, and a run on it, for the tests of `run`."""
import csv
import json
import os
import subprocess
import time

from program import PROGRAM, InFolder
from sanitized import SECONDS
from supplies import LoopbackSupply, link_file

BENCH = """bench: Two supplies on this computer
supplies:
  left:
    timing: {minimum_step: 200 ms, resolution: 1 ms}
    lines: [line1, line2]
    channels:
      ch1:
        voltage: {range: 0 V .. 20 V, resolution: 5 mV}
        current: {range: 0 A .. 5 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 22 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 90 W, overpower_delay: 0 s .. 8 s}
      ch2: {like: ch1}
  right:
    timing: {minimum_step: 200 ms, resolution: 1 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 30 V, resolution: 10 mV}
        current: {range: 0 A .. 3 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 32 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 90 W, overpower_delay: 0 s .. 8 s}
"""
HEAD = """profile "Two rails"
bench "two.bench.yaml"
rail logic on left.ch1
rail radio on right.ch1
protect logic { overvoltage 3.8 V; fuse after 100 ms; overpower 5 W after 200 ms }
protect radio { overvoltage 13.5 V; fuse after 100 ms; overpower 10 W after 200 ms }
"""
RUN = """run {
  limit logic to 1 A, radio to 500 mA
  on logic, radio
  dwell 200 ms
  ramp logic to 3.3 V over 400 ms
  dwell 200 ms
  step radio to 12 V
  dwell 1 s
  step radio to 0 V
  dwell 200 ms
  step logic to 0 V
  dwell 200 ms
  off radio, logic
}
"""
SAFE = "safe { off radio; dwell 200 ms; off logic }\n"
# 3.3 V into 12 Ohm are 275 mA, 12 V into 48 Ohm 250 mA (Ohm's law; the series resistance is 1 mOhm).
LOGIC, RADIO = {"ohm": 12.0}, {"ohm": 48.0}
ON_LOOPBACK = ("--bench", "two.bench.yaml", "--link", "two.link.yaml")


class Bench(InFolder):
    """Two supplies, a table, and a run of it."""

    def setUp(self):
        super().setUp()
        self.write("two.bench.yaml", BENCH)
        self.keys = {"left": "", "right": ""}
        self.messages = {"left": {}, "right": {}}

    def build(self, text=HEAD + RUN + SAFE):
        self.write("two.ramp", text)
        done = self.run_it("build", "two.ramp", "--as", "json", "-o", "two.json")
        self.assertEqual(done.returncode, 0, done.stderr.decode())

    def supplies(self, left=None, right=None):
        self.left = LoopbackSupply(self, self.folder, "left", **dict({"loads": [LOGIC, {}]}, **(left or {})))
        self.right = LoopbackSupply(self, self.folder, "right", **dict({"loads": [RADIO]}, **(right or {})))
        self.link()

    def link(self, **more):
        self.write("two.link.yaml", link_file(
            self.left.link(self.keys["left"], self.messages["left"], **more),
            self.right.link(self.keys["right"], self.messages["right"])))

    def start(self, *arguments, log="run.csv", max_late="2s", preexec_fn=None, program=PROGRAM, environment=None,
              stdout=subprocess.PIPE):
        self.process = subprocess.Popen([program, "run", "two.json", *ON_LOOPBACK, "--log", log, "--max-late", max_late, *arguments],
                                        cwd=self.folder, stdin=subprocess.DEVNULL, stdout=stdout,
                                        stderr=subprocess.PIPE, text=True, preexec_fn=preexec_fn,
                                        env=dict(os.environ, **(environment or {})))
        if self.process.stdout:
            self.addCleanup(self.process.stdout.close)
        self.addCleanup(self.process.stderr.close)
        self.addCleanup(self.process.kill)

    def finish(self):
        self.out, self.err = self.process.communicate(timeout=SECONDS)
        return self.process.returncode

    def play(self, *arguments, **more):
        self.start(*arguments, **more)
        return self.finish()

    def forget_log(self):
        """Another run may have the same names for its log and its record."""
        for name in ("run.csv", "run.csv.run.json"):
            (self.folder / name).unlink(missing_ok=True)

    def log(self):
        text = (self.folder / "run.csv").read_text()
        self.assertTrue(text.endswith("\n"))
        rows = list(csv.DictReader(text.splitlines()))
        times = [float(row["time_s"]) for row in rows]
        self.assertEqual(times, sorted(times))
        return rows

    def events(self):
        return [row["text"] + (" (%s)" % row["channel"] if row["channel"] else "") for row in self.log() if row["kind"] == "event"]

    def record(self):
        return json.loads((self.folder / "run.csv.run.json").read_text())

    def until(self, text, supply=None):
        """Waits until the log has this text, or a supply was told it."""
        for _ in range(400):
            if supply is not None and any(text in message for message in supply.messages()):
                return
            if supply is None and (self.folder / "run.csv").exists() and text in (self.folder / "run.csv").read_text():
                return
            time.sleep(0.05)
        self.fail("`%s` did not come" % text)

    def check_strict(self, *supplies):
        for supply in supplies or (self.left, self.right):
            self.assertEqual(supply.violations(), [])

    def check_log_ends_off(self):
        """The last reading of each channel in the log says that its output is off."""
        last = {row["channel"]: row["output"] for row in self.log() if row["kind"] == "reading"}
        self.assertEqual(set(last.values()), {"0"}, last)

    def check_all_off(self):
        """The supplies themselves have every output off: what the last command for each said, or a trip."""
        for supply in (self.left, self.right):
            states = {}
            for message in supply.messages():
                if message.startswith("OUTPut") and "?" not in message:
                    states[message.split(":")[0]] = message.endswith("ON")
            self.assertFalse(any(states.values()), states)
