#!/usr/bin/env python3
"""`rampart explain` as it is called. usage: explain_test.py PROGRAM"""
import pathlib
import re
import subprocess
import sys
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
REGISTRY = "".join(part.read_text(encoding="utf-8") for part in (ROOT / "lang/findings").glob("*.def"))
NAMES = set(re.findall(r'^RAMPART_FINDING\(\s*\w+,\s*"([^"]+)"', REGISTRY, re.MULTILINE))


def explain(*arguments):
    return subprocess.run([PROGRAM, "explain", *arguments], capture_output=True, text=True, timeout=60)


class Explain(unittest.TestCase):
    def test_one_finding(self):
        done = explain("above-ceiling")
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        self.assertTrue(done.stdout.startswith("above-ceiling (error, limits)\nA rail is set above the ceiling"))
        self.assertIn("\nwrong:\n\n    bench \"example.bench.yaml\"\n", done.stdout)
        self.assertIn("\nright:\n\n    bench \"example.bench.yaml\"\n", done.stdout)
        self.assertNotIn("```", done.stdout)

    def test_every_finding(self):
        for name in sorted(NAMES):
            done = explain(name)
            self.assertEqual((done.returncode, done.stderr), (0, ""), name)
            self.assertIn("\nwrong:\n", done.stdout, name)

    def test_list(self):
        done = explain()
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        families = [line for line in done.stdout.splitlines() if line and not line.startswith(" ")]
        self.assertEqual(families, ["language", "files", "limits", "practice", "predicted"])
        listed = re.findall(r"^  ([a-z-]+)  +\S.*\.$", done.stdout, re.MULTILINE)
        self.assertEqual((set(listed), len(listed)), (NAMES, len(NAMES)))

    def test_unknown_name(self):
        done = explain("above-cieling")
        self.assertEqual((done.returncode, done.stdout), (2, ""))
        self.assertEqual(done.stderr, "rampart: there is no finding named `above-cieling`; did you mean `above-ceiling`?\n")
        self.assertIn("`rampart explain` lists all", explain("xyzzy").stderr)


if __name__ == "__main__":
    unittest.main()
