#!/usr/bin/env python3
"""Machines that fail while the program works: files are the old ones or the new ones, whole. usage: failing_machine_test.py PROGRAM

RAMPART_FAILING_MOMENTS gives the number of moments at which it is interrupted; the long form has 2,000.
"""
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import threading
import time
import unittest
import unittest.mock

from program import PROFILE, PROGRAM, InFolder, main
from sanitized import SANITIZERS, SECONDS, unless_sanitized, unless_threads_are_sanitized

MOMENTS = int(os.environ.get("RAMPART_FAILING_MOMENTS", "200"))
# Some tens of milliseconds of work, most of it writing.
LONG = PROFILE.replace("dwell 1 s", "\nrepeat 40000 { step core to 4 V; dwell 10 ms; step core to 5 V; dwell 10 ms }").replace(
    "expect no trip\n", "")
UGLY = LONG.replace("  on core", "     on   core") + "# a remark\n" * 200000
COMMANDS = {
    "csv": ("build", "long.ramp", "--as", "csv", "-o", "t.csv"),
    "json": ("build", "long.ramp", "--as", "json", "-o", "t.json"),
    "report": ("report", "one.ramp", "-o", "r.html"),
    "waveforms": ("simulate", "long.ramp", "--waveforms", "w.csv"),
    "format": ("format", "ugly.ramp"),
}
# What ends a process and can be caught (POSIX.1-2017, <signal.h>; Linux, signal(7)), as programs outside send it. SIGPIPE
# is a failure to write, and SIGXFSZ too.
ENDING = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGXCPU, signal.SIGALRM, signal.SIGVTALRM,
          signal.SIGPROF, signal.SIGUSR1, signal.SIGUSR2, signal.SIGABRT, signal.SIGSEGV, signal.SIGBUS, signal.SIGFPE,
          signal.SIGILL, signal.SIGTRAP, signal.SIGSYS, signal.SIGIO, signal.SIGPWR, signal.SIGSTKFLT, signal.SIGRTMIN,
          signal.SIGRTMAX]
if SANITIZERS:
    # A sanitizer takes the signals of a program's mistakes itself, before the program is there.
    ENDING = [one for one in ENDING if one not in (signal.SIGSEGV, signal.SIGBUS, signal.SIGFPE, signal.SIGILL, signal.SIGABRT)]


