"""The project's own source files, for the tests that read them."""
import pathlib
import re

ROOT = pathlib.Path(__file__).resolve().parents[2]
LAYERS = ("lang", "compiler", "runtime")


def source_files(folders=LAYERS + ("tests",), suffixes=(".h", ".cpp", ".def", ".inc")):
    """Paths relative to the root, sorted."""
    found = []
    for folder in folders:
        found += [path.relative_to(ROOT) for path in (ROOT / folder).rglob("*") if path.suffix in suffixes]
    return sorted(found)


def findings_registry():
    """The rows of every finding and note, in the order of lang/findings/all.def."""
    lists = re.findall(r'^#include "([^"]+)"', (ROOT / "lang/findings/all.def").read_text(encoding="utf-8"), re.MULTILINE)
    return "".join((ROOT / name).read_text(encoding="utf-8") for name in lists)


def report(problems, checked):
    """Prints what is wrong; the exit code for it. A check that looked at nothing has failed."""
    for problem in problems:
        print(problem)
    print("%d looked at, %d wrong" % (checked, len(problems)))
    return 1 if problems or not checked else 0
