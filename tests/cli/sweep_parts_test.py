#!/usr/bin/env python3
"""Work that several machines share: what --join makes of the shares of --part is, byte for byte, the answer of one
machine; shares of other work, damaged ones and missing ones are refused. usage: sweep_parts_test.py PROGRAM"""
import hashlib
import json
import pathlib
import subprocess
import sys
import tempfile
import unittest

BENCH = """bench: One supply
supplies:
  bench:
    timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: linear}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV, accuracy: 0.1 % + 5 mV}
        current: {range: 0 A .. 3 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 10 s step 1 ms, overpower: 1 W .. 90 W}
"""
LOAD = """load: A board
rails:
  core:
    elements:
      - {kind: capacitor, capacitance: 10 mF +- 20 %}
      - {kind: resistor, resistance: 10 Ohm +- 5 %}
"""
PROFILE = """profile "Parts"
bench "one.bench.yaml"
load "board.load.yaml"
rail core on bench.ch1
param rise = 2 s in 20 ms .. 20 s
param level = 5 V in 4 V .. 9 V
protect core { overvoltage 8 V; overpower 5 W }
run {
  limit core to 2 A
  on core
  ramp core to level over rise
  dwell 1 s
  off core
}
expect peak_current(core) <= 950 mA
"""
# What is asked, and how many share it.
WORK = [
    (["sweep", "--format", "json"], 3),
    (["sweep"], 1),
    (["sweep", "--vary", "rise=20ms..20s", "--vary", "level=4V..9V", "--format", "json"], 5),
    (["sweep", "--vary", "rise=20ms..20s", "--vary", "level=4V..9V", "--format", "csv"], 2),
    (["sweep", "--vary", "rise=20ms..500ms", "--find", "least", "rise", "--keep", "2%", "--format", "json"], 4),
    (["sweep", "--find", "least", "energy(core)", "--nominal"], 7),
    (["simulate", "--corners", "--format", "json"], 3),
    (["simulate", "--sample", "200", "--seed", "5", "--format", "json"], 6),
    (["simulate", "--corners", "--sample", "50", "--full"], 40),
]


