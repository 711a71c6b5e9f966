#!/usr/bin/env python3
"""`rampart run` on supplies of the loopback address. usage: run_test.py PROGRAM"""
import hashlib
import json
import re
import signal
import time
import unittest

from program import PROGRAM, main
from pseudo_terminal import run_with_answers
from run_bench import BENCH, HEAD, ON_LOOPBACK, RUN, SAFE, Bench


class Playing(Bench):
    def test_a_table_from_start_to_end(self):
        self.build()
        self.supplies()
        self.assertEqual(self.play("--device", "logger 7", "--operator", "A. Tester"), 0, "")
        self.assertIn("played to its end\n2 outputs confirmed off\n", self.out)
        self.check_strict()
        self.check_all_off()
        events = self.events()
        self.assertEqual(events, ["start", "segment 1", "end played to its end"])
        commands = [row for row in self.log() if row["kind"] == "command"]
        table = json.loads((self.folder / "two.json").read_text())
        planned = {(row["time_s"], row["channel"]) for row in table["segments"][0]["rows"]}
        # Rows that change nothing are not sent.
        sent = {(float(row["planned_s"]), row["channel"]) for row in commands}
        self.assertLessEqual(sent, planned)
        for row in commands:
            self.assertLessEqual(float(row["planned_s"]), float(row["sent_s"]))
            self.assertLessEqual(float(row["sent_s"]), float(row["acked_s"]))
            # Two supplies may acknowledge in another order than their lines are written, and times never go back.
            self.assertLessEqual(float(row["acked_s"]), float(row["time_s"]))
        self.assertEqual({(row["channel"], row["set_A"]) for row in commands[:2]}, {("left.ch1", "1"), ("right.ch1", "0.5")})
        readings = [row for row in self.log() if row["kind"] == "reading" and row["channel"] == "right.ch1"]
        currents = {round(float(row["measured_A"]), 3) for row in readings if abs(float(row["measured_V"]) - 12) < 0.01}
        self.assertEqual(currents, {0.25})
        record = self.record()
        self.assertEqual(record["end"]["reason"], "played to its end")
        self.assertEqual((record["device"], record["operator"]), ("logger 7", "A. Tester"))
        self.assertEqual(record["log_sha256"], hashlib.sha256((self.folder / "run.csv").read_bytes()).hexdigest())
        self.assertEqual(record["table"]["sha256"], hashlib.sha256((self.folder / "two.json").read_bytes()).hexdigest())
        self.assertEqual([supply["serial_number"] for supply in record["supplies"]], ["S-left", "S-right"])

    def test_the_set_up_is_read_back(self):
        self.build()
        self.supplies()
        self.assertEqual(self.play(), 0, "")
        messages = self.left.messages()
        first_on = messages.index("OUTPut1:STATe ON")
        before = messages[:first_on]
        self.assertEqual(before[0], "*IDN?")
        for wanted in ("SOURce1:VOLTage:LEVel 0", "SOURce1:CURRent:LEVel 0", "SOURce1:VOLTage:PROTection:LEVel 3.8",
                       "SOURce1:VOLTage:PROTection:STATe ON", "SOURce1:CURRent:PROTection:DELay 0.1",
                       "SOURce1:CURRent:PROTection:STATe ON", "SOURce1:POWer:PROTection:LEVel 5",
                       "SOURce1:POWer:PROTection:DELay 0.2", "SOURce1:POWer:PROTection:STATe ON"):
            self.assertIn(wanted, before)
            self.assertLess(before.index("OUTPut1:STATe OFF"), before.index(wanted))
        # Limit, voltage and only then the output; the other channel of the supply is left alone.
        self.assertLess(before.index("SOURce1:CURRent:LEVel 1"), first_on)
        self.assertFalse([message for message in messages if "2:" in message])

    def test_a_dry_run_opens_nothing(self):
        self.build()
        self.supplies()
        done = self.run_it("run", "two.json", *ON_LOOPBACK, "--dry-run")
        self.assertEqual((done.returncode, done.stderr.decode()), (0, ""))
        out = done.stdout.decode()
        self.assertEqual((self.left.messages(), self.right.messages()), ([], []))
        self.assertIn("segment 1\n", out)
        self.assertIn("             0 s  left  SOURce1:CURRent:LEVel 1\n", out)
        self.assertIn("           0.8 s  right  SOURce1:VOLTage:LEVel 12\n", out)
        self.assertIn("safe\n             0 s  right  OUTPut1:STATe OFF\n", out)
        # What a run sends between its start and its end is what the dry run says.
        self.assertEqual(self.play(), 0, "")
        lines = [line[18:] for line in out.split("segment 1\n")[1].split("safe\n")[0].splitlines()]
        for supply in (self.left, self.right):
            said = [line[len(supply.name) + 2:] for line in lines if line.startswith(supply.name + " ")]
            told = [message for message in supply.messages()
                    if "?" not in message or message == "*OPC?"]
            self.assertEqual([message for message in told if message != "*OPC?"][-len([m for m in said if m != "*OPC?"]):],
                             [message for message in said if message != "*OPC?"])
        again = self.run_it("run", "two.json", *ON_LOOPBACK, "--dry-run").stdout.decode()
        self.assertEqual(again, out)

    def test_lines_for_a_program(self):
        self.build()
        self.supplies()
        self.assertEqual(self.play("--format", "json"), 0, "")
        lines = [json.loads(line) for line in self.out.splitlines()]
        kinds = {line["line"] for line in lines}
        self.assertLessEqual({"note", "event", "command", "reading", "status", "final"}, kinds)
        self.assertEqual((lines[-1]["line"], lines[-1]["all_off"], lines[-1]["complete"]), ("final", True, True))


