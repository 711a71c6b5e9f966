#!/usr/bin/env python3
"""`rampart off` on supplies of the loopback address. usage: off_test.py PROGRAM"""
import json
import unittest

from program import InFolder, main
from supplies import LoopbackSupply, link_file

CAPACITOR = {"ohm": 1e6, "farad": 0.001, "volts": 4.2}


class Off(InFolder):
    def supply(self, name="left", **configuration):
        return LoopbackSupply(self, self.folder, name, **configuration)

    def off(self, *links, arguments=()):
        self.write("l.link.yaml", link_file(*links))
        done = self.run_it("off", "--link", "l.link.yaml", *arguments)
        return done.returncode, done.stdout.decode(), done.stderr.decode()

    def test_all_outputs_are_switched_off_and_read_back(self):
        left = self.supply(loads=[{}, CAPACITOR], on=[1, 2])
        right = self.supply("right", on=[1])
        code, out, err = self.off(left.link(), right.link())
        self.assertEqual((code, err), (0, ""))
        self.assertEqual(out.splitlines()[0], "3 outputs confirmed off")
        self.assertIn("left (127.0.0.1 port %s): Tidewater Instruments,LB-2,S-left,1.0\n" % left.place, out)
        self.assertIn("  left.ch1: confirmed off, 0 V\n", out)
        # The capacitor holds 5 V when its output goes off: 1 MOhm and 1 mF lose 0.1 % of that in 1 s (exp(-t/RC)).
        self.assertRegex(out, "  left.ch2: confirmed off, (5|4.99[0-9]*) V\n")
        self.assertEqual(left.messages()[:4], ["*IDN?", "OUTPut1:STATe OFF", "OUTPut2:STATe OFF", "*OPC?"])
        for supply in (left, right):
            self.assertEqual(supply.violations(), [])

    def test_lines_for_a_program(self):
        left = self.supply(on=[1])
        code, out, _ = self.off(left.link(), arguments=("--format", "json"))
        self.assertEqual((code, out.count("\n")), (0, 1))
        final = json.loads(out)
        self.assertEqual((final["line"], final["all_off"]), ("final", True))
        self.assertEqual(final["outputs"], [{"channel": "left.ch1", "state": "confirmed off", "is_off": True, "measured_V": 0.0,
                                            "why": None}])

    def test_a_supply_that_is_not_there_may_be_on(self):
        left = self.supply()
        gone = self.supply("right")
        link = gone.link()
        gone.process.kill()
        gone.process.wait()
        code, out, _ = self.off(left.link(), link)
        self.assertEqual(code, 3)
        self.assertEqual(out.splitlines()[0], "right.ch1 may be on: switch off at the supply")
        self.assertIn("right.ch1: unknown, may be on: 127.0.0.1 port %s: connection refused\n" % gone.place, out)
        self.assertIn("left.ch1: confirmed off, 0 V\n", out)

    def test_another_instrument_is_left_alone(self):
        left = self.supply(on=[1])
        code, out, _ = self.off(left.link(serial="OTHER"))
        self.assertEqual(code, 3)
        self.assertIn("the instrument there has serial number S-left, not OTHER; nothing was sent to it", out)
        self.assertEqual(left.messages(), ["*IDN?"])

    def test_one_that_does_not_say_who_it_is_is_told_all_the_same(self):
        nonsense, loss = {"do": "answer", "text": "#&%\n"}, {"do": "drop", "bytes": 8}
        for fault, wanted in (({"do": "mute"}, 3), (nonsense, 0), (loss, 0), (dict(loss, times=100), 3)):
            left = self.supply(on=[1], faults=[dict(fault, on=r"\*IDN")])
            code, out, _ = self.off(left.link(keys="timeout: 100 ms"))
            self.assertIn("OUTPut1:STATe OFF", left.messages())
            self.assertEqual(code, wanted, out)
            self.assertIn("confirmed off" if wanted == 0 else "left.ch1 may be on: switch off at the supply\n", out)

    def test_an_output_that_stays_on(self):
        left = self.supply(on=[1], faults=[{"on": "STATe OFF", "do": "on", "times": 100}])
        code, out, _ = self.off(left.link())
        self.assertEqual(code, 3)
        self.assertIn("left.ch1: on, 5 V: the supply was commanded to switch it off\n", out)

    def test_an_answer_that_comes_late_is_not_taken_for_another(self):
        # The answer to *OPC? comes after the time-out: what follows must not take it for the state of the output.
        left = self.supply(on=[1], faults=[{"on": r"\*OPC", "do": "slow", "seconds": 0.3}])
        code, out, _ = self.off(left.link(keys="timeout: 150 ms"))
        self.assertEqual((code, out.splitlines()[0]), (0, "1 output confirmed off"))

    def test_a_connection_that_is_lost_is_made_again(self):
        left = self.supply(on=[1], faults=[{"on": r"\*IDN", "do": "close"}])
        code, out, _ = self.off(left.link(keys="timeout: 200 ms"))
        self.assertEqual((code, out.splitlines()[0]), (0, "1 output confirmed off"))

    def test_serial_lines_and_device_files(self):
        for transport in ("serial", "usbtmc"):
            left = self.supply(on=[1], terminal=True)
            code, out, err = self.off(left.link(transport=transport))
            self.assertEqual((code, out.splitlines()[0]), (0, "1 output confirmed off"), err)
            self.assertIn("left (%s): " % left.place, out)

    def test_link_files_that_are_wrong(self):
        self.write("l.link.yaml", "link: L\nsupplies: {left: {tcp: {address: example.com}, serial_number: A, channels: {ch1: 1}}}\n")
        done = self.run_it("off", "--link", "l.link.yaml")
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"l.link.yaml:2:34: error: `example.com` is not an IP address [bad-value]\n", done.stderr)
        self.assertIn(b"nothing was switched off", done.stderr)
        self.assertEqual(self.run_it("off", "--link", "missing.link.yaml").returncode, 2)
        self.assertEqual(self.run_it("off").returncode, 2)


if __name__ == "__main__":
    main()
