#!/usr/bin/env python3
"""Includes point one way, and a third-party library stays inside the .cpp files that need it."""
import re
import sys

from sources import LAYERS, ROOT, report, source_files

# Third-party include folders, and where in the layers each may appear.
THIRD_PARTY = {
    "boost/spirit": r"lang/grammar/.*\.h",
    "boost/fusion": r"lang/grammar/.*\.h",
    "boost": r".*\.cpp",
    "CLI": r"runtime/cli/.*\.cpp",
    "cryptopp": r"compiler/export/sha256\.cpp",
    "Eigen": r"runtime/.*\.cpp",
    "fmt": r"(compiler|runtime)/.*\.cpp",
    # Several files write parts of one document; the header has declarations alone.
    "nlohmann": r"(compiler|runtime)/.*\.cpp|runtime/cli/json_parts\.h",
    "yaml-cpp": r"(compiler|runtime)/.*\.cpp",
}
SYSTEM = ("sys",)

# Stages that must not know of others, though they could reach them.
FORBIDDEN = [
    (r"runtime/(?!cli/|compilation\.)", r"lang/(ast|parse)\.h", "only the compilation and the commands see the syntax tree"),
    (r"runtime/(?!cli/|compilation\.|prediction_runs\.)", r"compiler/checks/", "only the compilation and the commands see the checks"),
]


def place_of(third_party):
    names = [name for name in THIRD_PARTY if third_party == name or third_party.startswith(name + "/")]
    return max(names, key=len, default=None)


def judge(file, kind, target):
    """What is wrong with this include, or nothing."""
    name = str(file)
    layer = LAYERS.index(file.parts[0])
    if kind == "<":
        folder = target.rsplit("/", 1)[0] if "/" in target else ""
        if not folder or folder in SYSTEM:
            return None
        place = place_of(folder)
        if place is None:
            return "third-party header `%s` is not known here: add it to check_layers.py" % target
        return None if re.fullmatch(THIRD_PARTY[place], name) else "`%s` has no place here" % target
    if not (ROOT / target).exists():
        return "`%s` is not a path from the root" % target
    if LAYERS.index(target.split("/")[0]) > layer:
        return "`%s` points the wrong way" % target
    for where, what, why in FORBIDDEN:
        if re.match(where, name) and re.match(what, target):
            return "`%s`: %s" % (target, why)
    return None


problems = []
files = source_files(LAYERS)
for file in files:
    for number, line in enumerate((ROOT / file).read_text(encoding="utf-8").splitlines(), 1):
        include = re.match(r'\s*#\s*include\s*([<"])([^>"]+)', line)
        wrong = include and judge(file, *include.groups())
        if wrong:
            problems.append("%s:%d: %s" % (file, number, wrong))
sys.exit(report(problems, len(files)))
