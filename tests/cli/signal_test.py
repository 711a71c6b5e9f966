#!/usr/bin/env python3
"""Tables for circuit simulators, viewers of waveforms and templates, read by others. usage: signal_test.py PROGRAM"""
import csv
import json
import pathlib
import re
import shutil
import subprocess
import unittest
from fractions import Fraction

from program import BENCH, PROFILE, InFolder, main

ROOT = pathlib.Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "profiles/templates"
RC_LOAD = """load: A capacitor behind a wire
rails: {core: {wire: 10 Ohm, elements: [{kind: capacitor, capacitance: 1000 uF}, {kind: resistor, resistance: 10 Ohm}]}}
"""
RC_PROFILE = """profile "Steps, a ramp and a decay"
bench "one.bench.yaml"
load "rc.load.yaml"
rail core on bench.ch1
protect core { overvoltage 12 V; fuse after 50 ms; overpower 4 W }
run {
  limit core to 1 A
  on core
  step core to 5 V
  dwell 1 ms
  mark "early"
  dwell 99 ms
  mark "late"
  ramp core to 2 V over 100 ms
  mark "ramped"
  off core
  dwell 10 ms
  mark "decayed"
  dwell 10 ms
}
"""
MARKS = {"early": 0.001, "late": 0.1, "ramped": 0.2, "decayed": 0.21}
DECK = """* the same load
.include rails.cir
Rw core n 10
C1 n 0 1000u ic=0
R1 n 0 10
.tran 20u 0.22 0 20u uic
%s
.end
"""
WAITS = """profile "Waits"
bench "lines.bench.yaml"
line lamp on bench.line1 output
rail core on bench.ch1
protect core { overvoltage 12 V; fuse after 50 ms; overpower 4 W }
run {
  limit core to 1 A
  on core
  raise lamp
  step core to 5 V
  dwell 1 s
  await operator "Go \\{on}" within 60 s assume 2.5 s
  lower lamp
  step core to 0 V
  dwell 20 ms
  off core
}
safe { off core; dwell 20 ms; limit core to 500 mA; dwell 20 ms }
"""


class VcdReader:
    """Reads a value change dump as IEEE 1364-2005, chapter 18, writes it, and nothing more lenient.

    The keywords, kinds and units are from readers of the format (second hand). From memory: that a timescale is 1, 10 or
    100 of a unit, and which characters a code is made of."""

    def __init__(self, text):
        self.words = text.split()
        self.names, self.kinds, self.changes, self.scope = {}, {}, [], []
        self.time, self.scale, self.dumping, self.seen = None, None, False, set()
        while self.words:
            self.take()
        assert not self.scope and not self.dumping

    def section(self):
        end = self.words.index("$end")
        words, self.words = self.words[:end], self.words[end + 1:]
        return words

    def take(self):
        word = self.words.pop(0)
        if word == "$timescale":
            number, unit = re.fullmatch("(10*) ?([a-z]+)", " ".join(self.section())).groups()
            assert number in ("1", "10", "100")
            self.scale = int(number) * Fraction(1, {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}[unit])
        elif word == "$scope":
            kind, name = self.section()
            assert kind == "module"
            self.scope.append(name)
        elif word == "$upscope":
            assert self.section() == []
            self.scope.pop()
        elif word == "$var":
            kind, width, code, name = self.section()
            assert (kind, width) in (("real", "64"), ("wire", "1")) and code not in self.names
            assert re.fullmatch("[!-~]+", code)
            self.names[code], self.kinds[code] = ".".join(self.scope + [name]), kind
        elif word in ("$version", "$comment", "$date"):
            self.section()
        elif word == "$enddefinitions":
            assert self.section() == [] and self.scale
        elif word == "$dumpvars":
            self.dumping = True
        elif word == "$end":
            assert self.dumping and self.seen == set(self.names)
            self.dumping = False
        elif word[0] == "#":
            time = int(word[1:])
            assert self.time is None or time > self.time
            self.time = time
        elif word[0] == "r":
            self.change(self.words.pop(0), float(word[1:]), "real")
        else:
            assert word[0] in "01x"
            self.change(word[1:], word[0], "wire")

    def change(self, code, value, kind):
        assert self.kinds[code] == kind
        self.seen.add(code)
        self.changes.append((self.time * self.scale, self.names[code], value))


