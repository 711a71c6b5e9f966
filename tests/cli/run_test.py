#!/usr/bin/env python3
"""`rampart run` on supplies of the loopback address. usage: run_test.py PROGRAM"""
import hashlib
import json
import unittest

from program import main
from run_bench import ON_LOOPBACK, Bench


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
            self.assertEqual(row["time_s"], row["acked_s"])
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


if __name__ == "__main__":
    main()
