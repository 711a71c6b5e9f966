#!/usr/bin/env python3
"""Every source file is laid out as clang-format does it. usage: check_format.py CLANG_FORMAT"""
import subprocess
import sys

from sources import ROOT, report, source_files

files = source_files(suffixes=(".h", ".cpp"))
problems = []
for start in range(0, len(files), 50):
    done = subprocess.run([sys.argv[1], "--dry-run", "--Werror"] + [str(file) for file in files[start : start + 50]],
                          cwd=ROOT, capture_output=True, text=True)
    problems += sorted({line.split(":")[0] + ": run clang-format -i on it" for line in done.stderr.splitlines()
                        if ": error: " in line})
sys.exit(report(problems, len(files)))