class Waiting(Bench):
    """Waits between segments, marks and measurements."""

    def spans(self):
        """How long each wait lasted, in s."""
        begins = [float(row["time_s"]) for row in self.log() if row["text"].startswith("wait-begin")]
        ends = [float(row["time_s"]) for row in self.log() if row["text"].startswith("wait-end")]
        return [end - begin for begin, end in zip(begins, ends)]

    def test_a_line(self):
        self.build(HEAD.replace("protect logic", "line go on left.line1 input\nprotect logic") +
                   RUN.replace("  ramp logic", "  await go high within 20 s assume 1 s\n  ramp logic") + SAFE)
        self.supplies()
        self.start()
        self.until("wait-begin")
        time.sleep(0.3)
        self.left.do("line", line=1, level=True)
        self.assertEqual(self.finish(), 0, self.out + self.err)
        self.assertEqual(self.events()[2:5], ["wait-begin left.line1 high within 20 s", "wait-end line", "segment 2"])
        self.assertGreater(self.spans()[0], 0.3)
        self.check_strict()

    def test_a_line_that_is_driven(self):
        self.build(HEAD.replace("protect logic", "line lamp on left.line2 output\nprotect logic") +
                   RUN.replace("  ramp logic", "  raise lamp\n  ramp logic").replace("  off radio", "  lower lamp\n  off radio") + SAFE)
        self.supplies()
        self.assertEqual(self.play(), 0, "")
        self.assertEqual([m for m in self.left.messages() if m.startswith("LINE")], ["LINE2:LEVel ON", "LINE2:LEVel OFF"])
        self.assertEqual([row["output"] for row in self.log() if row["channel"] == "left.line2"], ["1", "0"])

    def test_a_wait_that_times_out(self):
        self.build(HEAD.replace("protect logic", "line go on left.line1 input\nprotect logic") +
                   RUN.replace("  ramp logic", "  await go high within 500 ms assume 200 ms\n  ramp logic") + SAFE)
        self.supplies()
        self.assertEqual(self.play(), 1, "")
        self.assertIn("the wait for left.line1 high within 500 ms timed out", self.out)
        self.assertIn("wait-end timeout", self.events())
        self.check_all_off()

    def test_a_condition(self):
        # The capacitor of the radio rail is charged to 12 V * 48 / 48.5 and discharges through its resistor once the output
        # is off: to 3 V in R C ln(V / 3 V) = 48 Ohm * 20 mF * 1.376 = 1.321 s.
        self.build(HEAD.replace("protect radio { overvoltage 13.5 V; fuse after 100 ms", "protect radio { overvoltage 13.5 V; fuse after 8 s") +
                   """run {
  limit radio to 2 A, logic to 1 A
  on radio, logic
  step radio to 12 V
  dwell 1 s
  off radio
  await radio <= 3 V and not (logic >= 1 V) within 20 s assume 2 s
  off logic
  dwell 200 ms
}
""" + SAFE)
        self.supplies(right={"loads": [{"ohm": 48.0, "farad": 0.02, "series": 0.5}]})
        self.assertEqual(self.play(), 0, "")
        self.assertEqual(self.events()[3], "wait-end condition")
        self.assertGreater(self.spans()[0], 1.32 - 0.05)  # the supply may have been read a moment before it was told
        # Two readings in a row below 3 V, both within the wait.
        begin = float([row for row in self.log() if row["text"].startswith("wait-begin")][0]["time_s"])
        end = float([row for row in self.log() if row["text"].startswith("wait-end")][0]["time_s"])
        last = [float(row["measured_V"]) for row in self.log() if row["channel"] == "right.ch1" and row["kind"] == "reading" and
                begin < float(row["time_s"]) <= end][-2:]
        self.assertLessEqual(max(last), 3.0)

    def test_marks_and_measurements(self):
        self.build(HEAD + RUN.replace("  dwell 1 s\n", '  dwell 800 ms\n  measure "core values" over 400 ms\n  mark "up"\n  dwell 200 ms\n') + SAFE)
        self.supplies()
        self.assertEqual(self.play(), 0, "")
        self.assertEqual(self.events()[2:5], ["measure-begin core values", "measure core values", "mark up"])
        # Ohm's law, less what the 1 mOhm in series takes.
        self.assertRegex(self.out, r"measure core values: logic 3\.3 V, 275 mA; radio 12 V, 250 mA")
        done = self.run_it("run", "two.json", *ON_LOOPBACK, "--dry-run").stdout.decode()
        self.assertIn("           1.6 s  measure core values over 400 ms\n           1.6 s  mark up\n", done)


