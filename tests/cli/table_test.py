#!/usr/bin/env python3
"""Tables in each format, read by libraries that are not ours. usage: table_test.py PROGRAM"""
import csv
import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import unittest
from decimal import Decimal

import jsonschema

from program import BENCH, PROFILE, PROGRAM, InFolder, main

ROOT = pathlib.Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs/table.schema.json").read_text(encoding="utf-8"))
# Waits of each kind, lines, a parameter, an import and a stop.
LINES = BENCH.replace("    channels:", "    lines: [line1, line2, line3]\n    channels:")
WAITS = PROFILE.replace("rail core", 'import "more.ramp"\nline lamp on bench.line1 output\n'
                        "line ready on bench.line2 input\nline alarm on bench.line3 output when trip core\nrail core")
WAITS = WAITS.replace("  off core\n", """  raise lamp
  await ready high within 5 s assume 1 s
  await core >= 4.5 V within 2 s assume 0 s
  await operator "Say \\"go\\"" within 60 s assume 10 s
  lower lamp
  off core
""").replace("expect no trip", "safe { off core }\nexpect no trip").replace("dwell 1 s", "do wait_a_second")
MORE = "sequence wait_a_second { dwell 1 s }\n"


def decimals(text):
    return json.loads(text, parse_float=Decimal, parse_int=Decimal)


