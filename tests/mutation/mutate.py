#!/usr/bin/env python3
"""Breaks the program in small ways and looks whether a test sees it. The ways are listed in mutants.py.

usage: mutate.py [--build FOLDER] [--check | --few] [--jobs N] [WORD...]

Without WORDs all are tried, else those whose name or file holds one. `--check` only looks whether each text that is to be
replaced stands exactly once in its file; `--few` tries the handful that runs with all tests. Neither the sources nor the
build folder are touched: a file is changed in a folder of its own, compiled as the build does, and linked instead of the
right one.
"""
import argparse
import collections
import concurrent.futures
import json
import os
import pathlib
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import time

from mutants import MUTANTS

ROOT = pathlib.Path(__file__).resolve().parents[2]
# A mutant may go round without end. The tests that are asked for take seconds.
LONGEST_S = 120
SKIPPED = 77
# Drawn values are the same for all, so that what passes without a mutant passes by no chance.
ENVIRONMENT = dict(os.environ, RC_PARAMS="seed=1")


class ListError(Exception):
    """A list that does not fit the sources."""


def all_mutants():
    return [(file, mutant) for file, mutants in MUTANTS.items() for mutant in mutants]


def check_list(chosen):
    """What is wrong with these mutants, a line each."""
    names = collections.Counter(mutant.name for _, mutant in all_mutants())
    wrong = ["two mutants are called `%s`" % name for name, count in names.items() if count > 1]
    for file, mutant in chosen:
        path = ROOT / file
        if not path.exists():
            wrong.append("%s: there is no such file" % file)
            continue
        count = path.read_text(encoding="utf-8").count(mutant.old)
        if count != 1:
            wrong.append("%s: `%s`: its text stands %d times in the file" % (file, mutant.name, count))
        if mutant.old == mutant.new:
            wrong.append("%s: `%s` changes nothing" % (file, mutant.name))
    return wrong


class Build:
    """The commands of a build folder of Ninja."""

    def __init__(self, folder):
        self.folder = folder
        self.compile = {}
        self.together = {}  # where CMake compiles several sources as one: the file that includes this one
        for entry in json.loads(self.ninja("-t", "compdb")):
            source = os.path.normpath(os.path.join(entry["directory"], entry["file"]))
            if not entry["output"].endswith(".o"):
                continue
            self.compile[source] = entry
            if re.search(r"/Unity/unity_\d+_cxx\.cxx$", source):
                for part in re.findall(r'^#include "(.+)"$', pathlib.Path(source).read_text(encoding="utf-8"), re.MULTILINE):
                    self.compile[part] = entry
                    self.together[part] = source
        self.commands = {}

    def ninja(self, *arguments):
        return subprocess.run(["ninja", "-C", self.folder, "--quiet", *arguments], check=True, text=True,
                              stdout=subprocess.PIPE).stdout

    def compile_command(self, source, mutated, target):
        """Compiles `mutated` as `source` is, faster and without warnings: what is broken may well look odd."""
        entry = self.compile.get(str(source))
        if entry is None:
            raise ListError("%s is no part of the build" % source)
        compiled = self.together.get(str(source), str(source))
        if compiled != str(source):
            whole = pathlib.Path(compiled).read_text(encoding="utf-8").replace('"%s"' % source, '"%s"' % mutated)
            mutated = mutated.with_name("together.cxx")
            mutated.write_text(whole, encoding="utf-8")
        command, skip = [], False
        for word in shlex.split(entry["command"]):
            if skip or word == "-MD":
                skip = False
            elif word in ("-MT", "-MF", "-o"):
                skip = True
            elif os.path.normpath(os.path.join(self.folder, word)) == compiled:
                command.append(str(mutated))
            else:
                command.append(word)
        return command + ["-O1", "-w", "-o", str(target)]

    def last_command(self, target):
        if target not in self.commands:
            self.commands[target] = self.ninja("-t", "commands", target).strip().split("\n")[-1]
        return self.commands[target]

    def make(self, target, output, instead):
        """Archives or links `target` as the build does, as `output` and from other files `instead` of some."""
        command = self.last_command(target)
        for old, new in {target: output, **instead}.items():
            # The names of folders of objects hold those of targets.
            command, count = re.subn(r"(?<=\s)%s(?=\s)" % re.escape(old), str(new), command)
            if count == 0:
                raise ListError("%s is not made from %s" % (target, old))
        subprocess.run(command, shell=True, check=True, cwd=self.folder)

    def link(self, program, source, mutant, linked):
        """Links `program` with the object `mutant` instead of that of the source."""
        right = self.compile[str(source)]["output"]
        folder, target = re.match(r"(.*)/CMakeFiles/(.*?)\.dir/", right).groups()
        archive = "%s/lib%s.a" % (folder, target)
        if right in self.last_command(program).split():
            self.make(program, linked, {right: mutant})
            return
        made = mutant.with_name(pathlib.Path(archive).name)
        if not made.exists():
            self.make(archive, made, {right: mutant})
        self.make(program, linked, {archive: made})


def program_of(test):
    kind = test.split("/")[0]
    return "rampart" if kind in ("golden", "cli") else "tests/rampart_" + kind


def test_command(test, program):
    kind, what = test.split("/", 1)
    if kind == "golden":
        return [sys.executable, "-B", str(ROOT / "tests/golden/run.py"), "--rampart", str(program), *what.split()]
    if kind == "cli":
        return [sys.executable, "-B", str(ROOT / "tests/cli" / (what + ".py")), str(program)]
    return [str(program), "-sf=*/%s.cpp" % what, "--abort-after=1", "--no-intro"]