class Failing(InFolder):
    def setUp(self):
        super().setUp()
        self.write("long.ramp", LONG)
        self.write("ugly.ramp", UGLY)
        # What each command makes where nothing fails, in a folder of its own.
        self.made, self.takes = {}, {}
        for name, command in COMMANDS.items():
            before = self.content()
            begin = time.monotonic()
            self.assertEqual(self.run_it(*command).returncode, 0, name)
            self.takes[name] = time.monotonic() - begin
            after = self.content()
            self.made[name] = {path: text for path, text in after.items() if before.get(path) != text}
            self.assertTrue(self.made[name], name)
            self.put(before)

    def content(self):
        return {path.name: path.read_bytes() for path in self.folder.iterdir()}

    def put(self, content):
        """Makes the folder hold just that."""
        for path in self.folder.iterdir():
            if path.name not in content:
                path.unlink()
        for name, text in content.items():
            path = self.folder / name
            if not path.exists() or path.read_bytes() != text:
                path.write_bytes(text)

    def old_files(self, name):
        """The folder with older files where the command puts new ones."""
        files = self.content()
        for path in self.made[name]:
            if path not in files:
                files[path] = b"older\n" + path.encode()
        self.put(files)
        return files

    def check(self, name, before, where):
        """Each file is the old or the new one, those of one table together, and there is no other."""
        after = self.content()
        self.assertEqual(set(after), set(before), where)
        kinds = set()
        for path, text in after.items():
            if path not in self.made[name]:
                self.assertEqual(text, before[path], (where, path))
                continue
            self.assertIn(text, (before[path], self.made[name][path]), (where, path))
            kinds.add(text == before[path])
        self.assertEqual(len(kinds), 1, where)
        return kinds.pop()

    def interrupt(self, name, number, moment, times=1):
        process = subprocess.Popen([PROGRAM, *COMMANDS[name]], cwd=self.folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        time.sleep(moment)
        # As a shell or a supervisor does that tells the process, and then its group.
        for _ in range(times):
            process.send_signal(number)
        said = process.communicate(timeout=SECONDS)[1]
        return process.returncode, said

    @unless_threads_are_sanitized
    def test_signals_at_any_moment(self):
        dice = random.Random(1)
        kept = ended = 0
        for i in range(MOMENTS):
            name = dice.choice(sorted(COMMANDS))
            number = ENDING[i % len(ENDING)]
            before = self.old_files(name)
            moment = dice.uniform(0.2, 1.1) * self.takes[name]
            where = (name, number, moment)
            code, said = self.interrupt(name, number, moment, 1 + i % 2)
            self.assertIn(code, (0, -number), where)
            self.assertNotIn(b"terminate called", said, where)
            kept += self.check(name, before, where)
            ended += code != 0
            self.put({path: text for path, text in before.items() if path in ("one.ramp", "one.bench.yaml", "one.load.yaml", "long.ramp", "ugly.ramp")})
        print("%d signals: %d ended it, %d times the old files stayed" % (MOMENTS, ended, kept))
        self.assertGreater(ended, MOMENTS // 10)

    def test_killed_at_any_moment(self):
        """Nothing can be cleaned up then, but no file is half of one."""
        dice = random.Random(2)
        for i in range(max(10, MOMENTS // 5)):
            name = dice.choice(sorted(COMMANDS))
            before = self.old_files(name)
            self.interrupt(name, signal.SIGKILL, dice.uniform(0.2, 1.1) * self.takes[name])
            for path, text in self.content().items():
                if re.fullmatch(r".*\.[A-Za-z0-9]{6}", path) and path not in before:
                    (self.folder / path).unlink()
                    continue
                self.assertIn(text, (before.get(path), self.made[name].get(path)), (name, path))
            self.put({path: text for path, text in before.items() if path in ("one.ramp", "one.bench.yaml", "one.load.yaml", "long.ramp", "ugly.ramp")})

    def can_inject(self):
        if shutil.which("strace") is None:
            self.skipTest("there is no strace")
        done = subprocess.run(["strace", "-o", "/dev/null", "-e", "inject=fsync:error=EIO", "true"], capture_output=True)
        if done.returncode != 0:
            self.skipTest("strace may not trace here")
        # Leaks cannot be looked for in a program that is traced.
        traced = unittest.mock.patch.dict(os.environ, {"ASAN_OPTIONS": "detect_leaks=0"})
        traced.start()
        self.addCleanup(traced.stop)

    def calls(self, name, call):
        """How often a command makes a system call."""
        done = subprocess.run(["strace", "-f", "-o", "trace.txt", "-e", "trace=" + call, PROGRAM, *COMMANDS[name]], cwd=self.folder,
                              capture_output=True, timeout=2 * SECONDS)
        self.assertEqual(done.returncode, 0)
        trace = (self.folder / "trace.txt").read_text()
        (self.folder / "trace.txt").unlink()
        return len(re.findall(r"\b%s\(" % call, trace))

    def test_a_call_that_fails(self):
        """Each call to the system that writes, once a failure at its first, second … and last time."""
        self.can_inject()
        failures = 0
        for name in sorted(COMMANDS):
            start = self.content()
            for call, error, words in (("write", "ENOSPC", b"no space left on device"), ("fsync", "EIO", b"input/output error"),
                                       ("rename", "EACCES", b"permission denied"), ("fchmod", "EPERM", None)):
                count = self.calls(name, call)
                self.put(start)
                for when in sorted({1, 2, 3, count // 2, count - 1, count}):
                    if not 1 <= when <= count:
                        continue
                    before = self.old_files(name)
                    done = subprocess.run(["strace", "-f", "-o", "/dev/null", "-e", "trace=" + call, "-e",
                                           "inject=%s:error=%s:when=%d" % (call, error, when), PROGRAM, *COMMANDS[name]],
                                          cwd=self.folder, capture_output=True, timeout=2 * SECONDS)
                    where = (name, call, when, count, done.stderr)
                    after = self.content()
                    self.assertEqual(set(after), set(before), where)
                    for path, text in after.items():
                        self.assertIn(text, (before[path], self.made[name].get(path)), where)
                    self.assertIn(done.returncode, (0, 2), where)
                    if done.returncode == 0:
                        # What is said beside the files, to a terminal or the standard error, may be lost.
                        self.check(name, before, where)
                    elif words is not None:
                        failures += 1
                        told = [line for line in done.stderr.lower().split(b"\n") if line.startswith(b"rampart: ")]
                        # Threads count their calls by themselves, so that two may fail.
                        self.assertIn(len(told), (1, 2), where)
                        self.assertIn(words, told[0], where)
                    self.put(start)
        print("%d calls failed and were told" % failures)
        self.assertGreater(failures, 10)

    def test_a_disk_that_fails_while_the_table_is_made(self):
        """The system tells such a failure once, to the thread that has the disk work early."""
        self.can_inject()
        self.write("longer.ramp", LONG.replace("40000", "800000"))
        before = self.content() | {"t.csv": b"older", "t.csv.setup.json": b"older"}
        self.put(before)
        done = subprocess.run(["strace", "-f", "-o", "trace.txt", "-e", "trace=fdatasync", "-e", "inject=fdatasync:error=EIO:when=1",
                               PROGRAM, "build", "longer.ramp", "--as", "csv", "-o", "t.csv"],
                              cwd=self.folder, capture_output=True, timeout=2 * SECONDS)
        self.assertIn(b"INJECTED", (self.folder / "trace.txt").read_bytes())
        (self.folder / "trace.txt").unlink()
        self.assertEqual((done.returncode, done.stderr.split(b"\n")[-2]), (2, b"rampart: t.csv: input/output error"))
        self.assertEqual(self.content(), before)

    def test_a_table_that_cannot_take_its_place(self):
        """The set-up file that took its place a moment before goes back, so that the old pair stays whole."""
        self.can_inject()
        # Where the file system can exchange two files, and where it cannot. The last rename is that of the table.
        for can_exchange, has_old, last in ((True, True, 1), (True, False, 2), (False, True, 3), (False, False, 3)):
            with self.subTest(can_exchange=can_exchange, has_old=has_old):
                before = self.old_files("csv") if has_old else self.content()
                injected = [] if can_exchange else ["-e", "inject=renameat2:error=EINVAL"]
                done = subprocess.run(["strace", "-f", "-o", "/dev/null", "-e", "trace=rename,renameat2", *injected, "-e",
                                       "inject=rename:error=EACCES:when=%d" % last, PROGRAM, *COMMANDS["csv"]],
                                      cwd=self.folder, capture_output=True, timeout=2 * SECONDS)
                self.assertEqual((done.returncode, done.stderr.split(b"\n")[-2]), (2, b"rampart: t.csv: permission denied"))
                self.assertEqual(self.content(), before)
                self.put({path: text for path, text in before.items() if path not in self.made["csv"]})

    @unless_sanitized
    def test_no_memory(self):
        """With any limit on memory a command works, or says that it cannot and leaves all as it was."""
        told = 0
        for name in sorted(COMMANDS):
            start = self.content()
            for kilobytes in list(range(8000, 20000, 600)) + list(range(20000, 120000, 9000)):
                before = self.old_files(name)
                limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (kilobytes << 10, kilobytes << 10))
                done = subprocess.run([PROGRAM, *COMMANDS[name]], cwd=self.folder, preexec_fn=limit, capture_output=True, timeout=SECONDS)
                where = (name, kilobytes, done.returncode, done.stderr)
                if done.returncode == -signal.SIGKILL or done.returncode == -signal.SIGSEGV:
                    # The system could not start it: not even its own text has room.
                    self.assertLess(kilobytes, 16000, where)
                    self.assertEqual(done.stderr, b"", where)
                elif b"Fatal glibc error: Cannot allocate TLS block" in done.stderr:
                    # It has room for its text, and none for what the C library needs before the program begins.
                    self.assertLess(kilobytes, 16000, where)
                else:
                    self.assertIn(done.returncode, (0, 2), where)
                self.check(name, before, where)
                if done.returncode == 2:
                    self.assertEqual(done.stderr.split(b"\n")[-2], b"rampart: out of memory", where)
                    told += 1
                self.put(start)
        print("%d times out of memory" % told)
        self.assertGreater(told, 5)

    def test_a_file_that_changes_while_it_is_read(self):
        """The table is that of the file before or after, by its own digest, never of something between."""
        other = LONG.replace("to 4 V", "to 3 V")
        tables = {}
        for text in (LONG, other):
            self.write("long.ramp", text)
            self.assertEqual(self.run_it(*COMMANDS["json"]).returncode, 0)
            tables[(self.folder / "t.json").read_bytes()] = text
        self.assertEqual(len(tables), 2)
        running = True

        def change():
            while running:
                for text in (LONG, other):
                    self.write("new.ramp", text)
                    os.replace(self.folder / "new.ramp", self.folder / "long.ramp")

        changer = threading.Thread(target=change)
        changer.start()
        try:
            for _ in range(30):
                self.assertEqual(self.run_it(*COMMANDS["json"]).returncode, 0)
                self.assertIn((self.folder / "t.json").read_bytes(), tables)
        finally:
            running = False
            changer.join()

    def test_a_file_that_is_written_while_it_is_read(self):
        """A text that is cut short in place is read as it is at that moment: an answer or findings, and no crash."""
        running = True

        def change():
            while running:
                for text in (UGLY, UGLY[: len(UGLY) // 3], ""):
                    self.write("ugly.ramp", text)

        changer = threading.Thread(target=change)
        changer.start()
        try:
            for _ in range(30):
                done = self.run_it("check", "ugly.ramp")
                self.assertIn(done.returncode, (0, 1, 2), done.stderr)
        finally:
            running = False
            changer.join()

    def test_a_pipe_that_nobody_reads(self):
        for name in ("csv", "json"):
            command = [PROGRAM, *COMMANDS[name][:-1], "-"]
            for taken in (0, 1, 5000, 100000):
                process = subprocess.Popen(command, cwd=self.folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
                process.stdout.read(taken)
                process.stdout.close()
                said = process.stderr.read()
                process.stderr.close()
                self.assertEqual(process.wait(60), 2)
                self.assertEqual(said.split(b"\n")[-2], b"rampart: standard output: broken pipe")


if __name__ == "__main__":
    main()
