#!/usr/bin/env python3
"""Runs the commands that the documents show and compares what they print. usage: run_docs.py PROGRAM [--update [DOCUMENT…]]

A fenced block that is headed `console` is run: a line `$ command` by bash, with the program first in the path, in a
folder that holds the examples; the lines after it are what it prints to standard output and standard error. A line
`...` stands for any lines. A block that is headed by its language and a file name, as in `ramp burn-in.ramp`, is
written to that file first. The blocks of one document share one folder.

`--update` writes what the commands print into the documents, except where `...` stands for some of it.
"""
import difflib
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

from sources import ROOT, report

TIMEOUT_S = 120
NAMED = re.compile(r"```\w+ (\S+\.\w+)$")


class Command:
    def __init__(self, number, line):
        self.number, self.line, self.expected = number, line, []


class File:
    def __init__(self, name):
        self.name, self.lines = name, []


def read_steps(text):
    """The files and commands of a document, in order."""
    steps, inside = [], None
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("```"):
            named = NAMED.match(line) if inside is None else None
            if named:
                steps.append(File(named.group(1)))
            inside = None if inside is not None else "file" if named else "console" if line == "```console" else "other"
        elif inside == "file":
            steps[-1].lines.append(line)
        elif inside == "console" and line.startswith("$ "):
            steps.append(Command(number, line[2:]))
        elif inside == "console" and steps:
            steps[-1].expected.append(line)
    return steps


def matches(expected, got):
    pattern = "".join("(?:.*\n)*?" if line == "..." else re.escape(line) + "\n" for line in expected)
    return re.fullmatch(pattern, "".join(line + "\n" for line in got)) is not None


def run_document(name, program):
    """What is wrong, how many commands there are, and [(command, what it printed)] of those that print something else."""
    problems, count, others = [], 0, []
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "profiles", pathlib.Path(folder) / "profiles")
        environment = dict(os.environ, LC_ALL="C", PATH=os.path.dirname(program) + ":" + os.environ["PATH"])
        for step in read_steps((ROOT / name).read_text(encoding="utf-8")):
            if isinstance(step, File):
                (pathlib.Path(folder) / step.name).write_text("".join(line + "\n" for line in step.lines), encoding="utf-8")
                continue
            count += 1
            done = subprocess.run(["bash", "-c", step.line], cwd=folder, env=environment, stdin=subprocess.DEVNULL,
                                  stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=TIMEOUT_S)
            while step.expected and not step.expected[-1].strip():
                step.expected.pop()
            got = done.stdout.splitlines()
            if not matches(step.expected, got):
                others.append((step, got))
                difference = "\n".join(difflib.unified_diff(step.expected, got, "document", "program", lineterm=""))
                problems.append("%s:%d: `%s` prints something else\n%s" % (name, step.number, step.line, difference))
    return problems, count, others


def update(name, others):
    lines = (ROOT / name).read_text(encoding="utf-8").splitlines()
    for step, got in reversed(others):
        if "..." not in step.expected:
            lines[step.number:step.number + len(step.expected)] = got
    (ROOT / name).write_text("".join(line + "\n" for line in lines), encoding="utf-8")


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    is_update = "--update" in sys.argv
    documents = ["README.md", "DEVELOPERS.md"] + sorted(str(p.relative_to(ROOT)) for p in (ROOT / "docs").glob("*.md"))
    all_problems, checked = [], 0
    for document in sys.argv[3:] or documents:
        found, ran, others = run_document(document, program)
        if is_update:
            update(document, others)
        all_problems += found
        checked += ran
    return report(all_problems, checked)


sys.exit(main())
