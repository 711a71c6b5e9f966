#!/usr/bin/env python3
"""Every ```ramp block of the documents compiles without an error. usage: check_ramp_blocks.py PROGRAM

A block is a whole profile, or, as its fence says, `declarations` or `statements`; these are put into a frame with two
rails and two lines. The bench is the one of the example pages. Warnings are let pass: an example shows one thing.
"""
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

from sources import ROOT, report

BLOCK = re.compile(r"^```ramp(?: (\w+))?\n(.*?)^```$", re.DOTALL | re.MULTILINE)
TIMEOUT_S = 60
RAILS = "rail core on supply.ch1\nrail io on supply.ch2\n"
LINES = "line shutter on supply.line1 output\nline ready on supply.line2 input\n"
SWITCH_ON = "limit core to 1 A, io to 1 A\non core, io\ndwell 100 ms\n"


def framed(kind, text):
    if kind is None:
        return text
    frame = 'bench "example.bench.yaml"\n'
    if kind == "statements":
        return frame + RAILS + LINES + "run {\n" + SWITCH_ON + text + "}\n"
    frame += "" if "rail core" in text else RAILS
    return frame + text + ("" if "run {" in text else "run { " + SWITCH_ON.replace("\n", "; ") + "}\n")


def compile_block(program, kind, text):
    """The errors of a block."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(ROOT / "docs/explain/example.bench.yaml", folder)
        (pathlib.Path(folder) / "block.ramp").write_text(framed(kind, text), encoding="utf-8")
        done = subprocess.run([program, "check", "block.ramp"], cwd=folder, capture_output=True, text=True,
                              timeout=TIMEOUT_S)
    return "" if done.returncode == 0 else done.stderr


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    problems, checked = [], 0
    for path in [ROOT / "README.md", ROOT / "DEVELOPERS.md"] + sorted((ROOT / "docs").glob("*.md")):
        text = path.read_text(encoding="utf-8")
        for block in BLOCK.finditer(text):
            checked += 1
            errors = compile_block(program, block.group(1), block.group(2))
            line = text.count("\n", 0, block.start()) + 1
            if errors:
                problems.append("%s:%d: the block does not compile\n%s" % (path.relative_to(ROOT), line, errors))
    return report(problems, checked)


sys.exit(main())
