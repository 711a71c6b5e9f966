#!/usr/bin/env python3
"""What the tables of the first page show is read by the program. usage: readme_test.py PROGRAM"""
import json
import pathlib
import re

from program import InFolder, main

README = (pathlib.Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
CODE = re.compile(r"`([^`]+)`")


def table(heading):
    """The code in the first column of the table with this heading."""
    rows = README.split("\n| " + heading + " |", 1)[1].split("\n\n", 1)[0].splitlines()[2:]
    return [code for row in rows for code in CODE.findall(row.split(" | ")[0])]


class Readme(InFolder):
    def names(self, text):
        self.write("shown.ramp", text.replace("…", ""))
        findings = json.loads(self.run_it("check", "--format", "json", "shown.ramp").stdout)["profiles"][0]["findings"]
        return [one["message"] for one in findings if one["name"] == "syntax"]

    def test_statements(self):
        shown = table("in `run { … }`, `safe { … }` or a sequence | what it does")
        self.assertGreater(len(shown), 15)
        for one in shown:
            self.assertEqual(self.names("run {\n%s\n}\n" % one), [], one)

    def test_declarations(self):
        shown = table("outside of `run` | what it does")
        self.assertGreater(len(shown), 14)
        for one in shown:
            self.assertEqual(self.names(one + "\n"), [], one)

    def test_protections(self):
        shown = table("in `protect RAIL { … }` | what it does")
        self.assertGreater(len(shown), 4)
        for one in shown:
            self.assertEqual(self.names("protect logic { %s }\n" % one), [], one)

    def test_what_is_no_statement_is_found(self):
        self.assertNotEqual(self.names("run {\nwait 3 s\n}\n"), [])


if __name__ == "__main__":
    main()
