#!/usr/bin/env python3
"""Every header compiles alone. usage: check_headers.py COMPILER

A header whose own .cpp includes it first is shown to do so by the build itself, but for
headers of the standard library, which are precompiled: the preset `tidy` shows these. The others are compiled here.
"""
import concurrent.futures
import os
import re
import subprocess
import sys

from sources import LAYERS, ROOT, report, source_files


def first_include(source):
    found = re.search(r'^#include ["<]([^">]+)', (ROOT / source).read_text(encoding="utf-8"), re.MULTILINE)
    return found.group(1) if found else ""


def compile_alone(header):
    done = subprocess.run([sys.argv[1], "-std=c++20", "-fsyntax-only", "-I", str(ROOT), "-x", "c++", "-"],
                          input='#include "%s"\n#include "%s"\n' % (header, header), capture_output=True, text=True)
    return "" if done.returncode == 0 else "%s does not compile alone:\n%s" % (header, done.stderr)


# The grammar is one translation unit in several files, each of which takes Spirit seconds to compile.
headers = [header for header in source_files(LAYERS, (".h",)) if header.parent.name != "grammar"]
own_source = {header: header.with_suffix(".cpp") for header in headers}
with_source = [header for header in headers if (ROOT / own_source[header]).exists()]
without_source = [header for header in headers if header not in with_source]
problems = ["%s: does not include its own header first" % own_source[header] for header in with_source
            if first_include(own_source[header]) != str(header)]
with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
    problems += [text for text in pool.map(compile_alone, without_source) if text]
sys.exit(report(problems, len(headers)))
