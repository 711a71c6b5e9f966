#!/usr/bin/env python3
"""Plain habits of every text file: UTF-8, line ends, no tabs, nothing left to do, no path of someone's machine."""
import re
import sys

from sources import ROOT, report

SUFFIXES = {".h", ".cpp", ".def", ".py", ".md", ".cmake", ".txt", ".yaml", ".ramp", ".json"}
SKIPPED = {"build", ".git"}
# Goldens may hold any text, since they show what the program makes of it.
ANY_TEXT = ("tests/golden/", "tests/fuzz/", "tests/data/")
RULES = [
    (r"\t", "a tab"),
    (r"[ \r]$", "blanks at the end of the line"),
    (r"\b(TO" + r"DO|FIX" + r"ME|X" + r"XX)\b", "something left to do"),
    (r"doctest::App" + r"rox", "a tolerance that is absolute for small numbers; tests/support/near.h has others"),
    (r"(?<![\w./])/(home|root|work|farm)/", "a path of someone's machine"),
]


def text_files():
    for path in sorted(ROOT.rglob("*")):
        name = path.relative_to(ROOT)
        if path.suffix in SUFFIXES and not SKIPPED & set(name.parts) and not str(name).startswith(ANY_TEXT):
            yield name


problems, checked = [], 0
for name in text_files():
    checked += 1
    text = (ROOT / name).read_text(encoding="utf-8")
    if text and not text.endswith("\n"):
        problems.append("%s: no line end at the end" % name)
    for number, line in enumerate(text.split("\n"), 1):
        problems += ["%s:%d: %s" % (name, number, what) for rule, what in RULES if re.search(rule, line)]
sys.exit(report(problems, checked))
