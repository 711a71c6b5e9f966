#!/usr/bin/env python3
"""Seeds and found inputs of one target, and a fixed number of changes of them. usage: replay_test.py PROGRAM REPLAY TARGET"""
import os
import pathlib
import subprocess
import sys
import tempfile

import seeds

# So many changes of so large a share of the seeds take some seconds each.
CHANGES = {"profile": 20000, "bench": 10000, "load": 10000, "link": 10000, "table": 4000, "template": 5000, "chain": 1200, "log": 1500,
           "messages": 600, "part": 1000, "play": 2000, "answer": 20000}
EVERY = {"chain": 6, "profile": 2}


def run(program, replay, target):
    with tempfile.TemporaryDirectory() as folder:
        count, found = seeds.write(program, folder, target)
        assert count > 0, "there are no seeds"
        inputs = sorted(str(path) for path in (pathlib.Path(folder) / target).glob("found-*"))
        inputs += sorted(str(path) for path in (pathlib.Path(folder) / target).glob("seed-*"))[::EVERY.get(target, 1)]
        last = pathlib.Path(folder) / "last"
        done = subprocess.run([replay, target, str(CHANGES[target])] + inputs, capture_output=True, text=True,
                              env=dict(os.environ, RAMPART_FUZZ_LAST=str(last)))
        print(done.stdout + done.stderr, end="")
        if done.returncode != 0:
            print("code %d at this input; put it into tests/fuzz/regressions/%s when its cause is mended:"
                  % (done.returncode, target))
            print(last.read_bytes())
        return done.returncode


if __name__ == "__main__":
    sys.exit(1 if run(*sys.argv[1:]) else 0)
