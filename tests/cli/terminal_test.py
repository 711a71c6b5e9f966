#!/usr/bin/env python3
"""What the program writes on a terminal, and what it leaves behind when it is interrupted. usage: terminal_test.py PROGRAM"""
import re
import signal
import subprocess
import time

from program import PROGRAM, InFolder, main
from pseudo_terminal import run_on_terminal
from sanitized import SECONDS, unless_sanitized, unless_threads_are_sanitized

LOOSE = """load: Parts that are not quite known
rails: {core: {elements: [{kind: capacitor, capacitance: 1 mF +- 20 %, esr: 100 mOhm}, {kind: resistor, resistance: 10 Ohm +- 5 %}]}}
"""
# Up, in constant current meanwhile, up and down for a while, down.
COURSE = """bench "one.bench.yaml"
load "loose.load.yaml"
rail core on bench.ch1
protect core { overvoltage 12 V; fuse after 1 s; overpower 4 W }
run {
  limit core to 600 mA
  on core
  ramp core to 5 V over 10 s
  mark "up"
  dwell 20 s
  repeat 100 { step core to 0 V; dwell 100 ms; step core to 5 V; dwell 100 ms }
  ramp core to 0 V over 10 s
  off core
}
"""
ESCAPE = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")


class Terminal(InFolder):
    def on_terminal(self, *arguments, columns=100, environment=None):
        return run_on_terminal([PROGRAM, *arguments], self.folder, columns, environment)

    def setUp(self):
        super().setUp()
        self.write("loose.load.yaml", LOOSE)
        self.write("course.ramp", COURSE)


class CornersTest(Terminal):
    def first_line(self, *arguments):
        """What the program writes to standard error first, which is a pipe."""
        with subprocess.Popen([PROGRAM, *arguments], cwd=self.folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                              text=True) as process:
            try:
                return process.stderr.readline()
            finally:
                process.kill()

    def test_a_long_search_is_announced(self):
        # Eleven tolerances: 2,048 corners, and each at both of its ends. No pass is like another, since the pulses fall
        # behind them.
        resistors = ", ".join(["{kind: resistor, resistance: 1 kOhm +- 5 %}"] * 10)
        self.write("many.load.yaml", "load: x\nrails: {core: {wire: 50 mOhm, elements: [{kind: capacitor, capacitance: 1 mF, "
                   "esr: 100 mOhm}, {kind: pulsed_current, current: 100 mA +- 5 %%, on: 3.7 ms, period: 13.71 ms}, "
                   "{kind: diode, saturation_current: 1 pA, ideality: 1, in_series: 20}, %s]}}\n" % resistors)
        self.write("many.ramp", COURSE.replace("loose.load", "many.load").replace("repeat 100", "repeat 1000"))
        self.assertRegex(self.first_line("check", "many.ramp", "--corners"),
                         r"^2,070 runs of corners: about [\d.]+ (s|min|h); `rampart simulate --sample 200` tries a random part\n$")

    def test_a_short_search_is_not(self):
        done = self.run_it("check", "course.ramp", "--corners")
        self.assertNotIn(b"runs of corners", done.stderr)