class Conditions(Bench):
    """What a condition register says."""

    def setUp(self):
        super().setUp()
        bits = "monitor: 100 ms\ncondition_bits: {constant_current: 0, constant_voltage: 1, overvoltage: 9, fuse: 10, overpower: 11}"
        self.keys = {"left": bits, "right": bits}
        condition = {"condition": "STATus:QUEStionable:INSTrument:ISUMmary{channel}:CONDition?"}
        self.messages = {"left": condition, "right": dict(condition, fuse_tripped="none", overvoltage_tripped="none", overpower_tripped="none")}

    def test_constant_voltage_and_constant_current(self):
        # 12 V into 20 Ohm would be 600 mA: the limit of 500 mA holds for the second, since the fuse waits for longer.
        self.build((HEAD + RUN + SAFE).replace("overvoltage 13.5 V; fuse after 100 ms", "overvoltage 13.5 V; fuse after 1500 ms"))
        self.supplies(right={"loads": [{"ohm": 20.0}]})
        self.assertEqual(self.play("--format", "json"), 0, "")
        readings = [row for row in self.log() if row["kind"] == "reading"]
        self.assertEqual({row["mode"] for row in readings if row["channel"] == "left.ch1" and row["output"] == "1"} - {""}, {"CV"})
        limited = {row["mode"] for row in readings if row["channel"] == "right.ch1" and abs(float(row["measured_A"] or 0) - 0.5) < 1e-6}
        self.assertEqual(limited - {""}, {"CC"})
        self.assertEqual({row["mode"] for row in readings if row["output"] == "0"} - {""}, set())
        lines = [json.loads(line) for line in self.out.splitlines()]
        self.assertIn("CC", {line["mode"] for line in lines if line["line"] == "reading"})
        self.check_strict()

    def test_a_trip_that_only_the_register_tells(self):
        self.build()
        self.supplies(right={"loads": [{"ohm": 10.0}]})
        self.assertEqual(self.play(), 1, "")
        self.assertIn("right.ch1 tripped: fuse", self.out)
        self.check_all_off()

    def test_a_trip_that_was_there_before(self):
        self.build()
        self.supplies(right={"tripped": [1]})
        self.assertEqual(self.play(), 1, "")
        self.assertIn("a protection has tripped: right.ch1 (overvoltage) [already-tripped]", self.err)


