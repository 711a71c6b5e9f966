#!/usr/bin/env python3
"""SARIF logs hold what SARIF 2.1.0 (OASIS Standard incorporating approved errata 01) requires. usage: sarif_test.py PROGRAM

The sections of the standard beside the checks are from memory; what they ask for is also in its JSON schema. Where
RAMPART_SARIF_SCHEMA names a copy of that schema, every log is held against it.
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest
import urllib.parse

PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
PAGES = pathlib.Path(__file__).resolve().parents[2] / "docs/explain"
SCHEMA = os.environ.get("RAMPART_SARIF_SCHEMA")
DOCS = "https://docs.example.org/rampart"
LEVELS = ("none", "note", "warning", "error")


def all_objects(value, key):
    """Every value under `key`, at any depth."""
    if isinstance(value, dict):
        for name, inner in value.items():
            if name == key:
                yield inner
            yield from all_objects(inner, key)
    elif isinstance(value, list):
        for inner in value:
            yield from all_objects(inner, key)


class Sarif(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        for shared in PAGES.glob("example.*"):
            (self.folder / shared.name).write_bytes(shared.read_bytes())

    def check(self, name, profile, *arguments, docs=DOCS):
        (self.folder / name).write_text(profile, encoding="utf-8")
        done = subprocess.run([PROGRAM, "check", name, "--format", "sarif", *arguments], cwd=self.folder,
                              capture_output=True, text=True, timeout=60, env=dict(os.environ, RAMPART_DOCS_URL=docs))
        log = json.loads(done.stdout)
        self.verify_log(log)
        return log["runs"][0]

    def verify_log(self, log):
        if SCHEMA:
            import jsonschema
            schema = json.loads(pathlib.Path(SCHEMA).read_text(encoding="utf-8-sig"))
            jsonschema.validators.validator_for(schema)(schema, format_checker=jsonschema.FormatChecker()).validate(log)
        self.assertEqual(log["version"], "2.1.0")  # 3.13.2
        self.assertIn("sarif-schema-2.1.0", log["$schema"])  # 3.13.3
        self.assertIsInstance(log["runs"], list)  # 3.13.4
        for run in log["runs"]:
            driver = run["tool"]["driver"]  # 3.14.6, 3.18.2
            self.assertTrue(driver["name"])  # 3.19.8
            self.verify_rules(driver["rules"])
            for result in run["results"]:
                self.verify_result(result, driver["rules"])
        for region in all_objects(log, "region"):
            self.verify_region(region)
        for location in all_objects(log, "artifactLocation"):
            self.verify_uri(location["uri"])

    def verify_rules(self, rules):
        identities = [rule["id"] for rule in rules]  # 3.49.3
        self.assertEqual(len(identities), len(set(identities)))
        for rule in rules:
            self.assertRegex(rule["name"], "^[A-Z][A-Za-z0-9]*$")  # 3.49.7
            for part in ("shortDescription", "fullDescription", "help"):  # 3.49.9, 3.49.10, 3.49.13
                self.assertTrue(rule[part]["text"].strip(), rule["id"])  # 3.12.3: a text has to be there
            self.assertNotIn("\n", rule["shortDescription"]["text"])
            self.assertIn(rule["defaultConfiguration"]["level"], LEVELS)  # 3.50.3

    def verify_result(self, result, rules):
        self.assertTrue(result["message"]["text"])  # 3.27.11, 3.11.8
        self.assertIn(result["level"], LEVELS)  # 3.27.10
        self.assertEqual(rules[result["ruleIndex"]]["id"], result["ruleId"])  # 3.27.5, 3.27.6
        self.assertEqual(len(result["locations"]), 1)  # 3.27.12
        for value in result["partialFingerprints"].values():  # 3.27.17
            self.assertRegex(value, "^[0-9a-f]{64}:[1-9][0-9]*$")
        identities = [related["id"] for related in result["relatedLocations"]]  # 3.28.2
        self.assertEqual(len(identities), len(set(identities)))
        for related in result["relatedLocations"]:
            self.assertTrue(related["message"]["text"])  # 3.28.5

    def verify_region(self, region):
        self.assertGreaterEqual(region["startLine"], 1)  # 3.30.5
        self.assertGreaterEqual(region["startColumn"], 1)  # 3.30.6
        start, end = ((region[side + "Line"], region[side + "Column"]) for side in ("start", "end"))
        self.assertLessEqual(start, end)  # 3.30.7, 3.30.8

    def verify_uri(self, uri):
        parts = urllib.parse.urlsplit(uri)
        self.assertRegex(uri.removeprefix("file://"), r"^[A-Za-z0-9._~/!$&'()*+,;=@%-]+$")  # 3.4.3: RFC 3986
        # RFC 8089: an absolute path is a `file` URI, a relative one none.
        self.assertEqual(parts.scheme, "file" if parts.path.startswith("/") else "")
        self.assertEqual(parts.netloc, "")

    def test_findings_of_every_kind(self):
        run = self.check("wrong name: 5%.ramp", """bench "example.bench.yaml"