class DrawingTest(Terminal):
    def drawing(self, text):
        """Lines from the title to the first table."""
        lines = ESCAPE.sub("", text).splitlines()
        title = next(i for i, line in enumerate(lines) if line.startswith("course.ramp: "))
        return lines[title + 2:lines.index("", title + 2)]

    @unless_sanitized
    def test_the_verdict_comes_first(self):
        code, text = self.on_terminal("simulate", "course.ramp")
        self.assertEqual(code, 0)
        self.assertTrue(text.startswith("PASS with 2 warnings: no trip"), text[:200])

    def test_the_course_is_drawn_in_the_width(self):
        for columns in (60, 100, 200):
            _, text = self.on_terminal("simulate", "course.ramp", columns=columns)
            lines = self.drawing(text)
            self.assertLess(max(map(len, lines)), columns)
            course = lines[0].split("5 V", 1)[1].strip()
            # Up within a sixth of the 60 s, then level for a third, then up and down, then down.
            share = len(course) / 60
            self.assertEqual(course[int(12 * share):int(28 * share)].strip("▇"), "")
            self.assertEqual(course[int(32 * share):int(48 * share)].strip("▒"), "")
            self.assertEqual(sorted(course[:int(8 * share)]), list(course[:int(8 * share)]))
            states = lines[1][lines[0].index("5 V") + 10:]
            # Into constant current at every step up.
            self.assertEqual(states[int(32 * share):int(48 * share)].strip("c"), "")
            self.assertEqual(states[:int(28 * share)].strip(), "")
            self.assertTrue(any("^up" in line for line in lines))
            self.assertTrue(any("rises and falls within a column" in line for line in lines))

    def test_plain_characters_elsewhere(self):
        for environment in ({"LC_ALL": "C"}, {"LANG": "de_DE.ISO-8859-1"}, {}):
            _, text = self.on_terminal("simulate", "course.ramp", environment=environment or {"LC_ALL": ""})
            self.assertTrue("\n".join(self.drawing(text)).isascii())

    def test_no_colour_where_it_is_not_wanted(self):
        self.write("wrong.ramp", COURSE.replace("5 V over", "50 V over"))
        _, text = self.on_terminal("check", "wrong.ramp")
        self.assertRegex(text, ESCAPE)
        _, text = self.on_terminal("check", "wrong.ramp", environment={"LC_ALL": "C.UTF-8", "NO_COLOR": "1"})
        self.assertNotRegex(text, ESCAPE)

    def test_none_in_a_pipe(self):
        self.assertNotIn("one column is", self.run_it("simulate", "course.ramp").stdout.decode())


class ProgressTest(Terminal):
    @unless_sanitized
    def test_long_work_says_how_far_it_is(self):
        _, text = self.on_terminal("simulate", "course.ramp", "--sample", "1500")
        self.assertRegex(text, r"\d+ % done, \d+ s so far, about \d+ s left")
        # It is wiped before the answer.
        self.assertTrue(ESCAPE.sub("", text.rsplit("\r", 1)[1]).startswith("PASS"), text[-200:])

    def test_a_seed_is_a_whole_number(self):
        # 2^64 - 1 is the largest: one more, and -1, would draw what another seed draws.
        for seed, code in (("18446744073709551615", 0), ("0", 0), ("18446744073709551616", 2), ("-1", 2), ("1.5", 2), ("x", 2)):
            done = self.run_it("simulate", "course.ramp", "--sample", "2", "--seed=" + seed)
            self.assertEqual(done.returncode, code, (seed, done.stderr))

    def test_not_in_a_pipe(self):
        done = self.run_it("simulate", "course.ramp", "--sample", "1500")
        self.assertNotIn(b"so far", done.stderr)


@unless_threads_are_sanitized
class InterruptTest(Terminal):
    def interrupted(self, number, ignored=False):
        """Files of the folder after a long build has been sent a signal in the middle of it."""
        self.write("long.ramp", COURSE.replace("repeat 100", "for v in 1 V .. 2 V step 100 mV { ramp core to v over 1 s } repeat 9000000"))
        (self.folder / "t.csv").write_text("old\n")
        before = signal.signal(number, signal.SIG_IGN) if ignored else None
        process = subprocess.Popen([PROGRAM, "build", "long.ramp", "--as", "csv", "-o", "t.csv"], cwd=self.folder,
                                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        if ignored:
            signal.signal(number, before)
        deadline = time.monotonic() + 30
        while not list(self.folder.glob("t.csv.*")) and time.monotonic() < deadline:
            time.sleep(0.01)
        self.assertTrue(list(self.folder.glob("t.csv.*")), "the build was over before it could be interrupted")
        process.send_signal(number)
        if ignored:
            time.sleep(0.2)
            self.assertIsNone(process.poll())
            process.send_signal(signal.SIGTERM)
        self.assertEqual(process.wait(timeout=SECONDS), -(signal.SIGTERM if ignored else number))
        self.assertEqual((self.folder / "t.csv").read_text(), "old\n")
        return sorted(path.name for path in self.folder.glob("t.csv*"))

    def test_nothing_is_left_behind(self):
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGXCPU, signal.SIGABRT):
            self.assertEqual(self.interrupted(number), ["t.csv"])

    def test_what_is_ignored_stays_ignored(self):
        self.assertEqual(self.interrupted(signal.SIGHUP, ignored=True), ["t.csv"])


if __name__ == "__main__":
    main()
