#!/usr/bin/env python3
"""What goes wrong during `rampart run`, planted on supplies of the loopback address. usage: run_failure_test.py PROGRAM

Each ends with every output off, or says plainly what may be on; the exit code and the log say so too.
"""
import os
import resource
import signal
import time
import unittest

from program import main
from run_bench import HEAD, RUN, ON_LOOPBACK, Bench
from sanitized import unless_sanitized

# The radio rail is switched on at 0.8 s and stays for a second: what is planted comes in between.
MIDDLE = "SOURce1:VOLTage:LEVel 12"
# The program with clocks that are tampered with.
STEPPED_CLOCK = os.environ.get("RAMPART_STEPPED_CLOCK")


class Failing(Bench):
    def setUp(self):
        super().setUp()
        self.keys = {"left": "monitor: 100 ms", "right": "monitor: 100 ms"}
        self.build()

    def stopped(self, code, reason):
        """The run ended early for this reason, safe was played, and every output is off."""
        self.assertEqual(self.finish(), code, self.out + self.err)
        self.assertIn("ended early: ", self.out)
        self.assertIn(reason, self.out)
        self.assertIn("2 outputs confirmed off\n", self.out)
        events = self.events()
        self.assertEqual(events[0], "start")
        self.assertIn("safe", events)
        self.assertTrue(events[-1].startswith("end "), events)
        self.assertIn(reason, self.record()["end"]["reason"])
        self.check_all_off()
        self.check_log_ends_off()

    def start_to_middle(self, **more):
        self.start(**more)
        self.until(MIDDLE, self.right)

    def test_ctrl_c_plays_the_safe_sequence(self):
        for number, words in ((signal.SIGINT, "stopped by Ctrl-C"), (signal.SIGQUIT, "stopped by Ctrl-\\"), (signal.SIGTERM, "stopped by a signal (TERM)"),
                              (signal.SIGHUP, "stopped because the terminal was closed (HUP)"),
                              (signal.SIGXCPU, "stopped by the limit on processor time (XCPU)"),
                              (signal.SIGPWR, "stopped because the mains supply fails (PWR)"),
                              (signal.SIGUSR1, "stopped by a signal (USR1)"), (signal.SIGALRM, "stopped by a signal (ALRM)"),
                              (signal.SIGRTMIN + 3, "stopped by a signal (number %d)" % (signal.SIGRTMIN + 3))):
            self.supplies()
            self.start_to_middle()
            self.process.send_signal(number)
            self.stopped(1, words)
            self.check_strict()
            self.forget_log()
        # safe switches the radio off first.
        offs = [entry["time"] for supply in (self.right, self.left) for entry in supply.record()
                if entry["message"] == "OUTPut1:STATe OFF"][1::2]
        self.assertLess(offs[0], offs[1])

    @unless_sanitized
    def test_no_thread_for_what_a_run_needs(self):
        """Each of its threads wants 8 MB. Whichever is the first that there is no room for: all outputs are off, and it is said."""
        self.supplies()
        refused = 0
        for megabytes in range(16, 72, 8):
            limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))
            code = self.play(preexec_fn=limit)
            with self.subTest(megabytes=megabytes, code=code, said=self.out + self.err):
                self.assertIn(code, (0, 2))
                if code == 2:
                    refused += 1
                    self.assertRegex(self.out + self.err, "the system refuses what is needed|no thread can be started|out of memory")
                self.check_all_off()
            self.forget_log()
        self.assertGreater(refused, 1)

    def test_ctrl_c_twice_switches_all_off_at_once(self):
        self.build(HEAD + RUN + "safe { off radio; dwell 30 s; off logic }\n")
        self.supplies()
        self.start_to_middle()
        self.process.send_signal(signal.SIGINT)
        self.until("safe,,,,,,,,,,,,safe")
        self.process.send_signal(signal.SIGINT)
        self.assertEqual(self.finish(), 1, self.out)
        self.assertIn("2 outputs confirmed off\n", self.out)
        self.assertIn("stop all outputs off at once: stopped by Ctrl-C", self.events())
        self.check_all_off()
        self.check_log_ends_off()
        # What was sent outside of the table is logged too, without a time of the table.
        off = [row for row in self.log() if row["kind"] == "command" and row["output"] == "0" and row["channel"] == "left.ch1"][-1]
        self.assertEqual(off["planned_s"], "")
        self.assertNotEqual(off["acked_s"], "")

    def test_a_trip_plays_the_safe_sequence(self):
        self.supplies()
        self.start_to_middle()
        self.right.do("trip", channel=1, cause="overpower")
        self.stopped(1, "right.ch1 tripped: overpower")
        self.assertIn("trip overpower (right.ch1)", self.events())
        self.check_strict()

    def test_an_output_that_someone_switches_off(self):
        self.supplies()
        self.start_to_middle()
        self.right.do("off", channel=1)
        self.stopped(1, "right.ch1 went off, and no protection says that it tripped")
        self.assertIn("off unexpected (right.ch1)", self.events())

    def test_a_fuse_acts_in_constant_current(self):
        # 12 V into 10 Ohm would be 1.2 A: the limit of 500 mA holds, and the fuse acts after 100 ms.
        self.supplies(right={"loads": [{"ohm": 10.0}]})
        self.start()
        self.stopped(1, "right.ch1 tripped: fuse")

    def test_an_answer_that_does_not_come(self):
        for fault in ({"do": "slow", "seconds": 1.5}, {"do": "drop", "bytes": 1}, {"do": "answer", "text": "banana\n"},
                      {"do": "answer", "text": "\x00\xff\n"}, {"do": "close"}):
            self.keys["right"] = "monitor: 100 ms\ntimeout: 1 s"
            self.supplies(right={"faults": [dict(fault, on="MEASure1:VOLTage", after=8)]})
            self.start()
            self.stopped(2, "right: `MEASure1:VOLTage:DC?`" if fault["do"] != "answer" else "right: `MEASure")
            self.forget_log()

    def test_a_row_that_is_not_acknowledged(self):
        self.supplies(right={"faults": [{"arm": MIDDLE, "on": r"\*OPC", "do": "answer", "text": "0\n"}]})
        self.start()
        self.stopped(2, "the answer `0` is not 1")

    def test_a_supply_that_vanishes_may_be_on(self):
        for fault in ("vanish", "mute"):
            self.keys["right"] = "monitor: 100 ms\ntimeout: 300 ms"
            self.supplies(right={"faults": [{"on": "MEASure1:VOLTage", "after": 8, "do": fault}]})
            self.start()
            self.assertEqual(self.finish(), 3, self.out + self.err)
            # What can hurt stands first of the last lines.
            self.assertIn("\nright.ch1 may be on: switch off at the supply\nended early: ", self.out)
            self.assertIn("  left.ch1:  confirmed off, 0 V\n", self.out)
            self.assertEqual([output["state"] for output in self.record()["end"]["outputs"]],
                             ["confirmed off", "unknown, may be on"])
            self.forget_log()

    def lose(self, fault, code, words):
        """The connection breaks once, at the message that `fault` names, and is made again."""
        self.keys["right"] = "monitor: 100 ms\ntimeout: 300 ms"
        self.supplies(right={"faults": [dict(fault, do="close")]})
        self.start()
        self.assertIn(self.finish(), code, self.out + self.err)
        self.assertIn(words, self.out + self.err)
        for supply in (self.left, self.right):
            self.assertEqual(supply.ask("OUTPut1:STATe?"), "0")

    def test_a_connection_that_is_lost_before_the_run(self):
        for message in (r"\*IDN", "OUTPut1:STATe[?]", "CURRent:PROTection:STATe ON"):
            self.lose({"on": message}, (2,), "[no-connection]")
            self.assertFalse((self.folder / "run.csv").exists())

    def test_a_connection_that_is_lost_during_the_run(self):
        for fault in ({"on": MIDDLE}, {"on": "OUTPut1:STATe OFF", "after": 2}):
            self.lose(fault, (2,), "ended early: right: ")
            self.assertIn("safe", self.events())
            self.forget_log()

    def test_a_connection_that_is_lost_after_the_run(self):
        # Once its last row is played, when it is asked what became of its output.
        self.lose({"arm": "OUTPut1:STATe OFF", "arm_times": 2, "on": "OUTPut1:STATe[?]"}, (0, 2), "2 outputs confirmed off\n")
        self.assertIsNotNone(self.record()["end"])

    def test_a_supply_that_vanishes_at_the_end_may_be_on(self):
        # Its last off was not acknowledged: nobody knows whether it came.
        self.keys["right"] = "monitor: 100 ms\ntimeout: 300 ms"
        self.supplies(right={"faults": [{"arm": "VOLTage:LEVel 12", "on": "OUTPut1:STATe OFF", "do": "vanish"}]})
        self.start()
        self.assertEqual(self.finish(), 3, self.out + self.err)
        self.assertIn("\nright.ch1 may be on: switch off at the supply\n", self.out)
        self.assertIn("  left.ch1:  confirmed off", self.out)

    def test_an_output_that_stays_on_at_the_end_is_told_again(self):
        self.supplies(right={"faults": [{"arm": MIDDLE, "on": "OUTPut1:STATe OFF", "do": "on"}]})
        self.assertEqual(self.play(), 2)
        words = "right.ch1 was still on when it should be off, and was switched off again"
        self.assertIn("played to its end; " + words, self.out)
        self.assertIn(words, self.record()["end"]["reason"])
        self.assertIn("off again (right.ch1)", self.events())
        self.check_all_off()

    def test_another_instrument_answers_when_the_connection_is_made_again(self):
        self.keys["right"] = "monitor: 100 ms\ntimeout: 300 ms"
        self.supplies(right={"faults": [{"arm": MIDDLE, "on": "MEASure1:VOLTage", "do": "close"},
                                        {"arm": MIDDLE, "on": r"\*IDN", "do": "answer", "times": 99,
                                         "text": "Tidewater Instruments,LB-2,S-other,1.0\n"}]})
        self.start()
        self.assertEqual(self.finish(), 3, self.out + self.err)
        self.assertIn("right.ch1 may be on: switch off at the supply\n", self.out)
        self.assertIn("the instrument there has serial number S-other, not S-right", self.out)
        # Nothing but the question who it is.
        lost = max(i for i, entry in enumerate(self.right.record()) if entry["message"].startswith("MEASure1"))
        self.assertEqual({entry["message"] for entry in self.right.record()[lost + 1:]}, {"*IDN?"})

    def test_a_limit_that_someone_changes_during_the_run(self):
        self.supplies()
        self.start_to_middle()
        self.right.do("set", channel=1, values={"current": 2.0})
        self.stopped(2, "current limit of `right.ch1` reads back as 2 A, not 500 mA: it was changed during the run")

    def test_a_protection_that_someone_changes_during_the_run(self):
        for values, words in (({"ovp": 24.0}, "overvoltage threshold of `right.ch1` reads back as 24 V, not 13.5 V: it was changed during the run"),
                              ({"fuse_on": False}, "fuse of `right.ch1` reads back as off, not on")):
            self.supplies()
            self.start_to_middle()
            self.right.do("set", channel=1, values=values)
            self.stopped(2, words)
            self.forget_log()

    def test_mains_and_front_panel(self):
        for deed, words in (({"do": "power-cycle"}, "right was switched off and on"), ({"do": "event", "bits": 64}, "someone used the front panel of right"),
                            ({"do": "set", "values": {"voltage": 13.0}}, "setpoint of `right.ch1` reads back as 13 V, not 12 V"),
                            ({"do": "event", "bits": 32}, "right reports an error (event status 32)")):
            self.supplies()
            self.start_to_middle()
            self.right.do(**dict(deed, what=deed["do"]))
            self.stopped(2, words)
            self.forget_log()

    def test_a_full_disk(self):
        # Many readings, so that the log is longer than the record, which has to be written all the same.
        self.keys = {"left": "monitor: 20 ms", "right": "monitor: 20 ms"}
        self.supplies()
        self.start(preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (6000, 6000)))
        self.assertEqual(self.finish(), 2)
        self.assertIn("the log cannot be written: file too large", self.out)
        self.assertIn("2 outputs confirmed off\n", self.out)
        # Whole lines to its end.
        self.assertEqual({len(row) for row in self.log()}, {15})
        self.assertIsNone(self.record()["log_sha256"])
        self.check_all_off()

    def test_a_signal_ends_a_run_whose_last_words_nobody_takes(self):
        """Standard output is a pipe that is full and that nobody reads. Outputs are off and the record is whole before it matters."""
        self.supplies()
        reader, writer = os.pipe()
        self.addCleanup(os.close, reader)
        os.set_blocking(writer, False)
        try:
            while os.write(writer, b"." * 4096):
                pass
        except BlockingIOError:
            os.set_blocking(writer, True)
        self.start(stdout=writer)
        os.close(writer)
        for _ in range(400):
            if (self.folder / "run.csv.run.json").exists() and self.record()["end"] is not None:
                break
            time.sleep(0.05)
        self.assertIsNone(self.process.poll())
        self.check_all_off()
        # One that comes before the run is over is for the run.
        for _ in range(100):
            self.process.send_signal(signal.SIGINT)
            if self.process.poll() is not None:
                break
            time.sleep(0.05)
        self.assertEqual(self.process.poll(), -signal.SIGINT)
        self.assertTrue(self.record()["end"]["complete"], self.record()["end"])

    def test_killed_and_then_off(self):
        self.supplies()
        self.start_to_middle()
        self.process.kill()
        self.process.wait()
        self.assertIsNone(self.record()["end"])
        self.log()
        done = self.run_it("off", "--link", "two.link.yaml")
        self.assertEqual((done.returncode, done.stdout.decode().splitlines()[0]), (0, "3 outputs confirmed off"))
        self.check_all_off()
        # The lock of a killed player keeps nobody out.
        self.assertEqual(self.play(log="again.csv"), 0, "")

    def test_a_watchdog_switches_off_when_nobody_feeds_it(self):
        for side in ("left", "right"):
            self.keys[side] = "monitor: 100 ms\nwatchdog: 300 ms"
            self.messages[side] = {"watchdog_arm": "WATChdog:TIME 2", "watchdog_feed": "WATChdog:FEED", "watchdog_disarm": "WATChdog:TIME 0"}
        self.supplies()
        self.assertEqual(self.play(), 0, "")
        self.assertEqual(self.right.messages()[-2], "WATChdog:TIME 0")
        self.assertGreater(self.right.messages().count("WATChdog:FEED"), 3)
        self.start(log="again.csv")
        self.until_told_again()
        self.process.kill()
        self.process.wait()
        self.assertEqual(self.right.ask("OUTPut1:STATe?"), "1")
        time.sleep(2.5)
        self.assertEqual(self.right.ask("OUTPut1:STATe?"), "0")

    def until_told_again(self):
        for _ in range(400):
            if self.right.messages().count(MIDDLE) == 2:
                return
            time.sleep(0.05)
        self.fail("the second run did not come to its middle")

    def test_two_players_at_once(self):
        self.supplies()
        self.start_to_middle()
        done = self.run_it("run", "two.json", *ON_LOOPBACK, "--log", "second.csv")
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"another player on this computer holds it", done.stderr)
        self.assertFalse((self.folder / "second.csv").exists())
        self.assertEqual(self.finish(), 0, self.out)

    def test_a_computer_that_stands_still(self):
        self.supplies()
        self.start_to_middle(max_late="500ms")
        self.process.send_signal(signal.SIGSTOP)
        time.sleep(1.5)
        self.process.send_signal(signal.SIGCONT)
        self.assertEqual(self.finish() in (1, 2), True, self.out)
        self.assertIn("ended early: ", self.out)
        self.assertIn("2 outputs confirmed off\n", self.out)

    @unittest.skipUnless(STEPPED_CLOCK, "the program with a stepped clock is not given")
    def test_a_time_of_day_that_is_set(self):
        self.supplies()
        self.start(program=STEPPED_CLOCK, environment={"STEPPED_CLOCK": "realtime"})
        self.assertEqual(self.finish(), 0, self.out + self.err)
        # An hour would show in every time of the log.
        self.assertLess(max(float(row["time_s"]) for row in self.log()), 60)
        self.assertLess(self.record()["end"]["lateness"]["worst_s"], 2)
        self.check_strict()

    @unittest.skipUnless(STEPPED_CLOCK, "the program with a stepped clock is not given")
    def test_a_computer_that_was_suspended(self):
        self.supplies()
        self.start(program=STEPPED_CLOCK, environment={"STEPPED_CLOCK": "suspend", "STEPPED_BY": str(self.folder / "asleep")})
        self.until(MIDDLE, self.right)
        self.write("asleep", "")
        self.stopped(2, "this computer was suspended for 2 s")

    def test_a_rail_that_is_late(self):
        self.supplies(right={"faults": [{"arm": MIDDLE, "on": r"\*OPC", "do": "slow", "seconds": 0.7}]})
        self.start(max_late="500ms")
        self.stopped(1, "after its time, more than the 500 ms of --max-late")


if __name__ == "__main__":
    main()