class Parts(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        for name, text in (("p.ramp", PROFILE), ("one.bench.yaml", BENCH), ("board.load.yaml", LOAD)):
            self.path(name).write_text(text, encoding="utf-8")

    def path(self, name):
        return pathlib.Path(self.folder.name) / name

    def run_it(self, asked, *more):
        return subprocess.run([PROGRAM, asked[0], "p.ramp", *asked[1:], *more], cwd=self.folder.name,
                              capture_output=True, check=False)

    def parts(self, asked, of):
        names = []
        for number in range(1, of + 1):
            done = self.run_it(asked, "--part", f"{number}/{of}")
            self.assertEqual(done.returncode, 0, done.stderr)
            names.append(f"{number}.json")
            self.path(names[-1]).write_bytes(done.stdout)
        return names

    def test_joined_is_what_one_machine_says(self):
        for asked, of in WORK:
            with self.subTest(asked=asked, of=of):
                alone = self.run_it(asked)
                joined = self.run_it(asked, "--join", *reversed(self.parts(asked, of)))
                self.assertEqual((alone.returncode, alone.stdout, alone.stderr),
                                 (joined.returncode, joined.stdout, joined.stderr))
                self.assertTrue(alone.stdout)

    def test_what_parts_have_found_is_taken(self):
        """A part in which a trip was put by hand shows in the answer: it was not worked out again."""
        asked = ["simulate", "--corners", "--format", "json"]
        names = self.parts(asked, 2)
        part = json.loads(self.path(names[1]).read_text(encoding="utf-8"))
        results = part["results"]
        results["corner 7"] = results["corner 7"][: results["corner 7"].rindex(";", 0, -1) + 1] + "1;"
        self.write_part(names[1], part)
        self.assertNotEqual(self.run_it(asked).stdout, self.run_it(asked, "--join", *names).stdout)

    def write_part(self, name, part):
        """With the digest of what it says now."""
        said = {key: value for key, value in part.items() if key != "sha256"}
        text = json.dumps(said, separators=(",", ":"), sort_keys=True, ensure_ascii=False)
        part["sha256"] = hashlib.sha256(text.encode()).hexdigest()
        self.path(name).write_text(json.dumps(part), encoding="utf-8")

    def test_a_changed_part_is_refused(self):
        asked = ["simulate", "--corners"]
        names = self.parts(asked, 2)
        text = self.path(names[1]).read_text(encoding="utf-8")
        at = text.index('"corner 7"')
        digit = next(i for i in range(at + 12, len(text)) if text[i] in "12345678")
        self.path(names[1]).write_text(text[:digit] + "9" + text[digit + 1:], encoding="utf-8")
        self.refused(asked, names, "2.json: is not a file as --part wrote it, whole and unchanged")

    def test_results_that_no_machine_has_found_are_worked_out_again(self):
        """Causes of trips that there are none of, places beyond the end of a file, findings without a name."""
        asked = ["simulate", "--sample", "20", "--format", "json"]
        names = self.parts(asked, 1)
        part = json.loads(self.path(names[0]).read_text(encoding="utf-8"))
        for key, result in part["results"].items():
            fields = result.split(";")
            # Two fields a rail, one for waits and one for a rail that never comes to rest end an outcome.
            fields[-5] = "200"
            part["results"][key] = ";".join(fields)
        self.write_part(names[0], part)
        self.assertEqual(self.run_it(asked).stdout, self.run_it(asked, "--join", *names).stdout)
        asked = ["sweep", "--vary", "rise=20ms..40ms"]
        names = self.parts(asked, 1)
        part = json.loads(self.path(names[0]).read_text(encoding="utf-8"))
        for result in ("1;syntax;0;4000000;4000009;0;0;0;0;0;", "1;syntax;0;9;3;0;0;0;0;0;", "1;none;0;3;9;0;0;0;0;0;",
                       "1;syntax;0;-9;3;0;0;0;0;0;", "1;syntax;77;3;9;0;0;0;0;0;", "1;syntax;0;3;9;-1;0;0;0;0;"):
            part["results"] = {key: result for key in part["results"]}
            self.write_part(names[0], part)
            with self.subTest(result=result):
                self.assertEqual(self.run_it(asked).stdout, self.run_it(asked, "--join", *names).stdout)

    def test_failures_that_only_parts_have_are_refused(self):
        asked = ["sweep", "--vary", "rise=5s..5.01s"]
        for more in ((), ("--find", "least", "rise")):
            names = self.parts(asked + list(more), 1)
            part = json.loads(self.path(names[0]).read_text(encoding="utf-8"))
            part["results"] = {key: "1;syntax;0;3;9;0;0;0;0;0;" for key in part["results"]}
            self.write_part(names[0], part)
            self.refused(asked + list(more), names, "fails, and it passes here")
        asked = ["simulate", "--corners"]
        names = self.parts(asked, 1)
        part = json.loads(self.path(names[0]).read_text(encoding="utf-8"))
        for key, result in part["results"].items():
            # A trip that nobody asked for.
            part["results"][key] = ";".join(result.split(";")[:-5] + ["0", "1", "0", "0", ""])
        self.write_part(names[0], part)
        self.refused(asked, names, "a run of it here does not fail so")

    def refused(self, asked, names, words):
        done = self.run_it(asked, "--join", *names)
        self.assertEqual(done.returncode, 2)
        self.assertEqual(done.stdout, b"")
        self.assertIn(words, done.stderr.decode())

    def test_what_does_not_belong_together_is_refused(self):
        asked = WORK[0][0]
        names = self.parts(asked, 3)
        self.refused(asked, names[:2], "part 3/3 is missing")
        self.refused(asked, names + names[:1], "part 1/3 occurs twice")
        self.refused(["simulate", "--corners"], names, "is a part of another job")
        self.refused(asked + ["--vary", "rise=1s..2s"], names, "is a part of another job")
        self.refused(asked, names[:2] + ["none.json"], "none.json")
        self.path("2.json").write_bytes(self.path("2.json").read_bytes()[:-20])
        self.refused(asked, names, "2.json: is not a file as --part wrote it")
        # What would use up the stack.
        self.path("2.json").write_text('{"part": "2/3", "asked": %s%s, "results": {}}' % ("[" * 100000, "]" * 100000))
        self.refused(asked, names, "2.json: is not a file as --part wrote it")
        names = self.parts(asked, 2)
        self.path("p.ramp").write_text(PROFILE.replace("950 mA", "960 mA"), encoding="utf-8")
        self.refused(asked, names, "is a part of another job: `profile ")

    def test_a_part_is_written_as_k_of_n(self):
        for part in ("0/3", "4/3", "3", "a/b", "1/0", "-1/3", "1/2/3"):
            done = self.run_it(["sweep"], "--part", part)
            self.assertEqual((done.returncode, done.stdout), (2, b""), part)
        done = self.run_it(["simulate"], "--part", "1/3")
        self.assertEqual(done.returncode, 2)


if __name__ == "__main__":
    PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
    unittest.main()
