#!/usr/bin/env python3
"""`rampart format` on real files. usage: format_test.py PROGRAM"""
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
TIDY = b"""rail core on supply.ch1

run {
  limit core to 1 A
  ramp core to 3.3 V over 40 ms  # soft
}
"""
UNTIDY = b"rail   core on supply.ch1\n\n\nrun {\nlimit core to 1A; ramp core to 3.3V over 40ms # soft\n}\n"
BROKEN = b"rail   core on supply.ch1\nrun { ramp core to over 5 ms }\n"


class Format(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)

    def write(self, name, content):
        (self.folder / name).write_bytes(content)
        return self.folder / name

    def run_format(self, *arguments, stdin=b""):
        return subprocess.run([PROGRAM, "format", *arguments], cwd=self.folder, input=stdin, capture_output=True,
                              timeout=60)

    def test_rewrites_in_place(self):
        path = self.write("a.ramp", UNTIDY)
        done = self.run_format("a.ramp")
        self.assertEqual((done.returncode, done.stdout, done.stderr), (0, b"a.ramp\n", b""))
        self.assertEqual(path.read_bytes(), TIDY)

    def test_twice_changes_nothing(self):
        path = self.write("a.ramp", UNTIDY)
        self.run_format("a.ramp")
        first = path.stat()
        done = self.run_format("a.ramp")
        self.assertEqual((done.returncode, done.stdout, done.stderr), (0, b"", b""))
        # Not even written again: time and file are the same.
        self.assertEqual((path.stat().st_mtime_ns, path.stat().st_ino), (first.st_mtime_ns, first.st_ino))

    def test_check_changes_nothing_and_lists(self):
        untidy, tidy = self.write("a.ramp", UNTIDY), self.write("b.ramp", TIDY)
        done = self.run_format("--check", "a.ramp", "b.ramp")
        self.assertEqual((done.returncode, done.stdout, done.stderr), (1, b"a.ramp\n", b""))
        self.assertEqual((untidy.read_bytes(), tidy.read_bytes()), (UNTIDY, TIDY))
        self.assertEqual(self.run_format("--check", "b.ramp").returncode, 0)

    def test_keeps_the_mode(self):
        path = self.write("a.ramp", UNTIDY)
        for mode in (0o640, 0o755):
            path.write_bytes(UNTIDY)
            path.chmod(mode)
            self.run_format("a.ramp")
            self.assertEqual(path.stat().st_mode & 0o7777, mode)
            self.assertEqual(path.read_bytes(), TIDY)

    def test_follows_a_link(self):
        path = self.write("a.ramp", UNTIDY)
        (self.folder / "link.ramp").symlink_to("a.ramp")
        self.assertEqual(self.run_format("link.ramp").returncode, 0)
        self.assertTrue((self.folder / "link.ramp").is_symlink())
        self.assertEqual(path.read_bytes(), TIDY)

    def test_leaves_a_file_with_syntax_errors(self):
        broken, untidy = self.write("a.ramp", BROKEN), self.write("b.ramp", UNTIDY)
        done = self.run_format("a.ramp", "b.ramp")
        self.assertEqual((done.returncode, done.stdout), (1, b"b.ramp\n"))
        self.assertIn(b"a.ramp:2:20: error: ", done.stderr)
        self.assertEqual((broken.read_bytes(), untidy.read_bytes()), (BROKEN, TIDY))
        self.assertEqual(sorted(os.listdir(self.folder)), ["a.ramp", "b.ramp"])

    def test_standard_input_goes_to_standard_output(self):
        for text in (UNTIDY, TIDY):
            done = self.run_format("-", stdin=text)
            self.assertEqual((done.returncode, done.stdout, done.stderr), (0, TIDY, b""))
        done = self.run_format("-", stdin=BROKEN)
        self.assertEqual((done.returncode, done.stdout), (1, b""))
        self.assertIn(b"standard input:2:20: error: ", done.stderr)
        self.assertEqual(self.run_format("--check", "-", stdin=UNTIDY).stdout, b"-\n")

    def test_a_missing_file_is_said(self):
        self.write("a.ramp", UNTIDY)
        done = self.run_format("none.ramp", "a.ramp")
        self.assertEqual((done.returncode, done.stdout), (2, b"a.ramp\n"))
        self.assertIn(b"none.ramp: error: cannot read `none.ramp`", done.stderr)


if __name__ == "__main__":
    unittest.main()
