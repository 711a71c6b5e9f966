#!/usr/bin/env python3
"""Runs the commands that the documents show and compares what they print. usage: run_docs.py PROGRAM

Only blocks marked ```console are run. A line `$ command` is run by bash, with the program first in the path, in a copy
of the examples; the lines after it are what it prints to standard output and standard error. A line `...` stands for
any lines. The blocks of one document share one folder.
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


def commands(text):
    """(line number, command, expected output) of each command in a document."""
    found, inside = [], False
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("```"):
            inside = not inside and line.strip() == "```console"
        elif inside and line.startswith("$ "):
            found.append((number, line[2:], []))
        elif inside and found:
            found[-1][2].append(line)
    return found


def matches(expected, got):
    pattern = "".join("(?:.*\n)*?" if line == "..." else re.escape(line) + "\n" for line in expected)
    return re.fullmatch(pattern, "".join(line + "\n" for line in got)) is not None


def run_document(name, program):
    problems, count = [], 0
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "profiles", pathlib.Path(folder) / "profiles")
        environment = dict(os.environ, LC_ALL="C", PATH=os.path.dirname(program) + ":" + os.environ["PATH"])
        for number, command, expected in commands((ROOT / name).read_text(encoding="utf-8")):
            count += 1
            done = subprocess.run(["bash", "-c", command], cwd=folder, env=environment, stdin=subprocess.DEVNULL,
                                  stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=TIMEOUT_S)
            while expected and not expected[-1].strip():
                expected.pop()
            got = done.stdout.splitlines()
            if not matches(expected, got):
                difference = "\n".join(difflib.unified_diff(expected, got, "document", "program", lineterm=""))
                problems.append("%s:%d: `%s` prints something else\n%s" % (name, number, command, difference))
    return problems, count


program = str(pathlib.Path(sys.argv[1]).resolve())
all_problems, checked = [], 0
for document in ["README.md", "DEVELOPERS.md"] + sorted(str(p.relative_to(ROOT)) for p in (ROOT / "docs").glob("*.md")):
    found, ran = run_document(document, program)
    all_problems += found
    checked += ran
sys.exit(report(all_problems, checked))
