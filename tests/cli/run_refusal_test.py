#!/usr/bin/env python3
"""What `rampart run` refuses to play, before anything is set. usage: run_refusal_test.py PROGRAM"""
import hashlib
import json
import socket
import unittest

from program import PROGRAM, main
from pseudo_terminal import run_with_answers
from run_bench import BENCH, HEAD, RUN, SAFE, ON_LOOPBACK, Bench
from supplies import OWN_MESSAGES, link_file


class Refusing(Bench):
    def setUp(self):
        super().setUp()
        self.build()

    def no_supplies(self, left="", right=""):
        """Links that lead nowhere: what is refused here is refused before anything is opened."""
        messages = "".join("      %s: %s\n" % (key, json.dumps(text)) for key, text in OWN_MESSAGES.items())
        part = "  %s:\n    tcp: {address: 127.0.0.1, port: %d}\n    serial_number: S\n    channels: {ch1: 1%s}\n%s    messages:\n" + messages
        self.write("two.link.yaml", link_file(part % ("left", 1, ", ch2: 2", "    lines: {line1: 1, line2: 2}\n" + left),
                                              part % ("right", 2, "", right)))

    def refused(self, words, code=1, arguments=()):
        done = self.run_it("run", "two.json", *ON_LOOPBACK, "--log", "run.csv", *arguments)
        text = done.stderr.decode()
        self.assertEqual(done.returncode, code, text)
        self.assertIn(words, text)
        self.assertFalse((self.folder / "run.csv").exists())
        return text

    def edit(self, old, new):
        text = (self.folder / "two.json").read_text()
        self.assertIn(old, text)
        self.write("two.json", text.replace(old, new))

    def test_tables_that_were_changed(self):
        self.no_supplies()
        good = (self.folder / "two.json").read_text()
        self.edit('"voltage_V": 12', '"voltage_V": 12.01')
        self.assertIn("[origin-differs]", self.refused("`two.json` has changed since the table was made"))
        self.write("two.json", good.split(',\n  "above_sha256"')[0] + "\n}\n")
        self.refused("refused: the table has no digest")
        self.write("two.json", "time_s,channel,voltage_V,current_A,output\n")
        self.refused("refused: `two.json` is not a table in JSON")
        self.write("two.json", "{}")
        self.refused("[table-malformed]")
        self.run_it("build", "two.ramp", "--as", "json", "--rows", "instants", "-o", "two.json")
        self.refused("its rows are instants")

    def test_an_output_without_a_limit(self):
        self.no_supplies()
        text = (self.folder / "two.json").read_text().replace('"current_A": 0.5', '"current_A": 0').split('  "above_sha256"')[0]
        # With a digest of its own, so that the missing limit is what stands against it.
        self.write("two.json", text + '  "above_sha256": "%s"\n}\n' % hashlib.sha256(text.encode()).hexdigest())
        self.refused("[no-current-limit]")

    def test_texts_that_act_on_a_terminal(self):
        self.no_supplies()
        good = (self.folder / "two.json").read_text().split('  "above_sha256"')[0]
        for old, new, key in (('"title": "', '"title": "\\u001b[31m', "title"), ('"rail": "logic"', '"rail": "\\u202elogic"', "rail"),
                              ('"marks": []', '"marks": [{"time_s": 0.4, "name": "up\\n"}]', "name")):
            with self.subTest(key=key):
                self.assertIn(old, good)
                text = good.replace(old, new)
                self.write("two.json", text + '  "above_sha256": "%s"\n}\n' % hashlib.sha256(text.encode()).hexdigest())
                self.refused("`%s` holds a character that is not shown" % key)

    def test_another_bench(self):
        self.no_supplies()
        self.write("two.bench.yaml", BENCH + "# changed\n")
        self.refused("refused: the table was not built for this bench file")

    def test_a_linear_channel(self):
        self.no_supplies()
        self.write("two.bench.yaml", BENCH.replace("resolution: 1 ms}", "resolution: 1 ms, interpolation: linear}"))
        self.build()
        self.refused("`left.ch1` moves along straight lines between rows")

    def test_links_that_lead_nowhere(self):
        self.no_supplies()
        text = (self.folder / "two.link.yaml").read_text()
        self.write("two.link.yaml", text.replace("  right:", "  other:"))
        self.refused("the link file has no supply `right`")
        self.write("two.link.yaml", text.replace("channels: {ch1: 1}", "channels: {ch2: 1}"))
        self.refused("the link file does not name channel `right.ch1`")
        self.write("two.link.yaml", text.replace("serial_number", "serial_nr", 1))
        self.assertIn("[unknown-key]", self.refused("`serial_nr`"))

    def test_a_set_up_that_nothing_sets(self):
        self.no_supplies()
        text = (self.folder / "two.link.yaml").read_text()
        self.write("two.link.yaml", text.replace(json.dumps(OWN_MESSAGES["fuse_delay"]), "none"))
        self.refused("nothing sets up `left.ch1`: fuse in constant current after 100 ms")

    def test_a_format_that_rounds(self):
        self.no_supplies()
        text = (self.folder / "two.link.yaml").read_text()
        self.write("two.link.yaml", text.replace("    messages:", "    messages:\n      voltage: 'VOLT{channel} {voltage_V:.1f}'"))
        self.refused("a value of `left.ch1` cannot be written exactly")

    def test_links_of_fuses_across_supplies(self):
        linked = HEAD.replace("protect radio { overvoltage 13.5 V; fuse after 100 ms", "protect radio { overvoltage 13.5 V; fuse after 100 ms linked with logic")
        self.write("two.ramp", linked + RUN + SAFE)
        done = self.run_it("build", "two.ramp", "--as", "json", "-o", "other.json")
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"nothing on the bench links `right` with `left` [no-link]", done.stderr)
        self.write("two.bench.yaml", BENCH + "links: {cable: {wired: [left, right], delay: 10 ms}}\n")
        self.build(linked + RUN + SAFE)
        self.no_supplies()
        self.refused("nothing sets up the switch-off of `left.ch1` by the fuse of `right.ch1`; link `cable`, wired, within 10 ms")
        # A table that asks for a link which the bench has lost.
        self.write("two.bench.yaml", BENCH)
        done = self.run_it("audit", "two.json", "--bench", "two.bench.yaml")
        self.assertIn(b"[no-link]", done.stderr)

    def test_a_prompt_without_a_terminal(self):
        self.build(HEAD + RUN.replace("  ramp logic", '  await operator "Connect J3" within 1 min assume 10 s\n  ramp logic') + SAFE)
        self.no_supplies()
        self.refused("the table asks the operator, but there is no terminal")

    def test_a_long_run_without_a_watchdog(self):
        self.build(HEAD + RUN.replace("dwell 1 s", "dwell 9 h") + SAFE)
        self.no_supplies()
        self.refused("not every supply has a watchdog")
        self.assertEqual(self.run_it("run", "two.json", *ON_LOOPBACK, "--dry-run", "--no-watchdog").returncode, 0)

    def test_another_instrument(self):
        self.supplies()
        self.link(serial="OTHER")
        self.refused("has serial number S-left, but `left` is OTHER")
        # Nothing but the question who they are.
        self.assertLessEqual(set(self.left.messages() + self.right.messages()), {"*IDN?"})
        self.supplies(right={"serial": "S-left"})
        self.refused("`left` and `right` are one instrument")
        self.assertEqual(set(self.left.messages() + self.right.messages()), {"*IDN?"})
        self.supplies(left={"identity": "Tidewater,LB-2"})
        self.refused("is not maker, model, serial number and firmware", code=2)

    def test_outputs_that_are_on_or_have_tripped(self):
        self.supplies(left={"on": [1]})
        self.refused("outputs are on, and were left on: left.ch1, and nobody can be asked without a terminal")
        self.assertFalse([message for message in self.left.messages() if "?" not in message])
        self.supplies(left={"tripped": [1]})
        self.refused("a protection has tripped: left.ch1 (overvoltage)")
        self.assertFalse([message for message in self.left.messages() if "?" not in message])

    def test_a_supply_that_another_controller_has_locked(self):
        self.messages["right"] = {"lock": "SYSTem:LOCK:REQuest?", "unlock": "SYSTem:LOCK:RELease"}
        self.supplies()
        other = socket.create_connection(("127.0.0.1", int(self.right.place)), timeout=10)
        self.addCleanup(other.close)
        other.sendall(b"SYSTem:LOCK:REQuest?\n")
        self.assertEqual(other.recv(10), b"1\n")
        self.refused("right is locked by another controller")
        other.sendall(b"SYSTem:LOCK:RELease\n")
        self.start()
        self.assertEqual(self.finish(), 0, self.err + self.out)
        self.assertEqual(self.right.messages()[-2:], ["SYSTem:LOCK:RELease", "*OPC?"])

    def test_a_lock_is_given_back_where_the_run_does_not_begin(self):
        self.messages["right"] = {"lock": "SYSTem:LOCK:REQuest?", "unlock": "SYSTem:LOCK:RELease"}
        self.supplies(left={"tripped": [1]})
        self.refused("a protection has tripped: left.ch1 (overvoltage)")
        self.assertEqual(self.right.messages()[-2:], ["SYSTem:LOCK:RELease", "*OPC?"])

    def test_a_connection_that_is_too_slow(self):
        self.supplies(right={"faults": [{"on": r"\*OPC", "do": "slow", "seconds": 0.15, "times": 5}]})
        self.refused("refused: three answers have to fit between two rows: `right` takes up to")

    def test_a_set_up_that_reads_back_otherwise(self):
        for fault, words in (({"on": "POWer:PROTection:LEVel.$", "do": "answer", "text": "9.9\n"}, "overpower threshold of `right.ch1` reads back as 9.9 W, not 10 W"),
                             ({"on": "VOLTage:PROTection:STATe.$", "do": "answer", "text": "0\n"}, "overvoltage protection of `right.ch1` reads back as off, not on"),
                             ({"on": "VOLTage:LEVel.$", "do": "answer", "text": "0.006\n"}, "setpoint of `right.ch1` reads back as 6 mV, not 0 V"),
                             ({"on": "OUTPut1:STATe OFF", "do": "on", "times": 9}, "right.ch1 is not confirmed off")):
            self.supplies(right={"faults": [fault]})
            code = 3 if fault["do"] == "on" else 1
            text = self.refused(words, code=code)
            self.assertFalse([message for message in self.right.messages() if message.endswith(" ON") and message.startswith("OUTP")], text)

    def test_a_message_that_the_supply_does_not_know(self):
        self.messages["right"] = {"overpower_on": "SOURce{channel}:POWer:PROT:STATUS ON"}
        self.supplies()
        self.refused("reads back as off, not on")
        self.assertIn('-113,"Undefined header"', [entry["error"] for entry in self.right.violations()])

    def test_voltage_that_remains(self):
        self.supplies(right={"loads": [{"ohm": 1e6, "farad": 0.001, "volts": 5.0}]})
        self.refused("voltage remains at outputs that are off: right.ch1 ")
        self.start("--accept-residual")
        self.assertEqual(self.finish(), 0, self.err + self.out)

    def test_a_log_that_is_there(self):
        self.no_supplies()
        self.write("run.csv", "old\n")
        done = self.run_it("run", "two.json", *ON_LOOPBACK, "--log", "run.csv")
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"already exists: a log is never replaced", done.stderr)
        self.assertEqual((self.folder / "run.csv").read_text(), "old\n")
        (self.folder / "run.csv").unlink()
        self.write("run.csv.run.json", "{}\n")
        self.assertIn("the record of a run is never replaced", self.refused("already exists", code=2))
        self.assertEqual((self.folder / "run.csv.run.json").read_text(), "{}\n")

    def test_usage(self):
        for arguments in (("two.json", *ON_LOOPBACK), ("two.json", *ON_LOOPBACK, "--log", "a", "--max-late", "soon"),
                          ("two.json", "--bench", "two.bench.yaml", "--log", "a")):
            self.assertEqual(self.run_it("run", *arguments).returncode, 2)
        self.no_supplies()
        self.assertEqual(self.run_it("run", "missing.json", *ON_LOOPBACK, "--log", "a").returncode, 2)


