#!/usr/bin/env python3
"""`rampart new` as it is called. usage: new_test.py PROGRAM"""
import os

import program
from program import InFolder

ENDINGS = (".ramp", ".bench.yaml", ".load.yaml")


class New(InFolder):
    def names(self):
        return sorted(path.name for path in self.folder.rglob("*") if not path.name.startswith("one."))

    def test_three_files_that_pass_every_command(self):
        done = self.run_it("new", "burn-in")
        self.assertEqual((done.returncode, done.stderr), (0, b""))
        self.assertEqual(done.stdout.decode(),
                         "wrote burn-in.ramp, burn-in.bench.yaml, burn-in.load.yaml\n"
                         "put in the figures of your supplies and your device, then: rampart check burn-in.ramp\n")
        self.assertEqual(self.names(), sorted("burn-in" + ending for ending in ENDINGS))
        checked = self.run_it("check", "--strict", "--corners", "burn-in.ramp")
        self.assertEqual(checked.returncode, 0, checked.stdout + checked.stderr)
        self.assertIn(b"no errors or warnings", checked.stderr + checked.stdout)
        self.assertEqual(self.run_it("build", "burn-in.ramp", "--as", "csv", "-o", "t.csv").returncode, 0)
        self.assertEqual(self.run_it("audit", "t.csv", "--bench", "burn-in.bench.yaml", "--origin").returncode, 0)
        self.assertEqual(self.run_it("format", "--check", "burn-in.ramp").returncode, 0)
        self.assertEqual(self.run_it("simulate", "burn-in.ramp", "--every-fault").returncode, 0)

    def test_no_file_is_replaced(self):
        for ending in ENDINGS:
            self.write("a" + ending, "mine\n")
            done = self.run_it("new", "a")
            self.assertEqual((done.returncode, done.stdout), (2, b""))
            self.assertEqual(done.stderr.decode(), "rampart: a%s: already exists: choose another name\n" % ending)
            self.assertEqual(self.names(), ["a" + ending])
            self.assertEqual((self.folder / ("a" + ending)).read_bytes(), b"mine\n")
            (self.folder / ("a" + ending)).unlink()
        os.symlink("nowhere", self.folder / "a.load.yaml")
        self.assertEqual(self.run_it("new", "a").returncode, 2)
        self.assertEqual(self.names(), ["a.load.yaml"])

    def test_names(self):
        self.assertEqual(self.run_it("new", "x.ramp").returncode, 0)
        self.assertEqual(self.names(), sorted("x" + ending for ending in ENDINGS))
        (self.folder / "jobs of mine").mkdir()
        done = self.run_it("new", "jobs of mine/gr\u00f6\u00dfer_2")
        self.assertEqual((done.returncode, done.stderr), (0, b""))
        self.assertIn("rampart check 'jobs of mine/gr\u00f6\u00dfer_2.ramp'", done.stdout.decode())
        self.assertEqual(self.run_it("check", "jobs of mine/gr\u00f6\u00dfer_2.ramp").returncode, 0)
        before = self.names()
        for name, why in (("", "the name is empty"), (".ramp", "the name is empty"), ("jobs of mine/", "the name is empty"),
                          ("two words", "a name has no blanks: put `-` between words"),
                          (".hidden", "a name cannot begin with `-` or `.`"), ("..", "a name cannot begin with `-` or `.`"),
                          ("a" * 201, "the name is longer than 200 bytes"),
                          ("quote\"d", "letters, digits, `-`, `_` and `.`"), ("a\nb", "letters, digits, `-`, `_` and `.`"),
                          ("a\u202eb", "letters, digits, `-`, `_` and `.`"), ("@NAME@", "letters, digits, `-`, `_` and `.`")):
            done = self.run_it("new", name)
            self.assertEqual((done.returncode, done.stdout), (2, b""), name)
            self.assertIn("cannot name a job: ", done.stderr.decode(), name)
            self.assertTrue(done.stderr.decode().endswith(why + "\n"), done.stderr)
        done = self.run_it("new", "missing/x")
        self.assertEqual(done.stderr.decode(), "rampart: missing: there is no such folder: make it first\n")
        self.assertEqual(self.names(), before)
        self.assertEqual(self.run_it("new").returncode, 2)


if __name__ == "__main__":
    program.main()