class Evaluated(Bench):
    """The log of a run, read by `evaluate`."""

    READBACK = "        readback: {voltage: {accuracy: 0.1 % + 5 mV}, current: {accuracy: 0.2 % + 5 mA}, latency: 0 s .. 100 ms}\n"
    LOAD = ("load: Two resistors\nrails: {logic: {wire: 1 mOhm, elements: [{kind: resistor, resistance: 12 Ohm}]}, "
            "radio: {wire: 1 mOhm, elements: [{kind: resistor, resistance: 48 Ohm}]}}\n")

    def write_circuit(self):
        self.write("two.bench.yaml", re.sub(r"( +protection: .*\n)", r"\1" + self.READBACK, BENCH))
        self.write("two.load.yaml", self.LOAD)
        self.keys = {"left": "monitor: 100 ms", "right": "monitor: 100 ms"}
        self.build(HEAD.replace('bench "two.bench.yaml"\n', 'bench "two.bench.yaml"\nload "two.load.yaml"\n') + RUN + SAFE)
        self.supplies()

    def test_the_log_tells_what_was_played(self):
        self.write_circuit()
        self.assertEqual(self.play(), 0, "")
        done = self.run_it("evaluate", "two.ramp", "--log", "run.csv")
        commands = len([row for row in self.log() if row["kind"] == "command"])
        # A busy machine is late by some milliseconds, which is told.
        self.assertRegex(done.stdout.decode(), r"  sequence: PASS, %d commands are as in the table(, up to .* late)?\n" % commands)

    def test_a_run_that_was_stopped(self):
        self.write_circuit()
        self.start("--device", "logger 7", "--operator", "A. Tester")
        self.until("SOURce1:VOLTage:LEVel 12", self.right)
        self.process.send_signal(signal.SIGINT)
        self.assertEqual(self.finish(), 1, self.out + self.err)
        done = self.run_it("evaluate", "two.ramp", "--log", "run.csv")
        text = done.stdout.decode()
        self.assertEqual(done.returncode, 1, text)
        # What follows from the stop is no fault of its own.
        self.assertRegex(text, r"\AFAIL: the run was stopped at [0-9.]+ m?s: stopped by Ctrl-C\n")
        for wrong in ("is on at the end", "was not sent", "consistent with"):
            self.assertNotIn(wrong, text + done.stderr.decode())
        for said in ("operator: A. Tester", "device: logger 7", "supply left: serial S-left", "end: stopped by Ctrl-C"):
            self.assertIn(said, text)
        # Who edits a log edits the evidence.
        log = self.folder / "run.csv"
        log.write_text(log.read_text().replace("3.300000", "3.200000"))
        done = self.run_it("evaluate", "two.ramp", "--log", "run.csv")
        self.assertTrue(done.stdout.startswith(b"FAIL: run.csv is not the log of its record"), done.stdout.decode())


