"""The table of agreement in docs/simulation.md: one row a circuit, from the tests that hold it against an outsider.

usage: agreement_table.py TESTS RAMPART           says where the page lacks a case, has one too many, or claims other figures
       agreement_table.py TESTS RAMPART --write   runs all of them and writes the table

TESTS is the program with the comparisons against CVODE. The figures are rounded up to a power of ten. One that is checked
may be off by the last bits of another machine: it holds where what is found is at most twice the figure, and is out of
date where a hundredth of it was enough."""
import math
import os
import pathlib
import re
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


FIGURE = re.compile(r"10(⁻?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)")
DIGITS = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")


def figures(cell):
    """The numbers of a cell: relative agreement, and that of times where it is given."""
    return [10.0 ** int(found.translate(DIGITS)) for found in FIGURE.findall(cell)]


def wrong_figures(record, cell):
    """What the page claims of a case and the tests do not show."""
    _, name, relative, seconds = record
    measured = [relative] + ([seconds] if seconds else [])
    claimed = figures(cell)
    if len(measured) != len(claimed):
        return [f"`{name}` has {len(claimed)} figures, the tests give {len(measured)}"]
    return [f"`{name}` claims {claim:.0e}, the tests find {value:.2g}" for value, claim in zip(measured, claimed)
            if value > 2 * claim or 100 * max(value, 1e-12) < claim]


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
        records += run([*script, rampart], folder)
        if "--write" in sys.argv:
            head = "| circuit | outside source | agreement |\n|---|---|---|\n"
            PAGE.write_text(before + BEGIN + head + "".join(row(*record) for record in records) + END + after, encoding="utf-8")
            return 0
    wanted = {(name, source) for source, name, *_ in records}
    rows = [[cell.strip() for cell in line.split("|")[1:4]] for line in table.splitlines()[2:]]
    written = {(name, source): cell for name, source, cell in rows}
    for name, source in sorted(wanted - set(written)):
        print(f"docs/simulation.md: the table of agreement lacks `{name}` against {source}")
    for name, source in sorted(set(written) - wanted):
        print(f"docs/simulation.md: the table of agreement has `{name}` against {source}, which no test has")
    wrong = [line for record in records if (record[1], record[0]) in written
             for line in wrong_figures(record, written[record[1], record[0]])]
    for line in wrong:
        print(f"docs/simulation.md: the table of agreement: {line}")
    is_wrong = wanted != set(written) or bool(wrong)
    if is_wrong:
        print("write it anew with `ninja agreement_table`")
    return int(is_wrong)


if __name__ == "__main__":
    sys.exit(main())