class Signals(InFolder):
    def setUp(self):
        super().setUp()
        self.write("rc.load.yaml", RC_LOAD)
        self.write("rc.ramp", RC_PROFILE)
        self.write("lines.bench.yaml", BENCH.replace("    channels:", "    lines: [line1]\n    channels:"))
        self.write("waits.ramp", WAITS)
        reversed_rail = PROFILE.replace("ch1", "ch1 reversed").replace("to level", "to 0 V - level")
        self.write("reversed.ramp", reversed_rail.replace(">= 4.9 V", "<= -4.9 V"))

    def build(self, profile, form, *arguments):
        done = self.run_it("build", profile, "--as", form, "-o", "-", *arguments)
        self.assertEqual(done.returncode, 0, done.stderr.decode())
        return done.stdout.decode()

    def rows(self, profile):
        document = json.loads(self.build(profile, "json"))
        return [(segment["segment"], row) for segment in document["segments"] for row in segment["rows"]]

    @unittest.skipUnless(shutil.which("ngspice"), "the package ngspice is not installed")
    def test_a_circuit_simulator_sees_what_simulate_says(self):
        self.write("rails.cir", self.build("rc.ramp", "spice"))
        measures = "\n".join(".meas tran %s FIND v(n) AT=%g" % (mark, time - 2e-6) for mark, time in MARKS.items())
        self.write("deck.cir", DECK % measures)
        done = subprocess.run(["ngspice", "-b", "deck.cir"], cwd=self.folder, capture_output=True, text=True, timeout=60)
        found = dict(re.findall(r"^(\w+)\s+=\s+(\S+)", done.stdout, re.MULTILINE))
        self.write("rc.ramp", RC_PROFILE + "".join('expect voltage(core) at "%s" >= 0 V\n' % mark for mark in MARKS))
        answer = json.loads(self.run_it("simulate", "rc.ramp", "--format", "json").stdout)
        values = [expectation["value"] for expectation in answer["expectations"]]
        self.assertEqual(len(values), len(MARKS))
        for mark, value in zip(MARKS, values):
            # 1 mOhm of switch and edges of 1 us are all that differ.
            self.assertAlmostEqual(float(found[mark]), value, delta=2e-3, msg=mark + done.stdout)

    def test_waveforms_say_what_rows_say(self):
        for profile in ("one.ramp", "rc.ramp"):
            vcd = VcdReader(self.build(profile, "vcd"))
            signals = {"voltage_V": "core.setpoint_V", "current_A": "core.limit_A", "output": "core.output"}
            for key, name in signals.items():
                changes, last = [], None
                for _, row in self.rows(profile):
                    value = ("1" if row[key] else "0") if key == "output" else row[key]
                    if value != last:
                        changes.append((round(row["time_s"] * 10**9), value))
                    last = value
                self.assertEqual([(time * 10**9, value) for time, signal, value in vcd.changes if signal == name], changes)
        self.assertEqual(VcdReader(self.build("one.ramp", "vcd")).scale, 1)
        # Stairs of 10 ms.
        self.assertEqual(VcdReader(self.build("rc.ramp", "vcd")).scale, Fraction(1, 100))

    def test_waveforms_go_on_after_a_wait(self):
        vcd = VcdReader(self.build("waits.ramp", "vcd"))
        self.assertEqual([(float(time), value) for time, name, value in vcd.changes if name == "lamp"], [(0, "1"), (3.5, "0")])
        self.assertEqual([(float(time), value) for time, name, value in vcd.changes if name == "core.output"],
                         [(0, "1"), (3.52, "0")])

    def test_a_viewer_of_waveforms_reads_every_change(self):
        # The converters of the viewer gtkwave: into its own compact form and back.
        for profile in ("one.ramp", "rc.ramp", "waits.ramp", "reversed.ramp"):
            self.write("t.vcd", self.build(profile, "vcd"))
            subprocess.run(["vcd2fst", "t.vcd", "t.fst"], cwd=self.folder, check=True, timeout=60)
            back = subprocess.run(["fst2vcd", "t.fst"], cwd=self.folder, check=True, capture_output=True, text=True, timeout=60)
            ours, theirs = (VcdReader(text) for text in ((self.folder / "t.vcd").read_text(), back.stdout))
            self.assertGreater(len(ours.changes), 3)
            # Those of one instant come in an order of its own.
            self.assertEqual(sorted(theirs.changes, key=str), sorted(ours.changes, key=str))
            self.assertEqual(theirs.time * theirs.scale, ours.time * ours.scale)

    def test_a_reversed_rail_is_negative_at_its_node_and_positive_at_its_channel(self):
        self.assertEqual({row["voltage_V"] for _, row in self.rows("reversed.ramp")}, {5})
        vcd = VcdReader(self.build("reversed.ramp", "vcd"))
        self.assertEqual({value for _, name, value in vcd.changes if name == "core.setpoint_V"}, {-5})
        self.write("rails.cir", self.build("reversed.ramp", "spice"))
        # 5 V against node 0 through 10 Ohm (Ohm's law); the switch has 1 mOhm.
        self.write("deck.cir", "* reversed\n.include rails.cir\nR1 core 0 10\n.tran 1m 0.9\n.meas tran v FIND v(core) AT=0.5\n"
                               ".meas tran i FIND i(V_core_set) AT=0.5\n.print tran v(core)\n.end\n")
        done = subprocess.run(["ngspice", "-b", "deck.cir"], cwd=self.folder, capture_output=True, text=True, timeout=60)
        found = dict(re.findall(r"^(\w+)\s+=\s+(\S+)", done.stdout, re.MULTILINE))
        self.assertAlmostEqual(float(found["v"]), -5, delta=1e-3)
        self.assertAlmostEqual(float(found["i"]), 0.5, delta=1e-3)

    def test_a_supply_that_runs_straight_stays_while_a_wait_lasts(self):
        self.write("line.bench.yaml", BENCH.replace("    channels:", "    lines: [line2]\n    channels:").replace(
            "resolution: 1 ms}", "resolution: 1 ms, interpolation: linear}"))
        self.write("wait.ramp", 'profile "p"\nbench "line.bench.yaml"\nrail core on bench.ch1\nline go on bench.line2 input\n'
                   "run {\n  limit core to 1 A\n  on core\n  dwell 50 ms\n  await go high within 9 s assume 1 s\n"
                   "  step core to 10 V\n  dwell 100 ms\n}\n")
        self.write("rails.cir", self.build("wait.ramp", "spice"))
        # By hand: 0 V until the wait is over at 1.05 s, 10 V from then on.
        self.write("deck.cir", "* wait\n.include rails.cir\nR1 core 0 1k\n.tran 1m 1.12\n.meas tran before FIND v(core_set) AT=1.04\n"
                               ".meas tran after FIND v(core_set) AT=1.06\n.print tran v(core)\n.end\n")
        done = subprocess.run(["ngspice", "-b", "deck.cir"], cwd=self.folder, capture_output=True, text=True, timeout=60)
        found = dict(re.findall(r"^(\w+)\s+=\s+(\S+)", done.stdout, re.MULTILINE))
        self.assertAlmostEqual(float(found["before"]), 0, delta=1e-6, msg=done.stdout)
        self.assertAlmostEqual(float(found["after"]), 10, delta=1e-6)

    def test_changes_closer_than_an_edge_stay_where_they_are(self):
        self.write("fast.bench.yaml", BENCH.replace("minimum_step: 10 ms, resolution: 1 ms", "minimum_step: 1 ns, resolution: 1 ns"))
        self.write("fast.ramp", 'profile "p"\nbench "fast.bench.yaml"\nrail core on bench.ch1\nrun {\n  limit core to 1 A\n  on core\n'
                   "  dwell 10 us\n  step core to 1 V\n  dwell 300 ns\n  step core to 2 V\n  dwell 1 ns\n  step core to 3 V\n"
                   "  dwell 10 us\n}\n")
        points = re.search(r"V_core_set core_set 0 PWL\(\n(.*?)\+ \)", self.build("fast.ramp", "spice"), re.DOTALL).group(1)
        # By hand: a jump begins at its instant and takes half the time to the next one, or 1 us.
        self.assertEqual([tuple(map(Fraction, line.split()[1:])) for line in points.splitlines()],
                         [tuple(map(Fraction, pair.split())) for pair in (
                             "0 0", "10e-6 0", "10.15e-6 1", "10.3e-6 1", "10.3005e-6 2", "10.301e-6 2", "11.301e-6 3")])

    def test_sources_have_names_of_their_own(self):
        self.write("two.bench.yaml", BENCH + "      ch2: {like: ch1}\n      ch3: {like: ch1}\n")
        self.write("two.ramp", 'profile "p"\nbench "two.bench.yaml"\nrail gnd on bench.ch1\nrail Core on bench.ch2\n'
                   "rail core on bench.ch3\nrun { dwell 20 ms }\n")
        text = self.build("two.ramp", "spice")
        self.assertEqual(re.findall(r"^S_(\S+)", text, re.MULTILINE), ["gnd_2", "Core", "core_2"])

    def test_the_examples_of_templates(self):
        text = self.build("waits.ramp", "template", "--template", str(TEMPLATES / "python-list.template"))
        space = {}
        exec(text, space)
        self.assertEqual(len(space["ROWS"]), len(self.rows("waits.ramp")))
        for (segment, row), (name, time, channel, voltage, current, output, _) in zip(self.rows("waits.ramp"), space["ROWS"]):
            number = lambda word: float(word) if word else None
            self.assertEqual((name, float(time), channel), (segment, row["time_s"], row["channel"]))
            self.assertEqual((number(voltage), number(current)), (row["voltage_V"], row["current_A"]))
            self.assertEqual(output, "" if row["output"] is None else str(int(row["output"])))
        text = self.build("waits.ramp", "template", "--template", str(TEMPLATES / "decimal-comma.template"))
        lines = [line for line in csv.DictReader(text.splitlines(), delimiter=";") if not line["channel"].startswith("wait")]
        self.assertEqual([line["voltage_V"] for line in lines if line["segment"] == "1"], ["5", "", "5"])
        text = self.build("waits.ramp", "template", "--template", str(TEMPLATES / "timed-script.template"))
        self.assertIn("wait 1000 ms; set bench.ch1 1 A 5 V 1\n", text)
        self.assertIn('hold until operator "Go {on}", at most 60 s\n', text)
        self.assertIn("protect bench.ch1 overvoltage=12 fuse_s=0.05 fuse_A= overpower=4 overpower_s=0 sense=local with=\n", text)
        self.assertIn("line bench.line1 output rails= role=driven by rows\n", text)

    def test_a_prompt_breaks_no_column(self):
        prompt = 'say "a; b", then c'
        self.write("waits.ramp", WAITS.replace("Go \\{on}", prompt.replace('"', '\\"')))
        text = self.build("waits.ramp", "template", "--template", str(TEMPLATES / "decimal-comma.template"))
        rows = list(csv.reader(text.splitlines(), delimiter=";"))
        self.assertEqual({len(row) for row in rows}, {8})
        self.assertEqual([row[3] for row in rows if row[2] == "wait for operator"], [prompt])
        self.write("t.template", "[segment]\n[line]\n[row]\n[wait]\n{what:j}\n")
        self.assertEqual(json.loads(self.build("waits.ramp", "template", "--template", "t.template").splitlines()[-1]), prompt)

    def test_the_examples_of_templates_are_exact(self):
        self.write("fast.bench.yaml", BENCH.replace("minimum_step: 10 ms, resolution: 1 ms", "minimum_step: 500 us, resolution: 500 us"))
        self.write("fast.ramp", 'profile "p"\nbench "fast.bench.yaml"\nrail core on bench.ch1\nrun {\n  limit core to 1 A\n  on core\n'
                   "  dwell 500 us\n  ramp core to 1 V over 1 s\n  dwell 500 us\n  off core\n}\n")
        exact = json.loads(self.build("fast.ramp", "json"), parse_float=Fraction)["segments"][0]["rows"]
        wanted = [(Fraction(row["time_s"]), Fraction(row["voltage_V"])) for row in exact]
        self.assertGreater(len(wanted), 900)
        script = self.build("fast.ramp", "template", "--template", str(TEMPLATES / "timed-script.template"))
        times, time = [], Fraction(0)
        for wait, voltage in re.findall(r"^wait (\S+) ms; set bench.ch1 \S+ A (\S+) V", script, re.MULTILINE):
            time += Fraction(wait) / 1000
            times.append((time, Fraction(voltage)))
        self.assertEqual(times, wanted)
        space = {}
        exec(self.build("fast.ramp", "template", "--template", str(TEMPLATES / "python-list.template")), space)
        self.assertEqual([(Fraction(row[1]), Fraction(row[3])) for row in space["ROWS"]], wanted)
        text = self.build("fast.ramp", "template", "--template", str(TEMPLATES / "decimal-comma.template"))
        number = lambda word: Fraction(word.replace(",", "."))
        self.assertEqual([(number(row["time_s"]), number(row["voltage_V"])) for row in csv.DictReader(text.splitlines(), delimiter=";")],
                         wanted)

    def test_a_template_that_would_round_is_refused(self):
        self.write("slow.ramp", PROFILE.replace("dwell 1 s", "dwell 1.5 s").replace("level = 5 V", "level = 5.001 V"))
        for field, value in (("{wait_s:.0f}", "1.5"), ("{time_s:+08.0Lf}", "1.5"), ("{voltage_V:.2f}", "5.001")):
            line, column, message = self.bad("[row]\nx %s\n" % field, "slow.ramp")[0]
            self.assertEqual((line, column), (2, 3))
            self.assertIn("is %s here, and `%s` cannot write that exactly" % (value, field), message)
        self.write("third.ramp", PROFILE.replace("overvoltage 12 V", "overvoltage 40 V / 3"))
        self.assertIn("`overvoltage_V` is not a decimal number", self.bad("[setup]\n{overvoltage_V}\n[row]\n", "third.ramp")[0][2])
        self.write("t.template", "[row]\n{time_s:.1f}|{time_s:+08.2Lf}|{voltage_V:>7}|{voltage_V:*<6}|{current_A:^5.1f}|{voltage_V: .3f}\n")
        # By hand, after the format strings of the fmt library.
        self.assertEqual(self.build("slow.ramp", "template", "--template", "t.template"),
                         "0.0|+0000,00|  5.001|5.001*| 1.0 | 5.001\n1.5|+0001,50|  5.001|5.001*| 1.0 | 5.001\n")

    def test_a_template_that_hides_straight_runs_is_refused(self):
        self.write("one.bench.yaml", BENCH.replace("resolution: 1 ms}", "resolution: 1 ms, interpolation: linear}"))
        self.assertIn("`bench.ch1` moves along straight lines between rows", self.bad("[row]\n{time_s}\n")[0][2])
        for text in ("[row]\n{time_s} {interpolation}\n", "[setup]\n{channel} {interpolation}\n[row]\n{time_s}\n"):
            self.write("t.template", text)
            self.assertIn("linear", self.build("one.ramp", "template", "--template", "t.template"))

    def test_a_template_with_a_set_up_says_what_lines_do(self):
        alarm = WAITS.replace("run {", "line alarm on bench.line3 output when trip core\nrun {", 1)
        self.assertNotEqual(alarm, WAITS)
        self.write("lines.bench.yaml", BENCH.replace("    channels:", "    lines: [line1, line3]\n    channels:"))
        self.write("alarm.ramp", alarm)
        parts = "[segment]\n[line]\n[wait]\n[row]\n"
        self.assertIn("without [role]", self.bad(parts + "[setup]\n", "alarm.ramp")[0][2])
        self.write("t.template", parts + "[setup]\n[role]\n{line}|{name}|{direction}|{role}|{rails}\n")
        self.assertIn("bench.line3|alarm|output|high when tripped|core\n",
                      self.build("alarm.ramp", "template", "--template", "t.template"))

    def bad(self, template, profile="one.ramp"):
        self.write("bad.template", template)
        self.write("old", "old\n")
        done = self.run_it("build", profile, "--as", "template", "--template", "bad.template", "-o", "old", "--format", "json")
        self.assertEqual(done.returncode, 1, template)
        self.assertEqual((self.folder / "old").read_text(), "old\n")
        findings = [f for p in json.loads(done.stdout)["profiles"] for f in p["findings"]]
        self.assertEqual({finding["name"] for finding in findings}, {"bad-template"})
        return [(finding["line"], finding["column"], finding["message"]) for finding in findings]

    def test_bad_templates_give_place_and_field(self):
        self.assertEqual(self.bad("[row]\n{time_s} {volts}\n"), [(2, 10, "there is no field `volts` in [row]")])
        self.assertEqual(self.bad("[header]\n{time_s}\n[row]\n")[0][:2], (2, 1))
        line, column, message = self.bad("[row]\nx{time_s:.3q}\n")[0]
        self.assertEqual((line, column), (2, 2))
        self.assertIn("field `time_s` cannot be written as `{time_s:.3q}`", message)
        self.assertIn("at most 1000", self.bad("[row]\n{time_s:2000000000}\n")[0][2])
        self.assertEqual(self.bad("[row]\n{channel:d}\n")[0][:2], (2, 1))
        self.assertEqual(self.bad("[row]\n{time_s\n"), [(2, 1, "this brace has no partner")])
        self.assertEqual(self.bad("[row]\n}\n"), [(2, 1, "this brace has no partner")])
        self.assertEqual(self.bad("[row]\n{time_s:{x}}\n")[0][:2], (2, 1))
        self.assertEqual(self.bad("[row]\n{}\n"), [(2, 1, "there is no field `` in [row]")])
        self.assertEqual(self.bad("[rows]\n{time_s}\n[row]\n"), [(1, 1, "there is no part [rows]")])
        self.assertEqual(self.bad("[row]\n[row]\n"), [(2, 1, "part [row] occurs twice")])
        self.assertEqual(self.bad(""), [(1, 1, "the template has no [row]")])
        self.assertIn("[line]", self.bad("[row]\n[wait]\n[segment]\n", "waits.ramp")[0][2])
        self.assertIn("[wait]", self.bad("[row]\n[line]\n[segment]\n", "waits.ramp")[0][2])
        self.assertIn("[segment]", self.bad("[row]\n[line]\n[wait]\n", "waits.ramp")[0][2])

    def test_templates_that_cannot_be_read(self):
        for arguments in (("--template", "missing"), ("--template", "."), ()):
            done = self.run_it("build", "one.ramp", "--as", "template", "-o", "-", *arguments)
            self.assertEqual((done.returncode, done.stdout), (2, b""), arguments)
        done = self.run_it("build", "one.ramp", "--as", "csv", "--template", "x", "-o", "-")
        self.assertEqual(done.returncode, 2)

    def test_the_template_is_part_of_the_origin(self):
        self.write("t.template", "[row]\n{time_s} {voltage_V}\n")
        self.assertEqual(self.run_it("build", "one.ramp", "--as", "template", "--template", "t.template", "-o", "t").returncode, 0)
        self.assertEqual((self.folder / "t").read_text(), "0 5\n1 5\n")
        origin = json.loads((self.folder / "t.setup.json").read_text())["origin"]
        self.assertEqual(origin["template"]["name"], "t.template")

    def test_a_full_disk(self):
        self.write("t.template", "[row]\n{time_s}\n")
        for form in (("spice",), ("vcd",), ("template", "--template", "t.template")):
            with open("/dev/full", "wb") as full:
                done = self.run_it("build", "one.ramp", "-o", "-", "--as", *form, stdout=full)
            self.assertEqual(done.returncode, 2)
            self.assertIn(b"no space left on device", done.stderr)


if __name__ == "__main__":
    main()
