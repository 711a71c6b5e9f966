#!/usr/bin/env python3
"""Exit codes, files and pipes. usage: exit_test.py PROGRAM"""
import os
import pathlib
import resource
import shutil
import subprocess

from program import PROFILE, PROGRAM, InFolder, main
from pseudo_terminal import run_on_terminal
from sanitized import SECONDS, unless_sanitized

WRONG = PROFILE.replace("step core to level", "step core to 25 V")
WARNED = PROFILE.replace("protect core { overvoltage 12 V; fuse after 50 ms; overpower 4 W }\n", "")
BUILD = ("build", "--as", "csv", "-o")


class ExitCodes(InFolder):
    def code(self, *arguments, **keywords):
        return self.run_it(*arguments, **keywords).returncode

    def test_clean(self):
        for command in ("check", "simulate"):
            self.assertEqual(self.code(command, "one.ramp"), 0)
        self.assertEqual(self.code(*BUILD, "t.csv", "one.ramp"), 0)

    def test_findings_at_error_level(self):
        self.write("wrong.ramp", WRONG)
        for command in (("check",), ("simulate",), (*BUILD, "t.csv")):
            for form in ("text", "json", "sarif"):
                self.assertEqual(self.code(*command, "wrong.ramp", "--format", form), 1)

    def test_warnings_count_when_strict(self):
        self.write("warned.ramp", WARNED)
        self.assertEqual(self.code("check", "warned.ramp"), 0)
        self.assertEqual(self.code("check", "--strict", "warned.ramp"), 1)

    def test_the_verdict_says_what_the_exit_code_says(self):
        self.write("wrong.ramp", WRONG)
        self.write("warned.ramp", WARNED)
        for arguments, code, words in ((("one.ramp",), 0, b"PASS: no trip"), (("wrong.ramp",), 1, b"FAIL: 3 errors"),
                                       (("warned.ramp",), 0, b"PASS with "), (("warned.ramp", "--strict"), 1, b"FAIL: ")):
            for command in ("check", "simulate"):
                done = self.run_it(command, *arguments)
                self.assertEqual(done.returncode, code, (command, arguments, done.stderr))
                self.assertTrue(done.stdout.startswith(words), (command, arguments, done.stdout))

    def test_parameters(self):
        self.assertEqual(self.code("check", "one.ramp", "--set", "level=6 V"), 0)
        self.assertEqual(self.code("check", "one.ramp", "--set", "level=11V"), 1)
        self.assertEqual(self.code("check", "one.ramp", "--set", "levl=6V"), 1)

    def test_sweep(self):
        self.write("only_here.ramp", PROFILE.replace("5 V in 1 V .. 10 V", "5 V in 1 V .. 30 V"))
        self.write("nowhere.ramp", WRONG)
        self.assertEqual(self.code("sweep", "only_here.ramp"), 0)
        # The overpower of 4 W at 10 Ohm lets sqrt(4 W * 10 Ohm) = 6.3246 V pass (Joule's law), in steps of 1 mV 6.324 V.
        done = self.run_it("sweep", "-", "--find", "greatest", "level",
                           stdin=(self.folder / "only_here.ramp").read_text())
        self.assertIn(b"--set level=6.324V\n", done.stdout)
        self.assertEqual(done.returncode, 0)
        self.assertEqual(self.code("sweep", "only_here.ramp", "--set", "level=12 V", "--vary", "level=11V..12V"), 1)
        self.assertEqual(self.code("sweep", "nowhere.ramp", "--find", "least", "level"), 1)
        self.assertEqual(self.code("sweep", "missing.ramp"), 2)
        self.assertEqual(self.code("sweep", "one.ramp", "--vary", "level=1V..30V"), 2)
        self.assertEqual(self.code("sweep", "one.ramp", "--find", "least"), 2)

    def test_the_worst_of_several(self):
        self.write("wrong.ramp", WRONG)
        self.assertEqual(self.code("check", "one.ramp", "wrong.ramp"), 1)
        done = self.run_it("check", "missing.ramp", "wrong.ramp")
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"voltage-range", done.stderr)

    def test_several_at_once_answer_in_the_order_given(self):
        names = ["many%d.ramp" % i for i in range(24)]
        for i, name in enumerate(names):
            # The later it is given, the less there is to do for it.
            self.write(name, (WRONG if i % 3 == 0 else WARNED).replace('mark "end"', "dwell 1 s\n" * (24 - i) + 'mark "end"'))
        def findings(*profiles):
            return self.run_it("check", *profiles).stderr.decode().rsplit("\n", 2)[0]  # without the count of them

        self.assertEqual(findings(*names), "\n".join(map(findings, names)))
        self.assertEqual(self.code("check", *names), 1)

    def test_unreadable_inputs(self):
        self.assertEqual(self.code("check", "missing.ramp"), 2)
        self.assertEqual(self.code("check", "."), 2)
        self.assertEqual(self.code("check", "one.ramp", "--bench", "missing.yaml"), 2)
        self.assertEqual(self.code("check", "one.ramp", "--load", "missing.yaml"), 2)

    def test_bad_usage(self):
        for arguments, message in (
                ([], "Usage: rampart"),
                (["chek", "one.ramp"], "rampart: there is no command `chek`: did you mean `check`?\n"),
                (["check"], "rampart: PROFILE is required\nrampart check --help says how it is called\n"),
                (["check", "--format", "yaml", "one.ramp"], "`yaml` is not text, json or sarif"),
                (["check", "--format", "0", "one.ramp"], "`0` is not text, json or sarif"),
                (["build", "one.ramp", "--as", "tsv", "-o", "t"], "`tsv` is not csv"),
                (["build", "one.ramp", "--as", "csv"], "--output is required"),
                (["check", "one.ramp", "--sterict"], "--sterict"),
                *((["simulate", "one.ramp", "--sample", "9", "--seed", seed], "`%s` is not a whole number from 0" % seed)
                  for seed in ("-1", "+1", "18446744073709551616", "1.0", "1e3", "0x10", ""))):
            done = self.run_it(*arguments)
            self.assertEqual(done.returncode, 2, arguments)
            self.assertIn(message, done.stderr.decode())
            self.assertEqual(done.stdout, b"")

    def test_help_and_version(self):
        for arguments in (["--help"], ["--version"], ["build", "--help"]):
            done = self.run_it(*arguments)
            self.assertEqual((done.returncode, done.stderr), (0, b""))
            self.assertNotEqual(done.stdout, b"")