def run(test, program, folder):
    """Whether the test passes, and what it said."""
    try:
        done = subprocess.run(test_command(test, program), cwd=folder, env=ENVIRONMENT, text=True, errors="replace",
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=LONGEST_S)
    except subprocess.TimeoutExpired:
        return False, "went on for more than %d s" % LONGEST_S
    ran = re.search(r"test cases: +(\d+)|^goldens: (\d+)", done.stdout, re.MULTILINE)
    if not test.startswith("cli/") and done.returncode == 0 and (ran is None or int(ran.group(1) or ran.group(2)) == 0):
        raise ListError("`%s` names no test" % test)
    return done.returncode == 0, done.stdout


def first_failure(test, output):
    """The name of what failed, for the report."""
    case = re.search(r"^TEST CASE:\s*(.*)$", output, re.MULTILINE)
    golden = re.search(r"^(\S+\.ramp):$", output, re.MULTILINE)
    if case:
        return "%s: %s" % (test, case.group(1).strip())
    if golden:
        return "golden/" + golden.group(1)
    said = output.strip().split("\n")[-1]
    return "%s: %s" % (test, said if said else "it crashed")


class Verdict:
    def __init__(self, file, mutant, killer, seconds):
        self.file, self.mutant, self.killer, self.seconds = file, mutant, killer, seconds

    def is_wrong(self):
        return (self.killer is None) != bool(self.mutant.lives)

    def text(self):
        if self.killer:
            said = "killed by " + self.killer
            return said + ("; the list says that it lives" if self.mutant.lives else "")
        return "lives: " + self.mutant.lives if self.mutant.lives else "LIVES"


def try_mutant(build, scratch, file, mutant):
    began = time.monotonic()
    source = ROOT / file
    with tempfile.TemporaryDirectory(dir=scratch) as place:
        place = pathlib.Path(place)
        mutated, target = place / source.name, place / "mutant.o"
        mutated.write_text(source.read_text(encoding="utf-8").replace(mutant.old, mutant.new), encoding="utf-8")
        done = subprocess.run(build.compile_command(source, mutated, target), cwd=build.folder, text=True,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        if done.returncode != 0:
            raise ListError("%s: `%s` does not compile:\n%s" % (file, mutant.name, done.stdout[:2000]))
        killer, linked = None, {}
        for test in mutant.seen_by:
            program = program_of(test)
            if program not in linked:
                linked[program] = place / ("program%d" % len(linked))
                build.link(program, source, target, linked[program])
            passed, output = run(test, linked[program], place)
            if not passed:
                killer = first_failure(test, output)
                break
        return Verdict(file, mutant, killer, time.monotonic() - began)


def check_tests(build, scratch, chosen, jobs):
    """Every test has to pass while nothing is broken."""
    tests = sorted({test for _, mutant in chosen for test in mutant.seen_by})
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:
        results = pool.map(lambda test: run(test, pathlib.Path(build.folder) / program_of(test), scratch), tests)
        failing = [(test, output) for test, (passed, output) in zip(tests, results) if not passed]
    for test, output in failing:
        print("%s fails though nothing is broken:\n%s" % (test, output[-2000:]))
    return not failing


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--build", default=str(ROOT / "build" / "release"), help="a build folder with all tests built")
    parser.add_argument("--check", action="store_true", help="only look whether the list fits the sources")
    parser.add_argument("--few", action="store_true", help="only the handful that runs with all tests")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("words", nargs="*")
    options = parser.parse_args()

    chosen = [(file, mutant) for file, mutant in all_mutants()
              if (mutant.few or not options.few)
              and (not options.words or any(word in file or word in mutant.name for word in options.words))]
    wrong = check_list(chosen)
    print("\n".join(wrong + ["%d mutants, %d wrong" % (len(chosen), len(wrong))]))
    if not chosen:
        return 1
    if wrong or options.check:
        return 1 if wrong else 0
    if not (pathlib.Path(options.build) / "build.ninja").exists() or shutil.which("ninja") is None:
        print("skipped: needs a build folder of Ninja")
        return SKIPPED
    # One after the other those of one test, so that its program is linked from what is in the cache.
    chosen.sort(key=lambda one: one[1].seen_by)
    build, began = Build(str(pathlib.Path(options.build).resolve())), time.monotonic()
    verdicts = []
    with tempfile.TemporaryDirectory() as scratch:
        if not check_tests(build, scratch, chosen, options.jobs):
            return 1
        with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
            for verdict in pool.map(lambda one: try_mutant(build, scratch, *one), chosen):
                verdicts.append(verdict)
                print("%5.1f s  %s: %s: %s" % (verdict.seconds, verdict.file, verdict.mutant.name, verdict.text()),
                      flush=True)
    killed = sum(verdict.killer is not None for verdict in verdicts)
    living = [verdict for verdict in verdicts if verdict.killer is None]
    print("%d mutants: %d killed, %d live, of which %d are explained; %.0f s"
          % (len(verdicts), killed, len(living), sum(bool(one.mutant.lives) for one in living),
             time.monotonic() - began))
    return 1 if any(verdict.is_wrong() for verdict in verdicts) else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except ListError as error:
        sys.exit(str(error))