class Asking(Bench):
    """With a person at a terminal."""

    def setUp(self):
        super().setUp()
        self.build()

    def on_terminal(self, answers, *arguments):
        return run_with_answers([PROGRAM, "run", "two.json", *ON_LOOPBACK, "--log", "run.csv", "--max-late", "2s", *arguments],
                                self.folder, answers)

    def test_outputs_that_are_on(self):
        self.supplies(left={"on": [1]})
        code, text = self.on_terminal([("Type yes to go on:", "no")])
        self.assertEqual(code, 1, text)
        self.assertFalse([message for message in self.left.messages() if "?" not in message])
        code, text = self.on_terminal([("Type yes to go on:", "yes")])
        self.assertEqual(code, 0, text)

    def test_what_is_set_by_hand(self):
        self.keys["right"] = "by_hand: [fuse]"
        self.messages["right"] = {"fuse_delay": "none", "fuse_delay_set": "none"}
        self.supplies()
        code, text = self.on_terminal([("Type yes to go on:", "yes")])
        self.assertEqual(code, 0, text)
        self.assertIn("`right.ch1`: fuse in constant current after 100 ms", text)
        self.assertEqual(self.record()["set_by_hand"], ["`right.ch1`: fuse in constant current after 100 ms"])

    def test_the_operator(self):
        self.build(HEAD + RUN.replace("  ramp logic", '  await operator "Connect J3" within 1 min assume 10 s\n  ramp logic') + SAFE)
        self.supplies()
        code, text = self.on_terminal([("Type yes when it is done:", "yes")])
        self.assertEqual(code, 0, text)
        self.assertIn("outputs that are on: left.ch1 (0 V), right.ch1 (0 V)", text)
        events = self.events()
        self.assertEqual(events[1:5], ["segment 1", 'wait-begin operator "Connect J3" within 1 min', "wait-end operator", "segment 2"])
        self.forget_log()
        code, text = self.on_terminal([("Type yes when it is done:", "n")])
        self.assertEqual(code, 1, text)
        self.assertIn("the operator did not say yes to: Connect J3", text)
        self.check_all_off()


if __name__ == "__main__":
    main()