class Joined(Bench):
    """Channels that go off together."""

    LINKED = """profile "Linked"
bench "two.bench.yaml"
rail logic on left.ch1
rail radio on left.ch2
protect logic { overvoltage 8 V; fuse after 100 ms linked with radio; overpower 9 W after 1 s }
protect radio { overvoltage 8 V; fuse after 100 ms; overpower 9 W after 1 s }
run { limit logic to 1 A, radio to 1 A; on logic, radio; step radio to 5 V; dwell 1 s; step logic to 5 V; dwell 5 s; off logic, radio }
safe { dwell 5 s; off logic; off radio }
"""

    def test_members_of_a_combination(self):
        self.write("two.bench.yaml", BENCH + "outputs: {high: {series: [left.ch1, left.ch2]}}\n")
        self.build("""profile "In series"
bench "two.bench.yaml"
rail main on high
protect main { overvoltage 30 V; fuse after 1 s; overpower 20 W after 1 s }
run { limit main to 1 A; on main; step main to 20 V; dwell 5 s; off main }
""")
        self.supplies(left={"loads": [{"ohm": 100.0}, {"ohm": 100.0}]})
        self.start()
        self.until("OUTPut2:STATe ON", self.left)
        time.sleep(0.5)
        self.left.do("trip", channel=1, cause="overvoltage")
        self.assertEqual(self.finish(), 1, self.out + self.err)
        self.assertIn("left.ch1 tripped: overvoltage", self.out)
        # Without `safe` all outputs are switched off at once.
        self.assertNotIn("safe", self.events())
        self.assertIn("2 outputs confirmed off\n", self.out)
        messages = self.left.messages()
        on = messages.index("OUTPut2:STATe ON")
        off = messages.index("OUTPut2:STATe OFF", on)
        self.assertIn("SOURce1:VOLTage:PROTection:TRIPped?", messages[on:off])
        self.assertFalse([message for message in messages[off:] if message.endswith("STATe ON")])

    def play_answered(self, answer):
        """(exit code, what the terminal shows) of a run whose question is answered so."""
        return run_with_answers([PROGRAM, "run", "two.json", *ON_LOOPBACK, "--log", "run.csv", "--max-late", "2s"], self.folder,
                                [("Type yes to go on:", answer)])

    def test_rails_linked_with_a_fuse(self):
        self.keys["left"] = "by_hand: [links]"
        self.build(self.LINKED)
        self.supplies(left={"loads": [{"ohm": 3.0}, {"ohm": 100.0}], "links": [[1, 2]]})
        code, text = self.play_answered("yes")
        self.assertEqual(code, 1, text)
        self.assertIn("the switch-off of `left.ch2` by the fuse of `left.ch1`", text)
        self.assertIn("left.ch1 tripped: fuse", text)
        self.assertIn("left.ch1 tripped: fuse; left.ch2 went off with it\n", text.replace("\r", ""))
        # The supply itself has done it: its fuse of one channel takes the other along.
        self.assertIn("trip linked (left.ch2)", self.events())
        self.assertNotIn("link still on (left.ch2)", self.events())

    def test_the_end_of_input_is_no_yes(self):
        self.keys["left"] = "by_hand: [links]"
        self.build(self.LINKED)
        self.supplies(left={"loads": [{"ohm": 3.0}, {"ohm": 100.0}]})
        code, text = self.play_answered("\x04")
        self.assertEqual(code, 1, text)
        self.assertIn("setting to be made by hand, not confirmed", text)
        self.assertFalse([message for message in self.left.messages() if message.endswith(" ON")])

    def test_a_link_that_does_not_act(self):
        self.keys["left"] = "by_hand: [links]"
        self.build(self.LINKED)
        self.supplies(left={"loads": [{"ohm": 3.0}, {"ohm": 100.0}]})
        code, text = self.play_answered("yes")
        self.assertEqual(code, 1, text)
        self.assertIn("left.ch1 tripped: fuse; its link had not switched left.ch2 off when the run asked, so the run did", text)
        # Not when `safe` comes to it, but at once.
        times = {row["text"].split()[0]: float(row["time_s"]) for row in self.log() if row["kind"] == "event"}
        off = [float(row["time_s"]) for row in self.log() if row["kind"] == "command" and row["channel"] == "left.ch2" and row["output"] == "0"]
        self.assertLess(off[0] - times["trip"], 2)


if __name__ == "__main__":
    main()
