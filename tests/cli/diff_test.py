#!/usr/bin/env python3
"""What changes on the bench. usage: diff_test.py PROGRAM"""
import json
import os
import pathlib
import re
import shutil
import subprocess
import unittest

import jsonschema

from program import BENCH, PROFILE, PROGRAM, InFolder, main

ROOT = pathlib.Path(__file__).resolve().parents[2]
LOOP = PROFILE.replace("  dwell 1 s\n", "  repeat 100 { step core to level; dwell 1 s; step core to 4 V; dwell 1 s }\n")
LINES = BENCH.replace("    channels:", "    lines: [line1, line2, line3]\n    channels:")
WAITS = PROFILE.replace("rail core", "line lamp on bench.line1 output\nline ready on bench.line2 input\nrail core")
WAITS = WAITS.replace("  off core\n", """  await ready high within 2 s assume 100 ms
  dwell 500 ms
  lower lamp
  off core
""").replace("  dwell 1 s\n", "  raise lamp\n  dwell 1 s\n").replace("expect no trip", """safe {
  off core
  pulse lamp for 10 ms
  dwell 50 ms
}
expect no trip""")


SCHEMA = jsonschema.Draft202012Validator(json.loads((ROOT / "docs/diff.schema.json").read_text(encoding="utf-8")))
# As docs/diff.md has it.
DRIVER = re.search(r"git config diff.rampart.command '(.*)'\n", (ROOT / "docs/diff.md").read_text(encoding="utf-8")).group(1)


