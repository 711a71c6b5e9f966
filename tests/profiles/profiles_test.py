"""Every profile of the library: what is found in it is what is meant to be, and its table passes the audit. usage: PROGRAM"""
import json
import pathlib
import re
import sys
import tempfile
import unittest

import library

PROGRAM = library.Program(sys.argv.pop(1))
MEANT = json.loads((pathlib.Path(__file__).resolve().parent / "meant_findings.json").read_text(encoding="utf-8"))


class Profiles(unittest.TestCase):
    def test_findings_and_audit(self):
        self.assertGreaterEqual(len(library.profiles()), 50)
        self.assertEqual({key.split()[0] for key in MEANT} - set(library.profiles()), set())
        audited = 0
        for name in library.profiles():
            with self.subTest(name=name), tempfile.TemporaryDirectory() as folder:
                answer = PROGRAM.simulation(name)
                self.assertEqual(library.findings(answer), MEANT.get(name, []), answer["findings"])
                table = str(pathlib.Path(folder) / "table.csv")
                built = PROGRAM.run("build", name, "--as", "csv", "-o", table)
                refused = any(item["severity"] == "error" for item in answer["findings"])
                self.assertEqual(built.returncode, 1 if refused else 0, built.stderr)
                self.assertEqual(pathlib.Path(table).exists(), not refused)
                if not refused:
                    audit = PROGRAM.audit(table)
                    self.assertEqual(audit.returncode, 0, audit.stdout + audit.stderr)
                    audited += 1
        self.assertGreaterEqual(audited, 50)

    def test_what_a_head_says_of_another_value(self):
        for key, meant in MEANT.items():
            name, *arguments = key.split()
            if arguments:
                with self.subTest(key=key):
                    head = (library.ROOT / name).read_text(encoding="utf-8").split("\n\n")[0]
                    self.assertIn(" ".join(arguments), head)
                    self.assertEqual(library.findings(PROGRAM.simulation(name, *arguments)), meant)

    def test_patterns_move_to_another_bench(self):
        # Another supply with other figures, whose outputs have the names that the profiles ask for.
        bench = (library.ROOT / "any-bench/three-channel.bench.yaml").read_text(encoding="utf-8")
        bench += "".join("  %s: tower.%s\n" % pair for pair in (("stepped", "a"), ("straight", "a"), ("straight_2", "b"),
                                                               ("straight_3", "c")))
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        other = pathlib.Path(folder.name) / "other.bench.yaml"
        other.write_text(bench, encoding="utf-8")
        moved, refused = 0, []
        for name in library.profiles():
            text = (library.ROOT / name).read_text(encoding="utf-8")
            if not name.startswith("patterns/") or re.search(r" on (strong|tall\w*|left\.line\d)\b", text):
                continue
            # Limits alone: without a load nothing is simulated.
            text = re.sub(r'^load ".*"\n', "", text, flags=re.MULTILINE)
            refused += [(name, finding["name"]) for finding in PROGRAM.limits(text, other)
                        if finding["severity"] == "error"]
            moved += 1
        self.assertGreaterEqual(moved, 16)
        # Its points are 10 ms apart.
        self.assertEqual(refused, [("patterns/cold-start.ramp", "step-too-short")])

    def test_the_head_says_what_one_needs(self):
        for name in library.profiles():
            with self.subTest(name=name):
                text = (library.ROOT / name).read_text(encoding="utf-8")
                head = text.split("\n\n")[0]
                needed = ["For:", "Change:", "Watch:", "Caution: "] if name.startswith("patterns/") else ["Values:"]
                if "FROM MEMORY" in head:
                    needed = []
                for word in needed:
                    self.assertIn(word, head)
                self.assertLessEqual(text.count("\n"), 60)

    def test_layout(self):
        for name in library.profiles():
            with self.subTest(name=name):
                text = (library.ROOT / name).read_text(encoding="utf-8")
                self.assertEqual(PROGRAM.formatted(text), text)


if __name__ == "__main__":
    unittest.main()
