#!/usr/bin/env python3
"""docs/checks.md lists what lang/findings and docs/explain hold. usage: checks_page.py [--write]

Without --write it says whether the page is stale.
"""
import re
import sys

from sources import ROOT, findings_registry, report

PAGE = ROOT / "docs/checks.md"
FAMILIES = {
    "Language": "What cannot be understood, or makes no sense.",
    "Files": "Mistakes in bench, load, link and table files, files that cannot be found, and what `run` refuses.",
    "Limits": "What the bench cannot do.",
    "Practice": "Good practice of the trade. A profile may accept one of these for a rail, with the reason: "
                "`accept no-overpower on radio because \"its converter limits its own input power\"`.",
    "Predicted": "What will happen: whether rules hold and, with a load, what the simulation shows. With a log of the run: what happened.",
}
HEAD = """# Findings

Everything that the program can find, by family. `rampart explain NAME` shows the page of one finding. A profile with an error does not
build; `--strict` makes warnings count as errors.

Findings have a fixed order: by family, as below; within a family by file (the profile, its imports, files of waveforms, the bench,
the load, then options), line and column; at the same place by name. Findings with the same file, place and name stay in the order of
the run.

Checks of limits and practice often find the same thing many times. As text, an answer shows the first three findings of one name with
source, notes and hint. Each further finding is one line, with its hint if that differs. `--format json` has all of them in full.

The target `checks_page` makes this page from `lang/findings` and the pages in `docs/explain`.
"""


def findings():
    """{family: {name: severities}} in the order of the registry."""
    registry = findings_registry()
    found, families = {family: {} for family in FAMILIES}, {}
    rows = re.findall(r'^RAMPART_FINDING\(\s*\w+,\s*"([^"]+)",\s*(\w+),\s*(\w+)', registry, re.MULTILINE)
    for name, _, family in rows:
        families[name] = min(families.get(name, family), family, key=list(FAMILIES).index)
    for name, severity, _ in rows:
        severities = found[families[name]].setdefault(name, [])
        if severity.lower() not in severities:
            severities.append(severity.lower())
    return found


def summary(name):
    page = ROOT / "docs/explain" / (name + ".md")
    return page.read_text(encoding="utf-8").splitlines()[1] if page.exists() else ""


def content():
    text = HEAD
    for family, names in findings().items():
        text += "\n## %s\n%s\n\n| finding | is | says |\n|---|---|---|\n" % (family, FAMILIES[family])
        for name, severities in names.items():
            text += "| [`%s`](explain/%s.md) | %s | %s |\n" % (name, name, ", ".join(severities), summary(name))
    return text


if "--write" in sys.argv[1:]:
    PAGE.write_text(content(), encoding="utf-8")
    sys.exit(0)
fresh = PAGE.exists() and PAGE.read_text(encoding="utf-8") == content()
sys.exit(report([] if fresh else ["docs/checks.md is stale: build the target `checks_page`"], 1))