class Tables(InFolder):
    def setUp(self):
        super().setUp()
        self.write("lines.bench.yaml", LINES)
        self.write("more.ramp", MORE)
        self.write("waits.ramp", WAITS)

    def build(self, profile, output, *arguments):
        done = self.run_it("build", profile, "-o", output, *arguments)
        self.assertEqual(done.returncode, 0, done.stderr.decode())
        return done.stdout.decode() if output == "-" else (self.folder / output).read_text(encoding="utf-8")

    def audit(self, table, bench="one.bench.yaml", *arguments):
        done = self.run_it("audit", table, "--bench", bench, "--format", "json", *arguments)
        names = [finding["name"] for finding in json.loads(done.stdout)["findings"]]
        return done.returncode, names

    def all_tables(self):
        shutil.copytree(ROOT / "profiles/tide-gauge", self.folder / "tide-gauge")
        return [("one.ramp", "one.bench.yaml"), ("waits.ramp", "lines.bench.yaml"),
                ("tide-gauge/power-up.ramp", "tide-gauge/two-supplies.bench.yaml"),
                ("tide-gauge/supply-margin.ramp", "tide-gauge/two-supplies.bench.yaml")]

    def test_json_and_csv_say_the_same(self):
        for profile, bench in self.all_tables():
            document = decimals(self.build(profile, "-", "--as", "json", "--bench", bench))
            rows = list(csv.DictReader(self.build(profile, "-", "--as", "csv", "--bench", bench).splitlines()))
            said = [(segment["segment"], row) for segment in document["segments"] for row in segment["rows"]]
            self.assertEqual(len(said), len(rows))
            for (segment, row), fields in zip(said, rows):
                self.assertEqual(segment, fields.get("segment", "1"))
                self.assertEqual(row["channel"], fields["channel"])
                for key in ("time_s", "voltage_V", "current_A"):
                    self.assertEqual(row[key], Decimal(fields[key]) if fields[key] else None)
                self.assertEqual(row["output"], {"0": False, "1": True, "": None}[fields["output"]])

    def test_instants_say_what_changes_say(self):
        for profile, bench in self.all_tables():
            at_once = decimals(self.build(profile, "-", "--as", "json", "--bench", bench, "--rows", "instants"))
            changes = decimals(self.build(profile, "-", "--as", "json", "--bench", bench))
            fields = list(csv.DictReader(self.build(profile, "-", "--as", "csv", "--bench", bench, "--rows",
                                                    "instants").splitlines()))
            instants = [(s["segment"], row) for s in at_once["segments"] for row in s["rows"]]
            self.assertEqual(len(instants), len(fields))
            for (_, row), line in zip(instants, fields):
                for name, cell in row["channels"].items():
                    self.assertEqual(cell["voltage_V"], Decimal(line[name + "_voltage_V"])
                                     if line[name + "_voltage_V"] else None)
            by_time = {}
            for segment, row in instants:
                by_time[segment, row["time_s"]] = row
            self.assertEqual(len(by_time), len(instants))
            for segment in changes["segments"]:
                for row in segment["rows"]:
                    instant = by_time[segment["segment"], row["time_s"]]
                    if row["channel"] in instant["lines"]:
                        self.assertEqual(instant["lines"][row["channel"]], row["output"])
                    else:
                        cell = instant["channels"][row["channel"]]
                        self.assertEqual(cell, {key: row[key] for key in cell})

    def test_every_document_follows_the_schema(self):
        jsonschema.Draft202012Validator.check_schema(SCHEMA)
        validator = jsonschema.Draft202012Validator(SCHEMA)
        for profile, bench in self.all_tables():
            for rows in ("changes", "instants"):
                validator.validate(json.loads(self.build(profile, "-", "--as", "json", "--bench", bench, "--rows", rows)))
            self.build(profile, "t.csv", "--as", "csv", "--bench", bench)
            validator.validate(json.loads((self.folder / "t.csv.setup.json").read_text()))

    def test_the_schema_refuses_what_is_no_table(self):
        validator = jsonschema.Draft202012Validator(SCHEMA)
        right = self.build("one.ramp", "-", "--as", "json")
        for old, new in (('"rows": "changes"', '"rows": "instants"'), ('"time_s"', '"time"'), ('"output": true', '"output": 1'),
                         ('"segment": "1"', '"segment": "0"'), ('"sense": "local"', '"sense": "near"'),
                         ('"sha256": "', '"sha256": "x'), ('"then": null', '"then": "wait"'), ('"setup"', '"set-up"')):
            self.assertIn(old, right)
            with self.assertRaises(jsonschema.ValidationError, msg=new):
                validator.validate(json.loads(right.replace(old, new, 1)))

    def test_set_up_and_waits(self):
        document = json.loads(self.build("waits.ramp", "-", "--as", "json", "--bench", "lines.bench.yaml"))
        channel = document["setup"]["channels"][0]
        self.assertEqual(channel["protection"], {"overvoltage_V": 12, "overpower": {"power_W": 4, "delay_s": 0},
                                                 "fuse": {"delay_s": 0.05, "current_A": None, "switches_off": []}})
        self.assertEqual([(line["line"], line["direction"], line["role"]) for line in document["setup"]["lines"]],
                         [("bench.line1", "output", "driven by rows"), ("bench.line2", "input", "awaited"),
                          ("bench.line3", "output", "high when tripped")])
        waits = [segment["then"] for segment in document["segments"]]
        at = {"file": "waits.ramp", "column": 3}
        first = 1 + next(i for i, line in enumerate(WAITS.splitlines()) if "await ready" in line)
        self.assertEqual(waits, [
            {"await": "line", "line": "bench.line2", "high": True, "within_s": 5, "assume_s": 1,
             "place": at | {"line": first}},
            {"await": "condition", "condition": "core >= 4.5 V", "within_s": 2, "assume_s": 0,
             "steps": [{"op": "compare", "terms": [{"quantity": "voltage", "rail": "core", "factor": 1}], "constant": -4.5, "strict": False}],
             "place": at | {"line": first + 1}},
            {"await": "operator", "prompt": 'Say "go"', "within_s": 60, "assume_s": 10,
             "place": at | {"line": first + 2}}, None, None])
        self.assertEqual([segment["segment"] for segment in document["segments"]], ["1", "2", "3", "4", "safe"])

    def test_marks_measurements_and_places(self):
        text = WAITS.replace("  raise lamp\n", '  for volts in [4 V, 5 V] {\n    repeat 2 {\n      step core to volts - 1 V; dwell 20 ms\n'
                             '      step core to volts\n      do wait_a_second\n      measure "at {volts}" over 500 ms\n    }\n  }\n'
                             '  raise lamp\n').replace("  lower lamp\n", '  mark "last"\n  lower lamp\n')
        self.write("marks.ramp", text)
        at = {line.strip(): number for number, line in enumerate(text.splitlines(), start=1)}
        for rows in ("changes", "instants"):
            document = json.loads(self.build("marks.ramp", "-", "--as", "json", "--bench", "lines.bench.yaml", "--rows", rows))
            self.assertEqual([[(mark["name"], mark["passes"], mark["place"]["line"]) for mark in segment["marks"]]
                              for segment in document["segments"]],
                             [[("end", [], at['mark "end"'])], [], [], [("last", [], at['mark "last"'])], []])
            measured = document["segments"][0]["measurements"]
            self.assertEqual([(one["name"], one["passes"], one["over_s"]) for one in measured],
                             [("at 4 V", [1], 0.5), ("at 4 V", [2], 0.5), ("at 5 V", [1], 0.5), ("at 5 V", [2], 0.5)])
            self.assertEqual({one["place"]["line"] for one in measured}, {at['measure "at {volts}" over 500 ms']})
            # The profile is at 1 s of `dwell`, then a pass takes 1.02 s.
            for number, one in enumerate(measured):
                self.assertAlmostEqual(one["time_s"], 1 + 1.02 * (number + 1), delta=1e-9)
            told = [row["channels"]["bench.ch1"] if rows == "instants" else row for row in document["segments"][0]["rows"]
                    if rows == "instants" or row["channel"] == "bench.ch1"]
            self.assertIn((3, at["step core to volts - 1 V; dwell 20 ms"]),
                          [(row["voltage_V"], row["place"]["line"]) for row in told])
            self.assertEqual({row["place"]["file"] for row in told}, {"marks.ramp"})

    def test_what_the_stop_says_is_always_written(self):
        # A line is taken to be low at first, and the limit and the output are as they were last: after a trip nobody knows.
        stop = "safe { lower lamp; limit core to 1 A; step core to 5 V; off core; dwell 20 ms }\nexpect no trip"
        for before in ("  raise lamp\n  dwell 20 ms\n", "  dwell 20 ms\n", "  lower lamp\n  dwell 20 ms\n"):
            profile = PROFILE.replace("rail core", "line lamp on bench.line1 output\nrail core").replace("expect no trip", stop)
            self.write("stop.ramp", profile.replace("  dwell 1 s\n", before))
            arguments = ("--bench", "lines.bench.yaml")
            document = json.loads(self.build("stop.ramp", "-", "--as", "json", *arguments))
            rows = [(row["time_s"], row["channel"], row["voltage_V"], row["current_A"], row["output"])
                    for row in document["segments"][-1]["rows"]]
            self.assertEqual(rows, [(0, "bench.ch1", 5, 1, False), (0, "bench.line1", None, None, False),
                                    (0.02, "bench.ch1", 5, 1, False)])
            fields = list(csv.DictReader(self.build("stop.ramp", "-", "--as", "csv", *arguments).splitlines()))
            self.assertIn({"segment": "safe", "time_s": "0.000000000", "channel": "bench.line1", "voltage_V": "", "current_A": "",
                           "output": "0"}, fields)
            instants = json.loads(self.build("stop.ramp", "-", "--as", "json", "--rows", "instants", *arguments))
            self.assertEqual(instants["segments"][-1]["rows"][0]["lines"], {"bench.line1": False})
            self.write("t.template", "[segment]\n{segment}\n[line]\n{line} {level:d}\n[row]\n")
            text = self.build("stop.ramp", "-", "--as", "template", "--template", "t.template", *arguments)
            self.assertTrue(text.endswith("safe\nbench.line1 0\n"), text)

    def test_origin(self):
        self.build("waits.ramp", "t.csv", "--as", "csv", "--bench", "lines.bench.yaml", "--set", "level=6 V")
        setup = json.loads((self.folder / "t.csv.setup.json").read_text())
        digest = lambda name: hashlib.sha256((self.folder / name).read_bytes()).hexdigest()
        self.assertEqual(setup["table_sha256"], digest("t.csv"))
        above, last = (self.folder / "t.csv.setup.json").read_text().split('  "above_sha256"')
        self.assertEqual(setup["above_sha256"], hashlib.sha256(above.encode()).hexdigest())
        self.assertEqual(last.count("\n"), 2)
        origin = setup["origin"]
        for file in (origin["profile"], *origin["imports"], origin["bench"], origin["load"]):
            self.assertEqual(file["sha256"], digest(file["name"]))
        self.assertEqual([origin[key]["name"] for key in ("profile", "bench", "load")],
                         ["waits.ramp", "lines.bench.yaml", "one.load.yaml"])
        self.assertEqual([file["name"] for file in origin["imports"]], ["more.ramp"])
        self.assertEqual(origin["parameters"], [{"name": "level", "value": 6, "text": "6 V", "set": True}])

    def test_two_days_as_a_list(self):
        table = "    table: {points: 256, repeats: 65535, channels: [ch1]}\n    channels:\n"
        self.write("plays.bench.yaml", BENCH.replace("    channels:\n", table))
        passes = "  repeat for 48 h {\n    step core to 3 V\n    dwell 5 min\n    ramp core to 3.6 V over 1 s\n    dwell 5 min\n  }\n"
        self.write("soak.ramp", "rail core on bench.ch1\nprotect core { overvoltage 5 V; fuse after 50 ms; overpower 2 W }\n"
                   "run {\n  limit core to 700 mA\n  on core\n" + passes + "  off core\n}\n")
        text = self.build("soak.ramp", "-", "--as", "list", "--bench", "plays.bench.yaml")
        # 48 h hold 287 whole passes of 601 s; they are the list's count.
        self.assertIn("LIST:COUNt 287", text)
        self.assertLess(len(text), 2500)

    def test_lists_of_two_supplies(self):
        memory = BENCH.replace("    channels:", "    table: {points: 4, channels: [ch1]}\n    channels:")
        second = memory[memory.index("  bench:"):].replace("  bench:", "  other:", 1)
        self.write("two.bench.yaml", memory + second)
        self.write("two.ramp", PROFILE.replace("rail core", "rail aux on other.ch1\nrail core", 1))
        arguments = ("--bench", "two.bench.yaml")
        self.assertEqual(self.run_it("check", "two.ramp", "--as", "list", *arguments).returncode, 0)
        done = self.run_it("build", "two.ramp", "--as", "list", "-o", "-", *arguments)
        self.assertEqual((done.returncode, done.stdout), (2, b""))
        self.assertIn(b"say which with --supply: `bench`, `other`", done.stderr)
        one = self.build("two.ramp", "-", "--as", "list", "--supply", "bench", *arguments)
        self.assertIn("SOURce1:LIST:VOLTage 5.000\n", one)
        done = self.run_it("build", "two.ramp", "--as", "list", "-o", "-", "--supply", "nope", *arguments)
        self.assertIn(b"the bench has no supply `nope`; those that play a list here: `bench`, `other`", done.stderr)
        other = self.build("two.ramp", "-", "--as", "list", "--supply", "other", *arguments)
        self.assertIn("SOURce1:LIST:VOLTage 0.000\n", other)
        self.assertEqual(self.run_it("check", "one.ramp", "--as", "list").returncode, 1)
        self.assertEqual(self.run_it("check", "one.ramp").returncode, 0)

    def test_a_short_memory_names_the_fewest_points_that_do(self):
        loop = "  repeat 5 { ramp core to 150 mV over 150 ms; step core to 0 V; dwell 150 ms }\n"
        self.write("loop.ramp", PROFILE.replace("  step core to level\n  dwell 1 s\n", loop).split("expect")[0])
        def needs(points):
            memory = BENCH.replace("    channels:", "    table: {points: %d, repeats: 1000}\n    channels:" % points)
            self.write("memory.bench.yaml", memory.replace("resolution: 1 mV", "resolution: 10 mV"))
            done = self.run_it("check", "loop.ramp", "--as", "list", "--bench", "memory.bench.yaml", "--format", "json")
            messages = [f["message"] for p in json.loads(done.stdout)["profiles"] for f in p["findings"] if f["severity"] == "error"]
            self.assertEqual(done.returncode, 1 if messages else 0)
            return [int(message.split("needs ")[1].split()[0]) for message in messages]
        (fewest,) = needs(3)
        self.assertEqual(needs(fewest - 1), [fewest])
        self.assertEqual(needs(fewest), [])

    def test_options_go_with_their_format(self):
        for arguments in (("--as", "list", "--rows", "instants"), ("--as", "csv", "--supply", "x"),
                          ("--as", "csv", "--ramp-error", "1 V"), ("--as", "list", "--ramp-error", "1 A")):
            self.assertEqual(self.run_it("build", "one.ramp", "-o", "-", *arguments).returncode, 2, arguments)
        self.assertEqual(self.run_it("check", "one.ramp", "--ramp-error", "1 V").returncode, 2)

    def test_same_input_same_bytes(self):
        for form in ("csv", "json"):
            self.build("one.ramp", "a", "--as", form)
            self.build("one.ramp", "b", "--as", form)
            self.assertEqual((self.folder / "a").read_bytes(), (self.folder / "b").read_bytes())
        self.build("one.ramp", "a", "--as", "csv")
        self.build("one.ramp", "b", "--as", "csv")
        self.assertEqual((self.folder / "a.setup.json").read_bytes(), (self.folder / "b.setup.json").read_bytes())

    def test_audit_takes_every_form(self):
        for profile, bench in self.all_tables():
            for form in ("csv", "json"):
                for rows in ("changes", "instants"):
                    self.build(profile, "t", "--as", form, "--bench", bench, "--rows", rows)
                    self.assertEqual(self.audit("t", bench), (0, []), (profile, form, rows))

    def without_digest(self, text):
        lines = text.splitlines(keepends=True)
        self.assertIn("above_sha256", lines[-2])
        return "".join(lines[:-3]) + lines[-3].rstrip(",\n") + "\n}\n"

    def test_audit_finds_mistakes_in_json(self):
        right = self.without_digest(self.build("one.ramp", "t.json", "--as", "json"))
        for old, new, name in (('"voltage_V": 5', '"voltage_V": 25', "voltage-range"), ('"voltage_V": 5', '"voltage_V": "5"', "table-malformed"),
                               ('"voltage_V": 5', '"voltage_V": 5.0001', "below-resolution"),
                               ('"voltage_V": 5', '"voltage_V": 5e0', None), ('"voltage_V": 5', '"voltage_V": 1e400', "table-malformed"),
                               ('"channel": "bench.ch1", "v', '"channel": "bench.ch2", "v', "table-malformed"),
                               ('"time_s": 1, "channel"', '"time_s": -1, "channel"', "table-malformed"), ('"segments"', '"parts"', "table-malformed"),
                               ('"output": true', '"output": null', "table-malformed")):
            self.assertIn(old, right)
            self.write("t.json", right.replace(old, new, 1))
            code, names = self.audit("t.json")
            self.assertEqual(code, 1 if name else 0, new)
            self.assertIn(name, names or [None], new)
        self.write("t.json", right[:-30])
        self.assertEqual(self.audit("t.json"), (1, ["table-malformed"]))
        self.write("t.json", "{" + '"a":[' * 100000)
        self.assertEqual(self.audit("t.json")[0], 1)
        self.write("t.json", right.replace('"segments": [', '"more": ' + "[" * 50 + "]" * 50 + ', "segments": ['))
        self.assertEqual(self.audit("t.json"), (0, []))

    def test_audit_of_the_origin(self):
        for form in ("csv", "json"):
            self.build("one.ramp", "t", "--as", form)
            self.assertEqual(self.audit("t", "one.bench.yaml", "--origin"), (0, []))
            before = (self.folder / "one.ramp").read_bytes()
            self.write("one.ramp", PROFILE + "# reviewed\n")
            self.assertEqual(self.audit("t", "one.bench.yaml", "--origin"), (1, ["origin-differs"]))
            (self.folder / "one.ramp").unlink()
            self.assertEqual(self.audit("t", "one.bench.yaml", "--origin"), (1, ["origin-differs"]))
            (self.folder / "one.ramp").write_bytes(before)
        self.build("one.ramp", "t", "--as", "csv")
        self.write("t", (self.folder / "t").read_text().replace("5.000", "4.000"))
        self.assertEqual(self.audit("t", "one.bench.yaml", "--origin"), (1, ["origin-differs"]))
        (self.folder / "t.setup.json").unlink()
        self.assertEqual(self.audit("t", "one.bench.yaml"), (0, ["origin-unknown"]))
        self.assertEqual(self.audit("t", "one.bench.yaml", "--origin"), (1, ["origin-unknown"]))
        self.write("t.setup.json", "[1, 2")
        self.assertEqual(self.audit("t", "one.bench.yaml", "--origin"), (1, ["origin-unknown"]))

    def test_json_holds_the_digest_of_the_lines_above_it(self):
        for rows in ("changes", "instants"):
            text = self.build("waits.ramp", "t.json", "--as", "json", "--bench", "lines.bench.yaml", "--rows", rows)
            above = "".join(text.splitlines(keepends=True)[:-2])
            self.assertEqual(json.loads(text)["above_sha256"], hashlib.sha256(above.encode()).hexdigest())
            self.assertEqual(self.audit("t.json", "lines.bench.yaml", "--origin"), (0, []))
            for old, new in (('"voltage_V": 5', '"voltage_V": 4'), ('"overvoltage_V": 12', '"overvoltage_V": 13'), ("      {", "     {")):
                self.assertIn(old, text)
                self.write("t.json", text.replace(old, new, 1))
                for arguments in ((), ("--origin",)):
                    self.assertEqual(self.audit("t.json", "lines.bench.yaml", *arguments), (1, ["origin-differs"]))

    def test_audit_finds_what_is_missing(self):
        text = self.build("waits.ramp", "t.csv", "--as", "csv", "--bench", "lines.bench.yaml")
        (self.folder / "t.csv.setup.json").unlink()
        header, *rows = text.splitlines(keepends=True)
        def found(lines, *more):
            self.write("t.csv", "".join(lines))
            code, names = self.audit("t.csv", "lines.bench.yaml", *more)
            return code, [name for name in names if name != "origin-unknown"]
        self.assertEqual(found([header, *rows]), (0, []))
        self.assertEqual(found(["\ufeff", header, *rows]), (0, []))
        self.assertEqual(found([header]), (1, ["table-malformed"]))
        self.assertEqual(found([header, *rows[:3], "\n", *rows[3:]]), (1, ["table-malformed"]))
        self.assertEqual(found([header] + [row for row in rows if row[0] != "2"]), (1, ["table-order"]))
        self.assertEqual(found([header] + [row for row in rows if row[0] != "1"]), (1, ["table-order"]))
        self.assertEqual(found([header] + [row.replace("3,", "5,", 1) if row[0] == "3" else row for row in rows]),
                         (1, ["table-order", "table-order"]))
        self.assertEqual(found([header] + [row for row in rows if row[0] == "s"] + [row for row in rows if row[0] != "s"])[0], 1)
        # With the set-up beside it, also what the table alone cannot tell.
        self.build("waits.ramp", "t.csv", "--as", "csv", "--bench", "lines.bench.yaml")
        for wanted in ("1234", "123s"):
            self.assertEqual(found([header] + [row for row in rows if row[0] in wanted]), (1, ["origin-differs"]))

    def test_audit_finds_what_is_missing_in_json(self):
        right = json.loads(self.build("waits.ramp", "t.json", "--as", "json", "--bench", "lines.bench.yaml"))
        del right["above_sha256"]
        def found(change):
            document = json.loads(json.dumps(right))
            change(document["segments"])
            self.write("t.json", json.dumps(document))
            return self.audit("t.json", "lines.bench.yaml")
        self.assertEqual(found(lambda segments: None), (0, []))
        self.assertEqual(found(lambda segments: segments.pop(1)), (1, ["table-order"]))
        # The one before it waits.
        self.assertEqual(found(lambda segments: segments.pop(3)), (1, ["table-order"]))
        self.assertEqual(found(lambda segments: segments[0].update(duration_s=1.5)), (1, ["table-order"]))
        self.assertEqual(found(lambda segments: segments[0].update(duration_s=1.0001)), (0, []))
        self.assertEqual(found(lambda segments: segments[1].update(rows=[])), (1, ["table-malformed"]))
        self.assertEqual(found(lambda segments: segments.clear()), (1, ["table-malformed"]))

    def test_audit_judges_the_set_up(self):
        bench = BENCH.replace("0 s .. 8 s", "0 s .. 8 s step 5 ms")
        self.write("one.bench.yaml", bench)
        without = BENCH.replace("fuse_by: current_limit, fuse_delay: 0 s .. 8 s, ", "")
        self.write("without.bench.yaml", without)
        for form in ("csv", "json"):
            self.build("one.ramp", "t", "--as", form)
            path = self.folder / ("t" if form == "json" else "t.setup.json")
            document = json.loads(path.read_text())
            document.pop("above_sha256", None)
            path.write_text(json.dumps(document))
            self.assertEqual(self.audit("t"), (0, []))
            self.assertEqual(self.audit("t", "without.bench.yaml"), (1, ["protection-unsupported"]))
            for key, value in (("overvoltage_V", 22.001), ("overvoltage_V", 0.9), ("overpower", {"power_W": 50.1, "delay_s": 0}),
                               ("fuse", {"delay_s": 0.052, "current_A": None, "switches_off": []}),
                               ("fuse", {"delay_s": 8.01, "current_A": None, "switches_off": []})):
                changed = json.loads(json.dumps(document))
                changed["setup"]["channels"][0]["protection"][key] = value
                path.write_text(json.dumps(changed))
                # 0.9 V would trip at the rows of 5 V as well.
                also = ["above-ceiling"] if value == 0.9 else []
                self.assertEqual(self.audit("t"), (1, also + ["protection-range"]), (form, key, value))
            # The channel has overpower without a delay, and no channel `ch9` that could go off with it.
            delayed = json.loads(json.dumps(document))
            delayed["setup"]["channels"][0]["protection"]["overpower"] = {"power_W": 4, "delay_s": 0.1}
            path.write_text(json.dumps(delayed))
            self.assertEqual(self.audit("t"), (1, ["protection-unsupported"]), form)
            coupled = json.loads(json.dumps(document))
            coupled["setup"]["channels"][0]["coupled"] = ["bench.ch9"]
            path.write_text(json.dumps(coupled))
            self.assertEqual(self.audit("t")[0], 1, form)
            # The last allowed values, and a double beside a whole step.
            for key, value in (("overvoltage_V", 22), ("fuse", {"delay_s": 0.1 + 0.2, "current_A": None, "switches_off": []})):
                changed = json.loads(json.dumps(document))
                changed["setup"]["channels"][0]["protection"][key] = value
                path.write_text(json.dumps(changed))
                self.assertEqual(self.audit("t"), (0, []), (form, key, value))

    def test_audit_finds_a_change_of_the_set_up(self):
        self.build("one.ramp", "t.csv", "--as", "csv")
        whole = (self.folder / "t.csv.setup.json").read_text()
        self.assertEqual(self.audit("t.csv"), (0, []))
        self.write("t.csv.setup.json", re.sub(r'"overvoltage_V": [0-9.]+', '"overvoltage_V": null', whole))
        self.assertEqual(self.audit("t.csv"), (1, ["origin-differs"]))
        # What the digest does not cover is no part of the file.
        self.write("t.csv.setup.json", whole.replace("\n}\n", ',\n  "more": 1\n}\n'))
        self.assertEqual(self.audit("t.csv"), (1, ["origin-unknown"]))

    def test_audit_holds_rows_to_the_ceiling_of_the_set_up(self):
        self.write("one.ramp", PROFILE.replace("overvoltage 12 V", "ceiling 6 V; overvoltage 12 V").replace(".. 10 V", ".. 6 V"))
        for form in ("csv", "json"):
            for rows in ("changes", "instants"):
                text = self.build("one.ramp", "t", "--as", form, "--rows", rows)
                text = self.without_digest(text) if form == "json" else text
                if form == "csv":
                    setup = json.loads((self.folder / "t.setup.json").read_text())
                    del setup["table_sha256"], setup["above_sha256"]
                    self.write("t.setup.json", json.dumps(setup))
                for volts, names in (("6", []), ("6.001", ["above-ceiling"])):
                    five = ('5.000', volts) if form == "csv" else ('"voltage_V": 5', '"voltage_V": ' + volts)
                    self.write("t", text.replace(*five))
                    self.assertEqual(self.audit("t"), (1 if names else 0, names), (form, rows, volts))
        # The set-up may stand below the rows.
        document = json.loads(text)
        document["segments"][0]["rows"][0]["channels"]["bench.ch1"]["voltage_V"] = 6.001
        self.write("t", json.dumps({key: document[key] for key in ("segments", "rampart", "origin", "setup", "title", "rows")}))
        self.assertEqual(self.audit("t"), (1, ["above-ceiling"]))
        # From a pipe, which cannot be read twice.
        done = self.run_it("audit", "-", "--bench", "one.bench.yaml", "--format", "json", stdin=(self.folder / "t").read_text())
        self.assertEqual([finding["name"] for finding in json.loads(done.stdout)["findings"]], ["above-ceiling"])

    def test_a_ceiling_in_series_is_held_by_the_sum(self):
        self.write("series.bench.yaml", BENCH + "      ch2: {like: ch1}\n")
        rows = "time_s,channel,voltage_V,current_A,output\n" + "".join(
            "%s,bench.ch%d,%s,1,1\n" % row for row in (("0", 1, "4"), ("0", 2, "8"), ("1", 1, "%s"), ("1", 2, "4"), ("2", 1, "8"), ("2", 2, "4")))
        setup = {"setup": {"rails": [{"rail": "core", "channels": ["bench.ch1", "bench.ch2"], "arrangement": "series",
                                      "ceiling_V": 12}],
                           "channels": [{"channel": "bench.ch1", "rail": "core"}, {"channel": "bench.ch2", "rail": "core"}], "lines": []}}
        self.write("t.csv.setup.json", json.dumps(setup))
        # The channels change places at 1 s: between the two rows of that instant they stand at 16 V together, after it at 12 V.
        self.write("t.csv", rows % "8")
        self.assertEqual(self.audit("t.csv", "series.bench.yaml"), (0, []))
        self.write("t.csv", rows % "8.001")
        self.assertEqual(self.audit("t.csv", "series.bench.yaml"), (1, ["above-ceiling"]))

    def test_audit_takes_keys_in_any_order(self):
        for rows in ("changes", "instants"):
            document = json.loads(self.build("waits.ramp", "t", "--as", "json", "--bench", "lines.bench.yaml", "--rows", rows))
            del document["above_sha256"]
            def turned(value):
                if isinstance(value, dict):
                    return {key: turned(inner) for key, inner in reversed(value.items())}
                return [turned(inner) for inner in value] if isinstance(value, list) else value
            for text in (json.dumps(turned(document)), json.dumps(document, sort_keys=True), json.dumps(turned(document), indent=1)):
                self.assertIn('"rows": [', text)
                self.write("t", text)
                self.assertEqual(self.audit("t", "lines.bench.yaml"), (0, []), text[:100])

    def test_what_the_digest_does_not_cover_is_refused(self):
        text = self.build("one.ramp", "t.json", "--as", "json")
        self.assertTrue(text.endswith('"\n}\n'))
        def found(changed):
            self.write("t.json", changed)
            return self.audit("t.json")
        self.assertEqual(found(text), (0, []))
        for more in ('"setup": {"rails": [], "channels": [], "lines": []}', '"segments": []', '"note": 1'):
            self.assertEqual(found(text[:-3] + ",\n  %s\n}\n" % more), (1, ["table-malformed"]), more)
            self.assertEqual(found(text[:-3] + ", %s\n}\n" % more), (1, ["table-malformed"]), more)
        # On the line of the digest, before it.
        self.assertEqual(found(text.replace('  "above_sha256"', '  "note": 1, "above_sha256"')), (1, ["origin-differs"]))
        self.assertEqual(found(text + "{}"), (1, ["table-malformed"]))

    def test_a_key_twice_is_refused_anywhere(self):
        right = self.without_digest(self.build("one.ramp", "t.json", "--as", "json"))
        for old in ('"title": ', '"setup": ', '"segments": ', '"voltage_V": 5', '"overvoltage_V": 12', '"duration_s": 1', '"time_s": 1'):
            self.assertIn(old, right)
            twice = old + ", " + old if old[-1].isdigit() else old + "null, " + old
            self.write("t.json", right.replace(old, twice, 1))
            self.assertEqual(self.audit("t.json"), (1, ["table-malformed"]), old)
        self.build("one.ramp", "t.csv", "--as", "csv")
        path = self.folder / "t.csv.setup.json"
        path.write_text(path.read_text().replace('"overvoltage_V": 12', '"overvoltage_V": 12, "overvoltage_V": 20'))
        self.assertEqual(self.audit("t.csv"), (1, ["origin-unknown"]))

    def test_a_broken_set_up_file(self):
        self.build("one.ramp", "t.csv", "--as", "csv")
        for text in ("{", "", "[]", "{}", '{"a": ' * 1000):
            self.write("t.csv.setup.json", text)
            for arguments in ((), ("--origin",)):
                self.assertEqual(self.audit("t.csv", "one.bench.yaml", *arguments), (1, ["origin-unknown"]), text)

    def test_one_finding_is_enough(self):
        done = self.run_it("audit", ".", "--bench", "one.bench.yaml")
        self.assertEqual((done.returncode, done.stderr.count(b"error:")), (2, 1))
        text = self.build("one.ramp", "t.json", "--as", "json")
        self.write("t.json", text[:text.index('"voltage_V": 5') + 13])
        done = self.run_it("audit", "t.json", "--bench", "one.bench.yaml")
        self.assertIn(b'"channel": "bench.ch1", "voltage_V": \n', done.stderr)
        self.assertEqual(done.stderr.count(b"time_s"), 1)

    def test_names_of_files(self):
        done = self.run_it("build", "one.ramp", "--as", "csv", "-o", "")
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"--output: the value is empty", done.stderr)
        (self.folder / os.fsdecode(b"caf\xe9.ramp")).write_bytes(PROFILE.encode())
        for form in ("csv", "json"):
            done = self.run_it("build", os.fsdecode(b"caf\xe9.ramp"), "--as", form, "-o", "t")
            self.assertEqual(done.returncode, 2)
            self.assertIn(b"its origin cannot name `caf?.ramp`: the name is not valid UTF-8", done.stderr)
            self.assertFalse((self.folder / "t").exists())

    def test_a_link_stays_and_its_target_is_written(self):
        (self.folder / "there").mkdir()
        for target in ("there/t.csv", "there/new.csv"):
            (self.folder / "link").unlink(missing_ok=True)
            (self.folder / "link").symlink_to(target)
            self.write("there/t.csv", "old\n")
            text = self.build("one.ramp", "link", "--as", "csv")
            self.assertTrue((self.folder / "link").is_symlink())
            self.assertEqual((self.folder / target).read_text(), text)
            self.assertEqual(sorted(os.listdir(self.folder / "there")), sorted({"t.csv", target[6:]}))
            self.assertEqual(self.audit("link"), (0, []))
        (self.folder / "round").symlink_to("round")
        self.assertEqual(self.run_it("build", "one.ramp", "--as", "csv", "-o", "round").returncode, 2)

    def test_both_files_or_none(self):
        self.write("t.csv", "old\n")
        (self.folder / "t.csv.setup.json").mkdir()
        done = self.run_it("build", "one.ramp", "--as", "csv", "-o", "t.csv")
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"t.csv.setup.json: is a directory", done.stderr)
        self.assertEqual((self.folder / "t.csv").read_text(), "old\n")

    def test_devices_and_pipes_get_the_table_alone(self):
        os.mkfifo(self.folder / "pipe")
        with subprocess.Popen(["cat", "pipe"], cwd=self.folder, stdout=subprocess.PIPE) as reader:
            self.assertEqual(self.run_it("build", "one.ramp", "--as", "csv", "-o", "pipe").returncode, 0)
            self.assertTrue(reader.stdout.read().startswith(b"time_s,"))
        self.assertFalse((self.folder / "pipe.setup.json").exists())

    def long_profile(self, passes):
        """Stairs of 10 ms, as many as one writes from a loop of so many passes."""
        self.write("long.ramp", PROFILE.replace("  step core to level\n", """  repeat %d {
    ramp core to 5 V over 10 s
    repeat 3 { step core to 4 V; dwell 1 s; step core to 5 V; dwell 1.003 s }
    ramp core to 0 V over 10 s
  }
  step core to level
""" % passes))

    # Long ones are written and digested by threads of their own.
    def test_long_tables_have_the_digest_that_hashlib_takes(self):
        self.long_profile(30)
        table = self.build("long.ramp", "t.csv", "--as", "csv")
        self.assertGreater(len(table), 2_000_000)
        setup = json.loads((self.folder / "t.csv.setup.json").read_text(encoding="utf-8"))
        self.assertEqual(setup["table_sha256"], hashlib.sha256(table.encode()).hexdigest())
        self.assertEqual(self.build("long.ramp", "-", "--as", "csv"), table)
        above, below = self.build("long.ramp", "t.json", "--as", "json").split('  "above_sha256"')
        self.assertEqual(json.loads('{"above_sha256"' + below)["above_sha256"], hashlib.sha256(above.encode()).hexdigest())

    def test_a_report_counts_the_rows_of_a_table_that_nobody_would_make(self):
        rows = {}
        for passes in (2, 3):
            self.long_profile(passes)
            rows[passes] = self.build("long.ramp", "t.csv", "--as", "csv").count("\n") - 1
        passes = 100_000
        self.long_profile(passes)
        self.assertEqual(self.run_it("report", "long.ramp", "-o", "t.html").returncode, 0)
        page = (self.folder / "t.html").read_text(encoding="utf-8")
        # Each pass after the first has as many rows as the others.
        expected = rows[2] + (passes - 2) * (rows[3] - rows[2])
        self.assertIn("The table has %d rows in 1 segment" % expected, page)

    def test_a_full_disk(self):
        self.long_profile(30)
        with open("/dev/full", "wb") as full:
            self.assertEqual(self.run_it("build", "long.ramp", "--as", "csv", "-o", "-", stdout=full).returncode, 2)
        for form in ("csv", "json"):
            with open("/dev/full", "wb") as full:
                done = self.run_it("build", "one.ramp", "--as", form, "-o", "-", stdout=full)
            self.assertEqual(done.returncode, 2)
            self.assertIn(b"no space left on device", done.stderr)

    @unittest.skipUnless(shutil.which("sqlite3"), "the package sqlite3 is not installed")
    def test_sqlite_imports_csv(self):
        self.build("one.ramp", "t.csv", "--as", "csv")
        done = subprocess.run(["sqlite3", ":memory:", ".import --csv t.csv t",
                               "select count(*), max(cast(voltage_V as real)), max(cast(time_s as real)) from t"],
                              cwd=self.folder, capture_output=True, text=True, check=True)
        self.assertEqual(done.stdout.strip(), "2|5.0|1.0")


if __name__ == "__main__":
    main()
