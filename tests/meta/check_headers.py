#!/usr/bin/env python3
"""Every header compiles alone. usage: check_headers.py COMPILER"""
import concurrent.futures
import os
import subprocess
import sys

from sources import LAYERS, ROOT, report, source_files


def compile_alone(header):
    done = subprocess.run([sys.argv[1], "-std=c++20", "-Wall", "-Wextra", "-fsyntax-only", "-I", str(ROOT), "-x", "c++", "-"],
                          input='#include "%s"\n#include "%s"\n' % (header, header), capture_output=True, text=True)
    return "" if done.returncode == 0 else "%s does not compile alone:\n%s" % (header, done.stderr)


headers = source_files(LAYERS, (".h",))
with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
    problems = [text for text in pool.map(compile_alone, headers) if text]
sys.exit(report(problems, len(headers)))
