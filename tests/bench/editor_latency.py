#!/usr/bin/env python3
"""How long an editor waits on this machine: from a key to the findings, and for a hover. usage: editor_latency.py PROGRAM [KEYS]

A profile of 1,000 lines with its bench and load is open, and a key is struck in the middle of it, KEYS times. Prints percentiles
and the processor time of the server. It asserts nothing: the figures depend on the machine.
"""
import pathlib
import random
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/editor"))
import client  # noqa: E402
import workloads  # noqa: E402

LINES = 1000


def percentiles(values):
    values = sorted(values)
    return ", ".join("%s within %.1f ms" % (name, 1e3 * values[min(len(values) - 1, int(share * len(values)))])
                     for name, share in (("half", 0.5), ("90 %", 0.9), ("all", 1)))


def processor_s(process):
    fields = pathlib.Path("/proc/%d/stat" % process.pid).read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / 100


def measure(program, keys, interpolation):
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name).resolve()
        (folder / "b.bench.yaml").write_text(workloads.BENCH % interpolation)
        (folder / "l.load.yaml").write_text(workloads.LOAD)
        head = workloads.HEAD.replace("\n", '\nbench "b.bench.yaml"\nload "l.load.yaml"\n', 1)
        profile = head + workloads.statements(LINES - 12) + workloads.TAIL
        assert profile.count("\n") == LINES, profile.count("\n")
        (folder / "p.ramp").write_text(profile)
        server = client.Client(program, folder)
        uri = server.open(folder / "p.ramp")
        server.settle_on(uri)
        dice = random.Random(1)
        to_findings, to_all, hovers = [], [], []
        before = processor_s(server.server)
        for _ in range(keys):
            text = server.texts[uri][1]
            # The first digit of a ramp's target.
            at = text.index("ramp core to ", dice.randrange(len(text) // 10, len(text) * 8 // 10)) + len("ramp core to ")
            begin = time.monotonic()
            server.edit(uri, at, at + 1, dice.choice([digit for digit in "1234" if digit != text[at]]))
            version = server.texts[uri][0]
            server.wait_for(lambda: server.versions.get(uri) == version)
            to_findings.append(time.monotonic() - begin)
            server.settle_on(uri)
            to_all.append(time.monotonic() - begin)
            begin = time.monotonic()
            server.request("textDocument/hover", server.at(uri, "ramp core to", 2))
            hovers.append(time.monotonic() - begin)
        print("%d lines, a `%s` supply with a load, %d keys" % (LINES, "linear" if interpolation else "hold", keys))
        print("  key to findings:", percentiles(to_findings))
        print("  key to the findings of the simulation:", percentiles(to_all))
        print("  hover:", percentiles(hovers))
        print("  processor time of the server: %.0f ms a key" % (1e3 * (processor_s(server.server) - before) / keys))
        server.end()


if __name__ == "__main__":
    for one in (", interpolation: linear", ""):
        measure(str(pathlib.Path(sys.argv[1]).resolve()), int(sys.argv[2]) if len(sys.argv) > 2 else 100, one)
