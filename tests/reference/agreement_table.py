"""The table of agreement in docs/simulation.md: one row a circuit, from the tests that hold it against an outsider.

usage: agreement_table.py TESTS RAMPART           says where the page lacks a case or has one too many
       agreement_table.py TESTS RAMPART --write   runs all of them and writes the table

TESTS is the program with the comparisons against CVODE. The figures are rounded up to a power of ten, so that they are
alike on any machine; only the cases are checked."""
import math
import os
import pathlib
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
PAGE = HERE.parents[1] / "docs" / "simulation.md"
BEGIN = "<!-- agreement: written by `ninja agreement_table` -->\n"
END = "<!-- end of agreement -->\n"
SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def run(command, folder):
    """The records that a program of tests writes: source, case, relative and absolute difference of times."""
    path = pathlib.Path(folder) / "agreement.tsv"
    done = subprocess.run(command, env={**os.environ, "RAMPART_AGREEMENT": str(path)}, capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stdout + done.stderr)
    records = [line.split("\t") for line in path.read_text(encoding="utf-8").splitlines()]
    path.unlink()
    return [(source, name, float(relative), float(seconds)) for source, name, relative, seconds in records]


def power(value, floor):
    return "10" + str(math.ceil(math.log10(max(value, floor)) - 1e-9)).translate(SUPERSCRIPT)


def row(source, name, relative, seconds):
    times = f"; times {power(seconds, 1e-12)} s" if seconds else ""
    return f"| {name} | {source} | {power(relative, 1e-12)}{times} |\n"


def parts(page):
    before, rest = page.split(BEGIN)
    table, after = rest.split(END)
    return before, table, after


def main():
    tests, rampart = sys.argv[1:3]
    cvode = [tests, "--test-case=*agree with CVODE*"]
    script = [sys.executable, "-B", str(HERE / "ngspice_test.py")]
    before, table, after = parts(PAGE.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        records = run(cvode, folder)
        if "--write" in sys.argv:
            records += run([*script, rampart], folder)
            head = "| circuit | outside source | agreement |\n|---|---|---|\n"
            PAGE.write_text(before + BEGIN + head + "".join(row(*record) for record in records) + END + after, encoding="utf-8")
            return 0
    listed = subprocess.run([*script, "--list"], capture_output=True, text=True, check=True).stdout.splitlines()
    wanted = {(name, source) for source, name, *_ in records} | {(name, "ngspice") for name in listed}
    written = {tuple(cell.strip() for cell in line.split("|")[1:3]) for line in table.splitlines()[2:]}
    for name, source in sorted(wanted - written):
        print(f"docs/simulation.md: the table of agreement lacks `{name}` against {source}")
    for name, source in sorted(written - wanted):
        print(f"docs/simulation.md: the table of agreement has `{name}` against {source}, which no test has")
    if wanted != written:
        print("write it anew with `ninja agreement_table`")
    return int(wanted != written)


if __name__ == "__main__":
    sys.exit(main())
