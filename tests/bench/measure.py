#!/usr/bin/env python3
"""What tables and start-up cost, against other programs in the same run. usage: tables.py PROGRAM [PASSES]

Each line is the least of a few interleaved tries. PASSES of 2,000 rows make the table: 10000 for 20 million rows."""
import os
import pathlib
import subprocess
import sys
import tempfile
import time

TRIES = 5
STARTS = 200
BENCH = """bench: One supply
supplies:
  bench:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 1 mV}
        current: {range: 0 A .. 2.5 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 45 W}
"""
PROFILE = """profile "Long"
bench "one.bench.yaml"
rail core on bench.ch1
run {
  limit core to 1 A
  on core
  repeat %d {
    ramp core to 5 V over 10 s
    dwell 1 s
    ramp core to 0.1 V over 10 s
    dwell 1 s
  }
  off core
}
"""
# The plain way to write such a table: a loop and a format.
PLAIN_WRITER = """
import sys
with open(sys.argv[1], "w") as table:
    table.write("time_s,channel,voltage_V,current_A,output\\n")
    for row in range(int(sys.argv[2])):
        table.write(f"{row * 0.01:.9f},bench.ch1,{row % 5000 / 1000:.3f},{1:.3f},1\\n")
"""


def cost(command, folder):
    """Wall and processor time of one call."""
    begin = time.perf_counter()
    with open(os.devnull, "wb") as nothing:
        child = subprocess.Popen(command, cwd=folder, stdout=nothing, stderr=nothing)
        _, status, used = os.wait4(child.pid, 0)
    wall = time.perf_counter() - begin
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        sys.exit("%s: exit code %d" % (" ".join(command), child.returncode))
    return wall, used.ru_utime + used.ru_stime


def least(commands, folder, tries):
    results = {name: [] for name in commands}
    for _ in range(tries):
        for name, command in commands.items():
            results[name].append(cost(command, folder))
    return {name: tuple(min(values) for values in zip(*result)) for name, result in results.items()}


def show(title, results, peer):
    print("\n%-40s %9s %9s  %s" % (title, "wall/ms", "CPU/ms", "wall, CPU against `%s`" % peer))
    for name, (wall, cpu) in results.items():
        print("%-40s %9.2f %9.2f  %.2f %.2f" %
              (name, wall * 1e3, cpu * 1e3, wall / results[peer][0], cpu / results[peer][1]))


def main(program, passes):
    program = str(pathlib.Path(program).resolve())
    with tempfile.TemporaryDirectory(dir=os.environ.get("TMPDIR", "/tmp")) as name:
        folder = pathlib.Path(name)
        (folder / "one.bench.yaml").write_text(BENCH, encoding="utf-8")
        (folder / "long.ramp").write_text(PROFILE % passes, encoding="utf-8")
        (folder / "writer.py").write_text(PLAIN_WRITER, encoding="utf-8")
        build = [program, "build", "long.ramp", "--as"]
        cost(build + ["csv", "-o", "t.csv"], folder)
        cost(build + ["json", "-o", "t.json"], folder)
        rows = passes * 2000
        sizes = {form: (folder / ("t." + form)).stat().st_size / 1e6 for form in ("csv", "json")}
        show("start", least({"true": ["true"], "rampart --version": [program, "--version"]}, folder, STARTS), "true")
        show("%d rows, %.0f MB of CSV, %.0f of JSON" % (rows, sizes["csv"], sizes["json"]), least({
            "openssl dgst": ["openssl", "dgst", "-sha256", "t.csv"],
            "cat": ["cat", "t.csv"],
            "cp": ["cp", "t.csv", "copy.csv"],
            "build csv": build + ["csv", "-o", "t.csv"],
            "build csv, to a pipe or device": build + ["csv", "-o", "-"],
            "build json": build + ["json", "-o", "t.json"],
            "audit of the csv": [program, "audit", "t.csv", "--bench", "one.bench.yaml"],
            "report": [program, "report", "long.ramp", "-o", "t.html"]}, folder, TRIES), "openssl dgst")
        tenth = max(rows // 10, 1)
        show("%d rows" % tenth, least({"plain Python": [sys.executable, "writer.py", "p.csv", str(tenth)]}, folder, 2),
             "plain Python")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 1000)
