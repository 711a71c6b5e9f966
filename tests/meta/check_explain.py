#!/usr/bin/env python3
"""Every finding has a page in docs/explain, and the examples of each page do what it says. usage: check_explain.py PROGRAM

The wrong example of a page gives its finding and no other, the right one none at all; notes are not counted. Each is run in
a folder with the example files beside the pages. A block named after its language is that file, any other the profile;
without a profile the shared one is taken. A profile that begins with `# rampart simulate` is simulated, else checked, with
`--as` where its first line says so; a table is audited, and on a page about origins its origin too; a log is
evaluated, and on a page about fits the load is fitted to it. A template gets the table of the shared profile. A link
file, a table in JSON or a `supply.json` means a run: a dry one, or on a supply of the loopback address that is as
`supply.json` says.
"""
import concurrent.futures
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

from sources import ROOT, findings_registry, report

sys.path.insert(0, str(ROOT / "tests/cli"))
from supplies import LoopbackSupply

PAGES = ROOT / "docs/explain"
TIMEOUT_S = 60
LAYOUT = re.compile(r"# (?P<name>[a-z-]+)\n(?P<summary>\S[^\n]*\.)\n\n(?P<why>.+?)\n\n"
                    r"## Wrong\n(?P<wrong>```.+?)\n\n## Right\n(?P<right>```.+?)\n", re.DOTALL)
BLOCK = re.compile(r"```(\w+)(?: (\S+))?\n(.*?)```\n", re.DOTALL)
PROFILE = "profile.ramp"
TABLE = "table.csv"
TEMPLATE = "table.template"
LOG = "log.csv"
FITTED = ("not-determined", "at-tolerance", "nothing-to-fit")
LINK = "example.link.yaml"
RUN_TABLE = "table.json"
SUPPLY = "supply.json"
# Findings of a run that need no file of their own to show.
OF_DRY_RUNS = ("linear-by-host", "no-watchdog", "run-table")
LONGEST_SUMMARY = 100


def command_for(name, files):
    if TABLE in files:
        return ["audit", TABLE, "--bench", "example.bench.yaml"] + (["--origin"] if name.startswith("origin-") else [])
    if name in FITTED:
        return ["fit-load", "example.ramp", "--log", LOG]
    if LOG in files:
        return ["evaluate", PROFILE if PROFILE in files else "example.ramp", "--log", LOG]
    if TEMPLATE in files:
        return ["build", "example.ramp", "--as", "template", "--template", TEMPLATE, "-o", "table.txt"]
    mode = re.match(r"# rampart (\w+)( --as \w+)? ", files.get(PROFILE, ""))
    command = (mode.group(1) + (mode.group(2) or "")).split() if mode else ["check"]
    return command + [PROFILE if PROFILE in files else "example.ramp"]


def run_table(program, folder, files):
    """Names of what a run of the shared profile is refused for."""
    folder = pathlib.Path(folder)
    test = unittest.TestCase()
    # A busy machine does not sustain rows 10 ms apart.
    bench = folder / "example.bench.yaml"
    bench.write_text(bench.read_text().replace("minimum_step: 10 ms", "minimum_step: 500 ms"))
    profile = folder / (PROFILE if PROFILE in files else "example.ramp")
    profile.write_text(profile.read_text().replace("dwell 100 ms", "dwell 500 ms"))
    if RUN_TABLE not in files:
        subprocess.run([program, "build", profile.name, "--as", "json", "-o", RUN_TABLE],
                       cwd=folder, check=True, capture_output=True, timeout=TIMEOUT_S)
    command = [program, "run", RUN_TABLE, "--bench", "example.bench.yaml", "--link", LINK, "--format", "json", "--max-late", "2s"]
    try:
        if SUPPLY in files:
            supply = LoopbackSupply(test, folder, "supply", **json.loads(files[SUPPLY]))
            link = folder / LINK
            link.write_text(link.read_text().replace("address: 192.0.2.20, port: 5025", "address: 127.0.0.1, port: " + supply.place))
            command += ["--log", "run.csv"]
        else:
            command += ["--dry-run"]
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=TIMEOUT_S, stdin=subprocess.DEVNULL)
    finally:
        test.doCleanups()
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    refused = ["%s (%s)" % (line["name"], line["message"]) for line in lines if line["line"] == "refused"]
    return refused or ([] if done.returncode == 0 else [done.stderr or done.stdout])


def run_example(page, program, text):
    """Names of the findings above a note."""
    with tempfile.TemporaryDirectory() as folder:
        for shared in PAGES.glob("example.*"):
            shutil.copy(shared, folder)
        files = {name or PROFILE: content for _, name, content in BLOCK.findall(text + "\n")}
        for name, content in files.items():
            (pathlib.Path(folder) / name).write_text(content, encoding="utf-8")
        if page in OF_DRY_RUNS or {LINK, RUN_TABLE, SUPPLY} & set(files):
            return run_table(program, folder, files)
        done = subprocess.run([program, *command_for(page, files), "--format", "json"], cwd=folder, capture_output=True,
                              text=True, timeout=TIMEOUT_S)
    document = json.loads(done.stdout)
    findings = [f for p in document.get("profiles", [document]) for f in p["findings"] if f["severity"] != "note"]
    return ["%s (%s)" % (f["name"], f["message"]) for f in findings]


def check_page(name, program):
    path = PAGES / (name + ".md")
    page = LAYOUT.fullmatch(path.read_text(encoding="utf-8"))
    if page is None or page["name"] != name:
        return ["%s: not laid out as name, summary, why, `## Wrong`, `## Right`" % name]
    problems = []
    if len(page["summary"]) > LONGEST_SUMMARY:
        problems.append("%s: the summary is longer than %d characters" % (name, LONGEST_SUMMARY))
    wrong, right = (run_example(name, program, page[part]) for part in ("wrong", "right"))
    if not wrong or any(not found.startswith(name + " ") for found in wrong):
        problems.append("%s: the wrong example gives %s" % (name, "; ".join(wrong) or "nothing"))
    if right:
        problems.append("%s: the right example gives %s" % (name, "; ".join(right)))
    return problems


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    registry = findings_registry()
    names = set(re.findall(r'RAMPART_FINDING\(\s*\w+,\s*"([^"]+)"', registry))
    pages = {path.stem for path in PAGES.glob("*.md")}
    problems = ["%s: docs/explain has no page for it" % name for name in sorted(names - pages)]
    problems += ["%s: there is no such finding" % name for name in sorted(pages - names)]
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        for found in pool.map(lambda name: check_page(name, program), sorted(pages & names)):
            problems += found
    return report(problems, len(pages))


sys.exit(main())