class Files(InFolder):
    def build(self, output, profile="one.ramp", **keywords):
        return self.run_it(*BUILD, output, profile, **keywords)

    def test_errors_keep_the_old_file(self):
        self.write("wrong.ramp", WRONG)
        self.write("t.csv", "old\n")
        self.assertEqual(self.build("t.csv", "wrong.ramp").returncode, 1)
        self.assertEqual((self.folder / "t.csv").read_text(), "old\n")
        self.assertEqual(self.build("t.csv").returncode, 0)
        self.assertIn("bench.ch1,5.000,1.000,1", (self.folder / "t.csv").read_text())

    def test_a_place_that_cannot_be_written(self):
        self.assertEqual(self.build("missing/t.csv").returncode, 2)
        self.assertEqual(self.build(".").returncode, 2)
        self.assertEqual(sorted(os.listdir(self.folder)), ["one.bench.yaml", "one.load.yaml", "one.ramp"])

    def test_a_folder_without_permission_keeps_the_old_file(self):
        inner = self.folder / "inner"
        inner.mkdir()
        (inner / "t.csv").write_text("old\n")
        inner.chmod(0o555)
        self.addCleanup(inner.chmod, 0o755)
        # Nothing is forbidden to root, who therefore runs it as nobody.
        program = shutil.copy(PROGRAM, self.folder)
        self.folder.chmod(0o755)
        nobody = {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}
        done = subprocess.run([program, *BUILD, "inner/t.csv", "one.ramp"], cwd=self.folder, capture_output=True, **nobody)
        self.assertEqual((done.returncode, done.stderr), (2, b"no errors or warnings\nrampart: inner/t.csv: permission denied\n"))
        self.assertEqual((inner / "t.csv").read_text(), "old\n")

    def test_inputs_are_not_replaced(self):
        os.link(self.folder / "one.ramp", self.folder / "linked.ramp")
        for output in ("one.ramp", "./one.ramp", "linked.ramp", "one.bench.yaml", "one.load.yaml"):
            before = (self.folder / output).read_bytes()
            done = self.build(output)
            self.assertEqual(done.returncode, 2)
            self.assertIn(b"would replace", done.stderr)
            self.assertEqual((self.folder / output).read_bytes(), before)

    def test_nothing_that_was_read_is_replaced(self):
        """Logs and their descriptions, sweeps, parts of other machines: measured once, and read by one command of many."""
        example = pathlib.Path(__file__).resolve().parents[2] / "profiles/tide-gauge"
        for path in example.glob("*.*"):
            (self.folder / path.name).write_bytes(path.read_bytes())
        part, sweep = self.folder / "part.json", self.folder / "sweep.json"
        part.write_bytes(self.run_it("simulate", "power-up.ramp", "--corners", "--part", "1/1").stdout)
        sweep.write_bytes(self.run_it("sweep", "supply-margin.ramp", "--format", "json").stdout)
        os.symlink("as-run.csv", self.folder / "link.csv")
        for arguments, output in ((("fit-load", "power-up.ramp", "--log", "as-run.csv", "-o"), "as-run.csv"),
                                  (("fit-load", "power-up.ramp", "--log", "as-run.csv", "-o"), "link.csv"),
                                  (("report", "power-up.ramp", "--log", "as-run.csv", "-o"), "as-run.csv"),
                                  (("report", "power-up.ramp", "--log", "as-run.csv", "-o"), "as-run.log.yaml"),
                                  (("report", "supply-margin.ramp", "--sweep", "sweep.json", "-o"), "sweep.json"),
                                  (("simulate", "power-up.ramp", "--corners", "--join", "part.json", "--waveforms"), "part.json")):
            with self.subTest(arguments=arguments, output=output):
                before = (self.folder / output).read_bytes()
                self.assertTrue(before)
                done = self.run_it(*arguments, output)
                self.assertEqual(done.returncode, 2, done.stderr)
                self.assertIn(b"would replace", done.stderr)
                self.assertEqual((self.folder / output).read_bytes(), before)

    def test_an_empty_value_is_no_missing_one(self):
        for arguments in (("check", "one.ramp", "--bench", ""), ("check", "one.ramp", "--load", ""),
                          ("simulate", "one.ramp", "--waveforms", ""), ("simulate", "one.ramp", "--fault", ""),
                          ("simulate", "one.ramp", "--corners", "--part", ""), ("sweep", "one.ramp", "--keep", ""),
                          ("report", "one.ramp", "-o", "r.html", "--sweep", ""), ("check", "one.ramp", "--format", "")):
            with self.subTest(arguments=arguments):
                done = self.run_it(*arguments)
                self.assertEqual((done.returncode, done.stdout), (2, b""))
                self.assertIn(b"the value is empty", done.stderr)

    def test_an_answer_and_its_waveforms_are_not_mixed(self):
        done = self.run_it("simulate", "one.ramp", "--waveforms", "-")
        self.assertEqual((done.returncode, done.stdout), (2, b""))
        self.assertIn(b"standard output has the answer: name a file", done.stderr)

    @unless_sanitized
    def test_no_thread_is_to_be_had(self):
        """Whatever a limit on memory forbids, it is said, and none of these ends by a signal."""
        (self.folder / "s.link.yaml").write_text("link: One\nsupplies: {bench: {tcp: {address: 127.0.0.1, port: 1}, serial_number: S, "
                                                 "channels: {ch1: 1}}}\n")
        for kilobytes in range(14000, 30000, 2000):
            limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (kilobytes << 10, kilobytes << 10))
            for arguments, codes in ((("off", "--link", "s.link.yaml"), (2, 3)), (("language-server",), (1, 2)),
                                     (("check", "one.ramp"), (0, 2))):
                with self.subTest(arguments=arguments, kilobytes=kilobytes):
                    done = subprocess.run([PROGRAM, *arguments], cwd=self.folder, preexec_fn=limit, stdin=subprocess.DEVNULL,
                                          capture_output=True, timeout=SECONDS)
                    self.assertIn(done.returncode, codes, done.stderr)
                    self.assertTrue(done.stderr or done.stdout or arguments[0] == "language-server")

    def test_the_profile_is_not_replaced_whichever_way_it_comes(self):
        before = (self.folder / "one.ramp").read_bytes()
        with open(self.folder / "one.ramp", "rb") as profile:
            done = subprocess.run([PROGRAM, *BUILD, "one.ramp", "-"], cwd=self.folder, stdin=profile, capture_output=True)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"rampart: one.ramp: would replace `standard input`, which it is made from\n", done.stderr)
        with open(self.folder / "one.ramp", "ab") as end:
            done = self.run_it(*BUILD, "-", "one.ramp", stdout=end)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"rampart: standard output: would replace `one.ramp`, which it is made from\n", done.stderr)
        self.assertEqual((self.folder / "one.ramp").read_bytes(), before)

    def test_a_limit_on_the_size_of_files(self):
        self.write("long.ramp", PROFILE.replace("dwell 1 s", "repeat 2000 { step core to 4 V; dwell 10 ms; "
                                                             "step core to 5 V; dwell 10 ms }"))
        self.write("t.csv", "old\n")
        before = sorted(os.listdir(self.folder))
        limit = lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))
        done = subprocess.run([PROGRAM, *BUILD, "t.csv", "long.ramp"], cwd=self.folder, preexec_fn=limit, capture_output=True)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"rampart: t.csv: file too large\n", done.stderr)
        self.assertEqual(sorted(os.listdir(self.folder)), before)
        self.assertEqual((self.folder / "t.csv").read_text(), "old\n")

    def test_a_pipe_that_has_a_name_only_for_the_program(self):
        """As `-o /dev/stdout | …` and `-o >(…)` of a shell."""
        plain = self.run_it(*BUILD, "-", "one.ramp")
        self.assertEqual(plain.returncode, 0, plain.stderr)
        for path in ("/dev/stdout", "/dev/fd/1", "/proc/self/fd/1"):
            done = self.run_it(*BUILD, path, "one.ramp")
            self.assertEqual((done.returncode, done.stdout), (0, plain.stdout), done.stderr)
        reader, writer = os.pipe()
        done = subprocess.run([PROGRAM, *BUILD, "/dev/fd/%d" % writer, "one.ramp"], cwd=self.folder, pass_fds=[writer], capture_output=True, timeout=SECONDS)
        os.close(writer)
        with os.fdopen(reader, "rb") as stream:
            self.assertEqual((done.returncode, stream.read()), (0, plain.stdout), done.stderr)

    @unless_sanitized
    def test_little_memory(self):
        self.write("large.ramp", PROFILE + "# a comment\n" * 1_000_000)
        before = sorted(os.listdir(self.folder))
        messages = 0
        for megabytes in range(16, 96, 8):
            limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))
            done = subprocess.run([PROGRAM, *BUILD, "t.csv", "large.ramp"], cwd=self.folder, preexec_fn=limit,
                                  capture_output=True)
            if done.returncode == 0:
                break
            self.assertEqual((done.returncode, done.stderr), (2, b"rampart: out of memory\n"), megabytes)
            self.assertEqual(sorted(os.listdir(self.folder)), before)
            messages += 1
        self.assertGreater(messages, 1)
        self.assertEqual(done.returncode, 0)

    def test_a_full_disk(self):
        with open("/dev/full", "wb") as full:
            for command in ((*BUILD, "-", "one.ramp"), ("check", "--format", "json", "one.ramp"), ("simulate", "one.ramp"),
                            (*BUILD, "t.csv", "one.ramp", "--format", "json"), ("--help",), ("--version",),
                            ("build", "--help"), ("explain",)):
                done = self.run_it(*command, stdout=full)
                self.assertEqual(done.returncode, 2, command)
                self.assertIn(b"rampart: standard output: no space left on device\n", done.stderr)

    def closed(self, descriptor, *arguments):
        """Runs the program as a shell does with `>&-`: without that descriptor."""
        return subprocess.run(["sh", "-c", 'exec "$0" "$@" ' + descriptor, PROGRAM, *arguments], cwd=self.folder,
                              stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=SECONDS)

    def test_a_closed_output_takes_no_file_along(self):
        self.write("ugly.ramp", PROFILE.replace("  dwell", "      dwell"))
        self.assertEqual(self.run_it("format", "ugly.ramp").returncode, 0)
        formatted = (self.folder / "ugly.ramp").read_bytes()
        self.write("ugly.ramp", PROFILE.replace("  dwell", "      dwell"))
        done = self.closed(">&-", "format", "ugly.ramp")
        self.assertEqual((done.returncode, done.stderr), (2, b"rampart: standard output: bad file descriptor\n"))
        self.assertEqual((self.folder / "ugly.ramp").read_bytes(), formatted)

        self.assertEqual(self.build("t.csv").returncode, 0)
        table = (self.folder / "t.csv").read_bytes()
        for command in ((*BUILD, "t.csv"), ("report", "-o", "t.html")):
            for form in ("json", "sarif"):
                done = self.closed(">&-", *command, "one.ramp", "--format", form)
                self.assertEqual(done.returncode, 2, command)
                self.assertIn(b"rampart: standard output: bad file descriptor\n", done.stderr)
        self.assertEqual((self.folder / "t.csv").read_bytes(), table)
        self.assertFalse((self.folder / "t.html").exists())
        for command in (("check", "--format", "json"), ("simulate",), (*BUILD, "-"), ("report", "-o", "-")):
            self.assertEqual(self.closed(">&-", *command, "one.ramp").returncode, 2, command)

    def test_a_closed_input_or_error_takes_no_file_along(self):
        self.write("warned.ramp", WARNED)
        self.assertEqual(self.build("t.csv", "warned.ramp").returncode, 0)
        table = (self.folder / "t.csv").read_bytes()
        for descriptor in ("<&-", "2>&-", "<&- 2>&-"):
            (self.folder / "t.csv").unlink()
            self.assertEqual(self.closed(descriptor, *BUILD, "t.csv", "warned.ramp").returncode, 0)
            self.assertEqual((self.folder / "t.csv").read_bytes(), table)
            # A closed input cannot be read; an empty one is a profile without a run.
            self.assertEqual(self.closed(descriptor, "check", "-").returncode, 2 if "<" in descriptor else 1, descriptor)

    def test_a_closed_pipe(self):
        # More rows than a pipe holds.
        self.write("long.ramp", PROFILE.replace("dwell 1 s", "\nrepeat 20000 { step core to 4 V; dwell 10 ms; "
                                                             "step core to 5 V; dwell 10 ms }"))
        process = subprocess.Popen([PROGRAM, *BUILD, "-", "long.ramp"], cwd=self.folder, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE)
        self.assertEqual(process.stdout.readline(), b"time_s,channel,voltage_V,current_A,output\n")
        process.stdout.close()
        message = process.stderr.read()
        process.stderr.close()
        self.assertEqual(process.wait(60), 2)
        self.assertIn(b"rampart: standard output: broken pipe\n", message)

    def test_standard_input_and_output(self):
        self.assertEqual(self.run_it("check", "-", stdin=PROFILE).returncode, 0)
        self.build("t.csv")
        done = self.build("-", "-", stdin=PROFILE)
        self.assertEqual((done.returncode, done.stdout), (0, (self.folder / "t.csv").read_bytes()))
        done = self.run_it("check", "-", stdin=WRONG)
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"standard input:10:16: error:", done.stderr)

    def test_findings_leave_the_table_on_standard_output_alone(self):
        done = self.build("-", "one.ramp")
        with_json = self.run_it(*BUILD, "-", "one.ramp", "--format", "json")
        self.assertEqual(with_json.stdout, done.stdout)
        self.assertTrue(with_json.stderr.startswith(b"{"))


