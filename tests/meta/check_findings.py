#!/usr/bin/env python3
"""Every finding shows in a golden test, or in uncovered.txt with the reason why it cannot."""
import re
import sys

from sources import ROOT, findings_registry, report

registry = findings_registry()
names = set(re.findall(r'^RAMPART_FINDING\(\s*\w+,\s*"([^"]+)"', registry, re.MULTILINE))

shown = set()
for file in (ROOT / "tests/golden").rglob("*"):
    if file.is_file() and file.suffix in (".ramp", ".expect", ".stderr", ".stdout"):
        text = file.read_text(encoding="utf-8", errors="replace")
        shown |= set(re.findall(r"\[([a-z-]+)\]$", text, re.MULTILINE))
        shown |= set(re.findall(r'"name": ?"([a-z-]+)"', text))

excused = {}
for line in (ROOT / "tests/meta/uncovered.txt").read_text(encoding="utf-8").splitlines():
    if line and not line.startswith("#"):
        name, _, reason = line.partition(" ")
        excused[name] = reason.strip()

problems = ["%s: no golden shows it" % name for name in sorted(names - shown - set(excused))]
problems += ["%s: uncovered.txt names it without a reason" % name for name in sorted(excused) if not excused[name]]
problems += ["%s: uncovered.txt names it, yet a golden shows it" % name for name in sorted(set(excused) & shown)]
problems += ["%s: uncovered.txt names it, yet there is no such finding" % name for name in sorted(set(excused) - names)]
sys.exit(report(problems, len(names)))
