#!/usr/bin/env python3
"""How late the rows of a run are on this machine, against a supply on the loopback address, with and without other work.

usage: run_lateness.py PROGRAM [ROWS]     (rows are 10 ms apart: 100000 take 17 minutes, twice)

Prints percentiles of the time from the planned instant of a row to its sending and to its acknowledgement. It asserts nothing:
the figures depend on the machine, and half of what is between sending and acknowledgement is the supply of the tests.
"""
import csv
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/cli"))
PROGRAM = str(pathlib.Path(sys.argv[1]).resolve())
ROWS = int(sys.argv[2]) if len(sys.argv) > 2 else 100_000
sys.argv[1:] = [PROGRAM]
from supplies import LoopbackSupply, link_file

BENCH = """bench: One supply
supplies:
  left:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    channels: {ch1: {voltage: {range: 0 V .. 20 V, resolution: 1 mV}, current: {range: 0 A .. 5 A, resolution: 1 mA}}}
"""
PROFILE = """profile "Many rows"
bench "b.bench.yaml"
rail core on left.ch1
run {
  limit core to 1 A
  on core
  dwell 10 ms
  repeat %d { step core to 1 V; dwell 10 ms; step core to 2 V; dwell 10 ms }
  off core
}
"""


def percentiles(values):
    values = sorted(values)
    shares = (("half", 0.5), ("90 %", 0.9), ("99 %", 0.99), ("99.9 %", 0.999), ("all", 1))
    return ", ".join("%s within %.3f ms" % (name, 1e3 * values[min(len(values) - 1, int(share * len(values)))]) for name, share in shares)


def measure(folder, link, title, work):
    log = folder / (title + ".csv")
    workers = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(work)]
    try:
        done = subprocess.run([PROGRAM, "run", "t.json", "--bench", "b.bench.yaml", "--link", link, "--log", str(log), "--max-late", "1000s"],
                              cwd=folder, capture_output=True, text=True, stdin=subprocess.DEVNULL)
    finally:
        for worker in workers:
            worker.kill()
            worker.wait()
    if done.returncode != 0:  # as where a busy machine answers too slowly
        print("%s: not played\n%s" % (title, done.stdout + done.stderr), flush=True)
        return
    rows = [row for row in csv.DictReader(log.open()) if row["kind"] == "command"]
    # Late rows move the later ones: lateness is against the planned time with what was moved before, as the run has it.
    begin, moved, sent, acked = float(rows[0]["sent_s"]), 0.0, [], []
    for row in rows:
        due = begin + float(row["planned_s"]) + moved
        late = float(row["sent_s"]) - due
        sent.append(max(late, 0.0))
        acked.append(float(row["acked_s"]) - due)
        if late > 1e-3:  # a tenth of the shortest time between two rows
            moved += late
    end = json.loads((folder / (title + ".csv.run.json")).read_text())["end"]["lateness"]
    print("%s: %d rows" % (title, len(rows)))
    print("  sent:         " + percentiles(sent))
    print("  acknowledged: " + percentiles(acked))
    print("  the run says: worst %.3f ms, moved by %.3f s" % (1e3 * end["worst_s"], end["moved_s"]), flush=True)


def main():
    with tempfile.TemporaryDirectory() as name:
        folder, test = pathlib.Path(name), unittest.TestCase()
        supply = LoopbackSupply(test, folder, "left")
        (folder / "b.bench.yaml").write_text(BENCH)
        (folder / "p.ramp").write_text(PROFILE % (ROWS // 2))
        (folder / "l.link.yaml").write_text(link_file(supply.link()))
        subprocess.run([PROGRAM, "build", "p.ramp", "--as", "json", "-o", "t.json"], cwd=folder, check=True, stderr=subprocess.DEVNULL)
        measure(folder, "l.link.yaml", "nothing else running", 0)
        measure(folder, "l.link.yaml", "all cores busy", os.cpu_count())
        test.doCleanups()


main()