class Terminals(InFolder):
    """Text from outside cannot move the cursor, colour the screen or turn the direction of writing."""
    RAW = "\x1b[31m\u202Ex\u2066\x9b"
    BYTES = tuple(text.encode() for text in ("\x1b", "\u202e", "\u2066", "\x9b"))

    def assert_clean(self, text):
        for raw in self.BYTES:
            self.assertNotIn(raw, text)
        self.assertIn("\uFFFD".encode(), text)

    def test_words_of_the_command_line(self):
        for command in (("explain", self.RAW), (self.RAW,), ("check", "one.ramp", "--" + self.RAW), ("check", self.RAW), ("format", self.RAW),
                        ("check", "one.ramp", "--set", self.RAW), ("check", "one.ramp", "--format", self.RAW),
                        (*BUILD, self.RAW + "/t", "one.ramp"), ("simulate", "one.ramp", "--fault", self.RAW),
                        ("diff", "one.ramp", "one.bench.yaml", "--name", self.RAW)):
            done = self.run_it(*command)
            self.assertEqual(done.returncode, 2 if "--set" not in command and "--fault" not in command else 1, command)
            self.assert_clean(done.stdout + done.stderr)

    def test_texts_of_a_table(self):
        header = "time_s,channel,voltage_V,current_A,output\n"
        for row in ("0.000000000,%s,1,1,1", "0.000000000,bench.ch1,%s,1,1"):
            self.write("t.csv", header + row % self.RAW + "\n")
            done = self.run_it("audit", "t.csv", "--bench", "one.bench.yaml")
            self.assertEqual(done.returncode, 1)
            self.assert_clean(done.stderr)

    def test_listed_names(self):
        name = "a\x1b[31m.ramp"
        self.write(name, PROFILE.replace("  dwell", "      dwell"))
        # A script gets the name as it is.
        self.assertEqual(self.run_it("format", "--check", name).stdout, name.encode() + b"\n")
        code, sent = run_on_terminal([PROGRAM, "format", "--check", name], self.folder)
        self.assertEqual((code, sent), (1, "a\uFFFD[31m.ramp\n"))


if __name__ == "__main__":
    main()
