"""The project's own source files, for the tests that read them."""
import pathlib

ROOT = pathlib.Path(__file__).resolve().parents[2]
LAYERS = ("lang", "compiler", "runtime")


def source_files(folders=LAYERS + ("tests",), suffixes=(".h", ".cpp", ".def")):
    """Paths relative to the root, sorted."""
    found = []
    for folder in folders:
        found += [path.relative_to(ROOT) for path in (ROOT / folder).rglob("*") if path.suffix in suffixes]
    return sorted(found)


def report(problems, checked):
    """Prints what is wrong; the exit code for it. A check that looked at nothing has failed."""
    for problem in problems:
        print(problem)
    print("%d looked at, %d wrong" % (checked, len(problems)))
    return 1 if problems or not checked else 0
