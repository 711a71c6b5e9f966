#!/usr/bin/env python3
"""The JSON documents hold their keys, and numbers that a pocket calculator gives too. usage: json_test.py PROGRAM"""
import json
import pathlib

import jsonschema

from program import BENCH, PROFILE, InFolder, main

ROOT = pathlib.Path(__file__).resolve().parents[2]
RAIL_KEYS = {"energy_J", "charge_C", "peak_current_A", "peak_power_W", "peak_voltage_V", "cc_time_s",
             "final_voltage_V", "trip"}
FINDING_KEYS = {"name", "severity", "message", "file", "line", "column", "end_line", "end_column", "notes", "hint"}


def refuse(word):
    raise ValueError("JSON (RFC 8259) has no " + word)


class Json(InFolder):
    def document(self, *arguments, code=0):
        done = self.run_it(*arguments, "--format", "json")
        self.assertEqual(done.returncode, code, done.stderr)
        document = json.loads(done.stdout, parse_constant=refuse)
        schema = json.loads((ROOT / ("docs/%s.schema.json" % arguments[0])).read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator(schema).validate(document)
        return document

    def test_a_linked_trip_names_what_it_is_linked_with(self):
        self.write("two.bench.yaml", BENCH.replace("channels:\n", "channels:\n      ch2: {like: ch1}\n", 1))
        self.write("two.load.yaml", "load: two\nrails:\n  core:\n    elements: [{kind: resistor, resistance: 1 Ohm}]\n")
        self.write("two.ramp", """bench "two.bench.yaml"
load "two.load.yaml"
rail core on bench.ch1
rail io on bench.ch2
protect core { overvoltage 6 V; fuse after 20 ms linked with io }
protect io { overvoltage 6 V; fuse after 20 ms }
run { limit core to 500 mA, io to 500 mA; on core, io; ramp core to 5 V, io to 5 V over 1 s; dwell 1 s; off core, io }
safe { off core, io }
""")
        trips = {name: rail["trip"] for name, rail in self.document("simulate", "two.ramp", code=1)["rails"].items()}
        self.assertEqual((trips["core"]["cause"], trips["io"]["cause"], trips["io"]["by"]), ("fuse", "linked", "core"))
        self.assertEqual(trips["core"]["time_s"], trips["io"]["time_s"])
        self.assertNotIn("by", trips["core"])

    def test_simulation(self):
        answer = self.document("simulate", "one.ramp")
        for key in ("profile", "findings", "duration_s", "rails", "total", "events", "rules", "expectations", "margins"):
            self.assertIn(key, answer)
        core = answer["rails"]["core"]
        self.assertLessEqual(RAIL_KEYS, core.keys())
        # Ohm's and Joule's law: 5 V, 10 Ohm, 1 s.
        for key, value in (("energy_J", 2.5), ("charge_C", 0.5), ("peak_current_A", 0.5), ("peak_power_W", 2.5),
                           ("peak_voltage_V", 5), ("cc_time_s", 0)):
            self.assertAlmostEqual(core[key], value, delta=1e-9)
        self.assertIsNone(core["trip"])
        self.assertAlmostEqual(answer["duration_s"], 1, delta=1e-12)
        self.assertAlmostEqual(answer["total"]["energy_J"], 2.5, delta=1e-9)
        self.assertAlmostEqual(answer["total"]["peak_power_W"], 2.5, delta=1e-9)
        self.assertEqual([(event["kind"], event["rail"]) for event in answer["events"]],
                         [("on", "core"), ("mark", None), ("off", "core")])
        self.assertEqual([(item["text"], item["holds"]) for item in answer["expectations"]],
                         [("no trip", True), ('voltage(core) at "end" >= 4.9 V', True)])
        self.assertAlmostEqual(answer["expectations"][1]["value"], 5, delta=1e-9)
        self.assertAlmostEqual(answer["expectations"][1]["margin"], 0.1, delta=1e-9)
        self.assertEqual(answer["expectations"][1]["unit"], "V")
        verdict = answer["verdict"]
        self.assertEqual((verdict["pass"], verdict["setpoints_only"]), (True, False))
        self.assertLessEqual(len(verdict["tightest"]), 3)
        shares = [one["margin"] / one["limit"] for one in verdict["tightest"]]
        self.assertEqual(shares, sorted(shares))
        margins = {item["what"]: item for item in answer["margins"]}
        self.assertAlmostEqual(margins["overvoltage"]["margin"], 7, delta=1e-9)
        self.assertAlmostEqual(margins["overpower"]["margin"], 1.5, delta=1e-9)
        self.assertAlmostEqual(margins["fuse"]["margin"], 0.05, delta=1e-9)

    def test_charging_at_the_limit(self):
        # dV/dt = I/C: 1000 uF at 0.1 A rises 100 V/s, so 12 V take 0.12 s, 12 mC and half of C V^2, 72 mJ.
        self.write("one.load.yaml", "load: C\nrails: {core: {elements: [{kind: capacitor, capacitance: 1000 uF}]}}\n")
        self.write("one.ramp", PROFILE.replace("to 1 A", "to 100 mA").replace("= 5 V in 1 V .. 10 V", "= 12 V")
                   .replace("overvoltage 12 V; fuse after 50 ms", "overvoltage 13 V; fuse after 200 ms"))
        answer = self.document("simulate", "one.ramp")
        core = answer["rails"]["core"]
        for key, value in (("cc_time_s", 0.12), ("energy_J", 0.072), ("charge_C", 0.012), ("peak_current_A", 0.1),
                           ("final_voltage_V", 12)):
            self.assertAlmostEqual(core[key], value, delta=1e-9)
        times = {event["kind"]: event["time_s"] for event in answer["events"]}
        self.assertEqual(times["cc-enter"], 0)
        self.assertAlmostEqual(times["cc-exit"], 0.12, delta=1e-9)
        self.assertEqual([finding["name"] for finding in answer["findings"]],
                         ["overpower-never-acts", "left-charged", "current-limited"])

    def test_converter(self):
        # 12 V/s up and down straight, without a wire: 9 V after 0.75 s of the rise, 7.5 V after 0.375 s of the fall.
        self.write("one.bench.yaml", BENCH.replace("resolution: 1 ms}", "resolution: 1 ms, interpolation: linear}"))
        self.write("one.load.yaml", "load: C\nrails: {core: {elements: [{name: buck, kind: constant_power, power: 1 W, "
                   "starts_at: 9 V, stops_at: 7.5 V, input_capacitance: 100 uF}]}}\n")
        self.write("one.ramp", PROFILE.split("run {")[0].replace("overvoltage 12 V", "overvoltage 13 V") +
                   "run { limit core to 1 A; on core; dwell 100 ms; repeat 2 { ramp core to 12 V over 1 s; dwell 1 s\n"
                   "ramp core to 0 V over 1 s; dwell 1 s }; off core }")
        answer = self.document("simulate", "one.ramp")
        got = [(event["kind"], event["rail"], event["part"], event["pass"]) for event in answer["events"] if "part" in event]
        self.assertEqual(got, [("converter-start", "core", "buck", 1), ("converter-stop", "core", "buck", 1),
                               ("converter-start", "core", "buck", 2), ("converter-stop", "core", "buck", 2)])
        times = [event["time_s"] for event in answer["events"] if "part" in event]
        for time, expected in zip(times, (0.85, 2.475, 4.85, 6.475)):
            self.assertAlmostEqual(time, expected, delta=1e-9)

    def test_trip(self):
        self.write("one.ramp", PROFILE.replace("to 1 A", "to 100 mA"))
        answer = self.document("simulate", "one.ramp", code=1)
        trip = answer["rails"]["core"]["trip"]
        self.assertEqual((trip["cause"], trip["place"], trip["pass"]), ("fuse", {"file": "one.ramp", "line": 10, "column": 3}, None))
        self.assertAlmostEqual(trip["time_s"], 0.05, delta=1e-12)
        # 0.1 A through 10 Ohm is 1 V, for 50 ms: 5 mJ.
        self.assertAlmostEqual(answer["rails"]["core"]["energy_J"], 0.005, delta=1e-12)
        self.assertFalse(answer["expectations"][0]["holds"])
        self.assertIn("trip-predicted", [finding["name"] for finding in answer["findings"]])

    def test_findings(self):
        # Columns count characters: the text before the value holds one that takes two bytes.
        self.write("one.ramp", PROFILE.replace("step core to level", 'mark "µ"; step core to 25 V'))
        answer = self.document("check", "one.ramp", "missing.ramp", code=2)
        self.assertEqual([item["profile"] for item in answer["profiles"]], ["one.ramp", "missing.ramp"])
        findings = answer["profiles"][0]["findings"]
        for finding in findings:
            self.assertEqual(finding.keys(), FINDING_KEYS)
        found = next(item for item in findings if item["name"] == "voltage-range")
        self.assertEqual((found["severity"], found["file"], found["line"], found["column"], found["end_line"],
                          found["end_column"]), ("error", "one.ramp", 10, 26, 10, 30))
        self.assertEqual([(note["file"], note["line"]) for note in found["notes"]], [("one.bench.yaml", 7)])
        self.assertEqual(answer["profiles"][1]["findings"][0]["name"], "unreadable")

    def test_without_a_table_there_are_findings_alone(self):
        self.write("one.ramp", "rail\n")
        answer = self.document("simulate", "one.ramp", code=1)
        self.assertNotIn("rails", answer)
        self.assertEqual(answer["findings"][0]["name"], "syntax")


if __name__ == "__main__":
    main()