class Differences(InFolder):
    def diff(self, old, new, *arguments):
        self.write("old.ramp", old)
        self.write("new.ramp", new)
        done = self.run_it("diff", "old.ramp", "new.ramp", "--format", "json", *arguments)
        self.assertIn(done.returncode, (0, 1), done.stderr.decode())
        document = json.loads(done.stdout)
        SCHEMA.validate(document)
        self.assertEqual(document["differs"], done.returncode == 1)
        return document

    def test_layout_and_names_are_no_difference(self):
        for new in (PROFILE, PROFILE.replace("\n", "\n\n# a remark\n"), PROFILE.replace("level", "v_core"),
                    PROFILE.replace("core", "main").replace("one.load", "main.load")):
            self.write("main.load.yaml", (self.folder / "one.load.yaml").read_text().replace("core", "main"))
            self.assertFalse(self.diff(PROFILE, new)["differs"], new)

    def test_a_setpoint(self):
        document = self.diff(PROFILE, PROFILE.replace("level = 5 V", "level = 5.5 V"))
        rail = document["rails"][0]
        # Before and after are what the two profiles say; the time is the dwell.
        self.assertEqual(rail["setpoint"], {"total_s": 1, "left_out": 0, "stretches": [
            {"segment": "1", "from_s": 0, "to_s": 1, "largest": 0.5, "at_s": 0, "old": 5, "new": 5.5, "passes": 1,
             "waits": False}]})
        self.assertEqual(rail["limit"]["stretches"], [])
        energy = [figure for figure in document["figures"] if figure["rail"] == "core" and figure["what"] == "energy"]
        # Joule's law: V²/R for one second.
        self.assertAlmostEqual(energy[0]["old"], 25 / 10)
        self.assertAlmostEqual(energy[0]["new"], 5.5 ** 2 / 10)

    def test_a_limit_an_output_and_the_duration(self):
        rail = self.diff(PROFILE, PROFILE.replace("limit core to 1 A", "limit core to 900 mA"))["rails"][0]
        self.assertAlmostEqual(rail["limit"]["stretches"][0]["largest"], 0.1)
        rail = self.diff(PROFILE, PROFILE.replace("  on core\n", "  dwell 20 ms\n  on core\n"))["rails"][0]
        self.assertEqual([(s["from_s"], s["to_s"], s["old"], s["new"]) for s in rail["output"]["stretches"]],
                         [(0, 0.02, True, False)])
        document = self.diff(PROFILE, PROFILE.replace("dwell 1 s", "dwell 2 s"))
        self.assertEqual(document["duration_s"], {"old": 1, "new": 2})
        self.assertEqual(document["segments"], [])

    def test_ramps_are_compared_where_they_differ_most(self):
        linear = "    timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: linear}"
        self.write("linear.bench.yaml", BENCH.replace("    timing: {minimum_step: 10 ms, resolution: 1 ms}", linear))
        ramped = PROFILE.replace("step core to level\n", "ramp core to level over 1 s\n")
        rail = self.diff(ramped, ramped.replace("over 1 s", "over 2 s").replace("dwell 1 s", "dwell 20 ms"), "--bench",
                         "linear.bench.yaml")["rails"][0]
        stretch = rail["setpoint"]["stretches"][0]
        # At 1 s one is at 5 V and the other half way.
        self.assertEqual((stretch["at_s"], stretch["old"], stretch["new"], stretch["largest"]), (1, 5, 2.5, 2.5))

    def test_loops_are_compared_folded(self):
        rail = self.diff(LOOP, LOOP.replace("step core to 4 V", "step core to 4.1 V"))["rails"][0]
        self.assertAlmostEqual(rail["setpoint"]["total_s"], 100)
        self.assertEqual(sum(stretch["passes"] for stretch in rail["setpoint"]["stretches"]), 100)
        self.assertLess(len(rail["setpoint"]["stretches"]), 5)
        many = LOOP.replace("repeat 100", "repeat 100000000")
        rail = self.diff(many, many.replace("4 V", "4.1 V"))["rails"][0]
        self.assertAlmostEqual(rail["setpoint"]["total_s"], 1e8)

    def test_loops_off_the_grid_are_what_their_rows_are(self):
        def profile(body):
            return PROFILE.replace("  step core to level\n  dwell 1 s\n", body)
        for passes in ("20.4 ms", "20.5 ms", "20.6 ms", "33.3 ms", "10.1 ms"):
            body = "  step core to 1 V; dwell %s; step core to 2 V; dwell 20 ms\n" % passes
            loop, written_out = profile("  repeat 7 { %s }\n" % body.strip()), profile(7 * body)
            for old, new in ((loop, written_out), (written_out, loop), (loop, loop)):
                document = self.diff(old, new)
                self.assertEqual(self.run_it("build", "old.ramp", "--as", "csv", "-o", "-").stdout,
                                 self.run_it("build", "new.ramp", "--as", "csv", "-o", "-").stdout)
                self.assertEqual([document["rails"][0][key]["stretches"] for key in ("setpoint", "limit", "output")], [[], [], []], passes)

    def test_a_renamed_rail_is_the_same_wherever_it_is_named(self):
        self.write("two.bench.yaml", BENCH + "      ch2: {like: ch1}\n")
        old = PROFILE.replace("rail core on bench.ch1", "rail core on bench.ch1\nrail aux on bench.ch2").replace(
            "fuse after 50 ms", "fuse after 50 ms linked with aux").replace("run {", "rule \"a\" always aux <= 9 V\nrun {")
        old = old.replace("  on core\n", "  limit aux to 1 A\n  on core, aux\n").replace("  off core\n", "  off core, aux\n")
        new = old.replace("aux", "spare")
        self.assertIn("`aux`", self.run_it("check", "-", "--bench", "two.bench.yaml", stdin=old).stderr.decode())
        document = self.diff(old, new, "--bench", "two.bench.yaml")
        self.assertEqual((document["setup"], document["findings"]), ([], {"vanished": [], "appeared": [], "changed": []}))
        self.assertFalse(document["differs"])
        # Another rail is another link.
        self.write("three.bench.yaml", BENCH + "      ch2: {like: ch1}\n      ch3: {like: ch1}\n")
        old = old.replace("rail aux", "rail more on bench.ch3\nrail aux")
        document = self.diff(old, old.replace("linked with aux", "linked with more"), "--bench", "three.bench.yaml")
        self.assertEqual([(change["rail"], change["what"], change["old"], change["new"]) for change in document["setup"]],
                         [("core", "fuse", "after 50 ms linked with aux", "after 50 ms linked with more")])

    def test_what_is_left_goes_on_through_the_wait(self):
        self.write("lines.bench.yaml", LINES)
        waits = WAITS.replace("  off core\n", "  step core to 5 V\n  off core\n", 1)
        document = self.diff(waits, waits.replace("level = 5 V", "level = 6 V"), "--bench", "lines.bench.yaml")
        setpoint = document["rails"][0]["setpoint"]
        # By hand: 1 s, the wait of 100 ms, and 500 ms after it.
        self.assertAlmostEqual(setpoint["total_s"], 1.6)
        self.assertEqual([(s["segment"], s["from_s"], s["to_s"], s["waits"]) for s in setpoint["stretches"]],
                         [("1", 0, 1, True), ("2", 0, 0.5, False)])
        self.write("new.ramp", waits.replace("level = 5 V", "level = 6 V"))
        text = self.run_it("diff", "old.ramp", "new.ramp", "--bench", "lines.bench.yaml").stdout.decode()
        self.assertIn("0 s to 1 s of segment 1 and through the wait after it: 6 V instead of 5 V", text)

    def test_set_up_and_findings(self):
        document = self.diff(PROFILE, PROFILE.replace("overvoltage 12 V; ", "").replace("after 50 ms", "after 60 ms"))
        self.assertEqual(document["setup"], [{"rail": "core", "what": "overvoltage", "old": "12 V", "new": ""},
                                             {"rail": "core", "what": "fuse", "old": "after 50 ms", "new": "after 60 ms"}])
        self.assertEqual(document["findings"]["vanished"], [])
        self.assertEqual(document["findings"]["appeared"],
                         ["warning: rail `core` has no overvoltage protection [no-overvoltage]"])

    def test_a_comment_moves_the_lines_that_findings_name(self):
        broken = PROFILE.replace("expect no trip", "expect peak_current(core) <= 1 mA")
        document = self.diff(broken, "# Nothing else.\n" + broken)
        self.assertEqual((document["differs"], document["findings"]["changed"]), (False, []))

    def lines_and_waits(self, old, new):
        self.assertIn(old, WAITS)
        return self.diff(WAITS, WAITS.replace(old, new, 1), "--bench", "lines.bench.yaml")

    def test_lines(self):
        self.write("lines.bench.yaml", LINES)
        def levels(document):
            line = document["lines"][0]
            return [(s["segment"], s["from_s"], s["to_s"], s["old"], s["new"]) for s in line["level"]["stretches"]]
        for old, new in (("lamp", "light"), ("ready", "go_on")):
            self.assertFalse(self.diff(WAITS, WAITS.replace(old, new), "--bench", "lines.bench.yaml")["differs"])
        # It is up from the start to the last statement of the run.
        self.assertEqual(levels(self.lines_and_waits("  raise lamp\n", "")), [("1", 0, 1, True, None), ("2", 0, 0.5, True, None)])
        self.assertEqual(levels(self.lines_and_waits("  lower lamp\n", "")), [("2", 0.5, 0.5, False, True)])
        self.assertEqual(levels(self.lines_and_waits("pulse lamp for 10 ms", "pulse lamp for 30 ms")), [("safe", 0.01, 0.03, False, True)])
        document = self.lines_and_waits("line lamp on bench.line1", "line lamp on bench.line3")
        self.assertEqual(document["setup"], [{"line": "lamp", "what": "terminal", "old": "bench.line1", "new": "bench.line3"}])

    def test_a_line_that_only_the_stop_sets(self):
        self.write("lines.bench.yaml", LINES)
        # A line that the stop lowers is not one that it leaves as it is, though both are taken to be low at first.
        line = self.lines_and_waits("  pulse lamp for 10 ms\n", "  lower lamp\n")["lines"][0]
        self.assertEqual([(s["segment"], s["old"], s["new"]) for s in line["level"]["stretches"]], [("safe", True, False)])
        line = self.lines_and_waits("  pulse lamp for 10 ms\n", "")["lines"][0]
        self.assertEqual({(s["segment"], s["new"]) for s in line["level"]["stretches"]}, {("safe", None)})
        lowered = WAITS.replace("  pulse lamp for 10 ms\n", "  lower lamp\n")
        line = self.diff(lowered, lowered.replace("  lower lamp\n  dwell 50 ms\n}", "  dwell 50 ms\n}"), "--bench", "lines.bench.yaml")["lines"][0]
        self.assertEqual([(s["segment"], s["from_s"], s["to_s"], s["old"], s["new"]) for s in line["level"]["stretches"]],
                         [("safe", 0, 0.05, False, None)])

    def test_waits(self):
        self.write("lines.bench.yaml", LINES)
        def waits(old, new):
            return [tuple(one.values()) for one in self.lines_and_waits(old, new)["waits"]]
        self.assertEqual(waits("ready high", "ready low"), [("1", "for", "ready high", "ready low")])
        self.assertEqual(waits("within 2 s", "within 20 s"), [("1", "within", "2 s", "20 s")])
        self.assertEqual(waits("assume 100 ms", "assume 200 ms"), [("1", "assume", "100 ms", "200 ms")])
        self.assertEqual(waits("await ready high", 'await operator "Go"'), [("1", "for", "ready high", 'operator "Go"')])
        self.assertEqual(waits("await ready high", "await core >= 3 V"), [("1", "for", "ready high", "core >= 3 V")])
        condition = WAITS.replace("await ready high", "await core >= 3 V")
        longer = self.diff(condition, condition.replace("dwell", "dwell 1 s\n  dwell", 1), "--bench", "lines.bench.yaml")
        durations = [figure for figure in longer["figures"] if figure["what"] == "duration with waits"]
        self.assertEqual(len(durations), 1)
        self.assertAlmostEqual(durations[0]["new"] - durations[0]["old"], 1, places=6)
        for new, what in (("core >= 4 V", [("1", "for", "core >= 3 V", "core >= 4 V")]), ("core >= 2 V + 1 V", [])):
            document = self.diff(condition, condition.replace("core >= 3 V", new), "--bench", "lines.bench.yaml")
            self.assertEqual([tuple(one.values()) for one in document["waits"]], what)

    def test_what_is_left_at_the_end(self):
        document = self.diff(PROFILE, PROFILE.replace("  off core\n", ""))
        self.assertEqual([(s["from_s"], s["to_s"], s["old"], s["new"]) for s in document["rails"][0]["output"]["stretches"]],
                         [(1, 1, False, True)])

    def test_a_finding_with_other_numbers_is_still_found(self):
        document = self.diff(PROFILE.replace("overpower 4 W", "overpower 9 W"), PROFILE.replace("overpower 4 W", "overpower 8.5 W"))
        findings = document["findings"]
        self.assertEqual((findings["vanished"], findings["appeared"]), ([], []))
        self.assertEqual([("(9 W)" in one["old"], "(8.5 W)" in one["new"]) for one in findings["changed"]], [(True, True)])

    def test_three_stretches_are_shown_and_the_others_counted(self):
        ups = "".join("step core to level; dwell 1 s; step core to 4 V; dwell 1 s\n" for _ in range(9))
        old = PROFILE.replace("  dwell 1 s\n", ups)
        self.write("old.ramp", old)
        self.write("new.ramp", old.replace("level = 5 V", "level = 6 V"))
        short = self.run_it("diff", "old.ramp", "new.ramp").stdout.decode()
        full = self.run_it("diff", "old.ramp", "new.ramp", "--full").stdout.decode()
        self.assertEqual((short.count("instead of 5 V"), full.count("instead of 5 V")), (3, 9))
        self.assertIn("and in 6 more stretches", short)

    def test_margins_have_no_noise(self):
        # 4 W asked of a protection at 4 W: no margin at all, whichever way the last bit falls.
        full = PROFILE.replace("level = 5 V", "level = 6.3 V").replace("overpower 4 W", "overpower 3.969 W after 10 s")
        document = self.diff(full, full.replace("dwell 1 s", "dwell 2 s").replace("6.3 V in", "6.2 V in"))
        margins = [figure["old"] for figure in document["figures"] if figure["what"] == "margin of overpower headroom"]
        self.assertEqual(margins, [0])

    def test_a_side_without_a_profile(self):
        self.write("empty.ramp", "")
        for nothing in ("/dev/null", "empty.ramp"):
            done = self.run_it("diff", nothing, "one.ramp", "--name", "one.ramp")
            self.assertEqual((done.returncode, done.stdout.decode()), (1, "one.ramp\nnew profile: Five volts\nlasts 1 s\nrail core\n"))
            done = self.run_it("diff", "one.ramp", nothing)
            self.assertEqual((done.returncode, done.stdout.decode()), (1, "removed profile: Five volts\nlasts 1 s\nrail core\n"))
            document = json.loads(self.run_it("diff", nothing, "one.ramp", "--format", "json").stdout)
            SCHEMA.validate(document)
            self.assertEqual((document["only"], document["only_new"]), ("new", ["core"]))

    def test_exit_codes(self):
        self.write("new.ramp", PROFILE.replace("5 V in", "6 V in"))
        done = self.run_it("diff", "one.ramp", "new.ramp", "--quiet")
        self.assertEqual((done.returncode, done.stdout, done.stderr), (1, b"", b""))
        self.assertEqual(self.run_it("diff", "one.ramp", "one.ramp").returncode, 0)
        self.write("wrong.ramp", "rail\n")
        for arguments in (("one.ramp", "missing.ramp"), ("wrong.ramp", "one.ramp")):
            done = self.run_it("diff", *arguments)
            self.assertEqual((done.returncode, done.stdout), (2, b""))
            self.assertNotEqual(done.stderr, b"")
            done = self.run_it("diff", *arguments, "--format", "json")
            document = json.loads(done.stdout)
            SCHEMA.validate(document)
            self.assertEqual((done.returncode, document["differs"]), (2, None))
            self.assertEqual(document["broken"], ["new" if "missing.ramp" in arguments else "old"])
            self.assertEqual([f["name"] for side in ("old", "new") for f in document[side + "_findings"] if f["severity"] == "error"],
                             ["unreadable" if "missing.ramp" in arguments else "syntax"])
        document = json.loads(self.run_it("diff", "/dev/null", "wrong.ramp", "--format", "json").stdout)
        self.assertEqual((document["broken"], document["new_findings"][0]["name"]), (["old", "new"], "syntax"))

    @unittest.skipUnless(shutil.which("git"), "git is not installed")
    def test_as_a_diff_driver(self):
        def git(*arguments):
            environment = dict(os.environ, PATH=os.path.dirname(PROGRAM) + ":" + os.environ["PATH"], HOME=str(self.folder),
                               GIT_CONFIG_NOSYSTEM="1")
            done = subprocess.run(["git", "-c", "user.name=t", "-c", "user.email=t@example.org", *arguments], cwd=self.folder,
                                  capture_output=True, text=True, env=environment, timeout=60)
            self.assertEqual(done.returncode, 0, done.stderr)
            return done.stdout
        git("init", "-q")
        git("config", "diff.rampart.command", DRIVER)
        self.write(".gitattributes", "*.ramp diff=rampart\n")
        (self.folder / "sub").mkdir()
        git("add", ".")
        git("commit", "-qm", "first")
        self.write("one.ramp", PROFILE.replace("level = 5 V", "level = 5.5 V"))
        self.write("sub/two.ramp", PROFILE.replace("one.", "../one."))
        git("add", ".")
        text = git("diff", "--cached")
        self.assertIn("one.ramp\nrail core\n", text)
        self.assertIn("5.5 V instead of 5 V", text)
        self.assertIn("sub/two.ramp\nnew profile: Five volts\n", text)
        self.write("one.ramp", PROFILE.replace("level = 5 V", "level = 5.5 V") + "# a remark\n")
        self.assertEqual(git("diff"), "one.ramp: nothing changes on the bench\n")
        # An imported file and a bench say what they change in the profiles that use them.
        git("add", ".")
        git("commit", "-qm", "second")
        self.write("more levels.ramp", "let v = 5 V\n")
        (self.folder / "deep").mkdir()
        self.write("deep/user.ramp", PROFILE.replace("one.", "../one.").replace("param level = 5 V in 1 V .. 10 V", 'import "../more levels.ramp"').replace("to level", "to v"))
        git("add", ".")
        git("commit", "-qm", "third")
        self.write("more levels.ramp", "let v = 5.5 V\n")
        text = git("diff")
        self.assertTrue(text.startswith("deep/user.ramp (uses more levels.ramp)\nrail core\n"), text)
        self.assertIn("5.5 V instead of 5 V", text)
        self.assertNotIn("one.ramp", text)
        git("checkout", "-q", ".")
        self.write("one.bench.yaml", BENCH.replace("resolution: 1 ms", "resolution: 2 ms").replace("minimum_step: 10 ms", "minimum_step: 20 ms"))
        self.write(".gitattributes", "*.ramp diff=rampart\n*.yaml diff=rampart\n")
        self.assertIn("deep/user.ramp (uses one.bench.yaml): nothing changes on the bench\n", git("diff", "--", "one.bench.yaml"))
        git("checkout", "-q", "one.bench.yaml")
        # A folder that moved: both sides find their files where they are now.
        git("add", ".")
        git("commit", "-qm", "fourth")
        git("mv", "deep", "moved")
        self.write("moved/user.ramp", (self.folder / "moved/user.ramp").read_text().replace("dwell 1 s", "dwell 2 s"))
        git("add", ".")
        text = git("diff", "--cached", "-M")
        self.assertIn("moved/user.ramp\nlasts 2 s instead of 1 s\n", text)


if __name__ == "__main__":
    main()
