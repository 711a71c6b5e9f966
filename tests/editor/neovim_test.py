#!/usr/bin/env python3
"""Neovim's own client works with the server: findings, hover, completion, rename, a code action, formatting.

usage: neovim_test.py PROGRAM. Debian 12 has Neovim 0.7. Where there is none the test is skipped.
"""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import unittest

from folder import BENCH, LIBRARY, LOAD, PROFILE, PROGRAM, SKIPPED, InFolder

HERE = pathlib.Path(__file__).resolve().parent


def run_neovim(folder, picture=False):
    """What the script in Neovim found."""
    result = folder / "result.json"
    environment = dict(os.environ, RAMPART=PROGRAM, FOLDER=str(folder), RESULT=str(result), HOME=str(folder),
                       XDG_CONFIG_HOME=str(folder / "none"), XDG_DATA_HOME=str(folder / "none"), XDG_STATE_HOME=str(folder / "none"))
    if picture:
        environment["PICTURE"] = "1"
    done = subprocess.run(["nvim", "--headless", "-n", "-u", "NONE", "-c", "luafile " + str(HERE / "neovim_work.lua")],
                          env=environment, cwd=folder, capture_output=True, text=True, timeout=180)
    if not result.exists():
        raise AssertionError(done.stdout + done.stderr)
    return json.loads(result.read_text(encoding="utf-8"))


def example_folder(folder):
    """The files of the tests, in a folder."""
    for name, text in (("board.bench.yaml", BENCH), ("board.load.yaml", LOAD), ("library.ramp", LIBRARY), ("board.ramp", PROFILE)):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


class Neovim(InFolder):
    def test_a_day_in_neovim(self):
        found = run_neovim(self.folder)
        self.assertNotIn("failed", found, found)
        self.assertEqual(found["buffer"], PROFILE)
        self.assertIn((17, "above-ceiling"), [(one["line"], one["code"]) for one in found["findings"]])
        self.assertIn("begins at **0 s**, ends at **1 s**", found["hover"])
        self.assertEqual(found["completion"], ["core", "io"])
        renamed = found["renamed"]
        self.assertEqual(renamed["library.ramp"], LIBRARY.replace("on io", "on radio").replace("ramp io", "ramp radio"))
        self.assertEqual(renamed["board.load.yaml"], LOAD.replace("  io:", "  radio:"))
        profile = renamed["board.ramp"]
        for line in ("rail radio on left.ch2", "protect radio {", "do io_up(v_io)", "step radio to 3 V", "off radio, core"):
            self.assertIn(line, profile)
        self.assertEqual(found["actions"][0], "Write `level`")
        self.assertEqual(found["formatted"], profile)


if __name__ == "__main__":
    if shutil.which("nvim") is None:
        print("skipped: there is no nvim", file=sys.stderr)
        sys.exit(SKIPPED)
    unittest.main()