load "example.load.yaml"
rail core on supply.ch1
let unused = 3 V
protect core { ceiling 4 V; overvoltage 6 V; fuse after 50 ms }
run {
  limit core to 1 A
  on core
  ramp core to 5 V over 50 ms
}
expect no trip
""")
        names = {result["ruleId"] for result in run["results"]}
        self.assertLessEqual({"above-ceiling", "unused-name", "no-overpower", "left-on", "coarse-ramp"}, names)
        ceiling = next(result for result in run["results"] if result["ruleId"] == "above-ceiling")
        place = ceiling["locations"][0]["physicalLocation"]
        self.assertEqual((place["region"]["startLine"], place["region"]["startColumn"]), (9, 16))
        self.assertEqual(urllib.parse.unquote(place["artifactLocation"]["uri"]), "wrong name: 5%.ramp")
        self.assertEqual(ceiling["relatedLocations"][0]["physicalLocation"]["region"]["startLine"], 5)

    def test_an_absolute_path_is_a_uri(self):
        path = str(self.folder / "a b#1.ramp")
        place = self.check(path, "rail core on\n")["results"][0]["locations"][0]["physicalLocation"]
        self.assertEqual(place["artifactLocation"]["uri"], pathlib.Path(path).as_uri())

    def test_pages_where_their_place_is_known(self):
        driver = self.check("a.ramp", "rail core on\n")["tool"]["driver"]
        self.assertEqual(driver["informationUri"], DOCS + "/")  # 3.19.2
        for rule in driver["rules"]:
            self.assertEqual(rule["helpUri"], DOCS + "/explain/" + rule["id"] + ".md")  # 3.49.12
            self.assertTrue((PAGES / (rule["id"] + ".md")).exists())
        for nowhere in ("", "docs", "javascript:alert(1)", "https://a b/"):
            driver = self.check("a.ramp", "rail core on\n", docs=nowhere)["tool"]["driver"]
            self.assertNotIn("informationUri", driver)
            self.assertNotIn("helpUri", driver["rules"][0])

    def test_fingerprints_stay_while_text_above_comes_and_goes(self):
        text = "rail core on supply.ch1\nlet a = 1 V\nlet b = 1 V\nrun { }\n"
        prints = lambda profile: [r["partialFingerprints"]["ruleFileAndText/v1"] for r in self.check("a.ramp", profile)["results"]]
        before = prints('bench "example.bench.yaml"\n' + text)
        self.assertGreater(len(before), 2)
        self.assertEqual(len(before), len(set(before)))
        self.assertEqual(prints('# a remark\n\nbench "example.bench.yaml"\n' + text.replace("let", "  let")), before)
        self.assertNotEqual(prints('bench "example.bench.yaml"\n' + text.replace("a = 1 V", "a = 2 V")), before)

    def test_files_without_text(self):
        self.check("empty.ramp", "")
        run = self.check("a.ramp", 'bench "none.bench.yaml"\nrail core on supply.ch1\nrun { }\n')
        self.assertIn("unreadable", {result["ruleId"] for result in run["results"]})

    def test_no_findings(self):
        run = self.check("fine.ramp", (PAGES / "example.ramp").read_text(encoding="utf-8"))
        self.assertEqual(run["results"], [])  # 3.14.23: an empty array says that nothing was found

    def test_accepted_findings_are_suppressed(self):
        run = self.check("a.ramp", """bench "example.bench.yaml"
rail core on supply.ch1
protect core { overvoltage 6 V; fuse after 50 ms }
accept no-overpower on core because "a resistor alone"
run {
  limit core to 1 A
  on core
  ramp core to 5 V over 1 s
  dwell 1 s
  ramp core to 0 V over 1 s
  off core
}
""")
        self.assertEqual([result["ruleId"] for result in run["results"]], ["no-overpower"])
        # 3.27.23 and 3.35: what the source accepts is an `inSource` suppression with its justification.
        self.assertEqual(run["results"][0]["suppressions"],
                         [{"kind": "inSource", "justification": "a resistor alone"}])

    def test_columns_count_code_points(self):
        run = self.check("a.ramp", 'profile "µΩ"; rail core on\nrun { }\n')
        self.assertEqual(run["columnKind"], "unicodeCodePoints")  # 3.14.17
        self.assertEqual(run["results"][0]["locations"][0]["physicalLocation"]["region"]["startColumn"], 27)

    def test_rules_are_the_pages(self):
        run = self.check("fine.ramp", (PAGES / "example.ramp").read_text(encoding="utf-8"))
        for rule in run["tool"]["driver"]["rules"]:
            page = (PAGES / (rule["id"] + ".md")).read_text(encoding="utf-8")
            self.assertIn(rule["shortDescription"]["text"], page)
            self.assertIn(rule["fullDescription"]["text"], page)
            self.assertTrue(re.search(r"^wrong:$", rule["help"]["text"], re.MULTILINE))


if __name__ == "__main__":
    unittest.main()
