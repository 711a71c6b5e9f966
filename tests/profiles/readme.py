"""profiles/README.md and its pictures, made from the profiles and what the program says of them.
usage: readme.py PROGRAM [--write]

Without --write it compares what is there with what it would write.
"""
import json
import pathlib
import re
import sys

import library
import picture

PRINTED = json.loads((pathlib.Path(__file__).resolve().parent / "printed_values.json").read_text(encoding="utf-8"))
WHOLE = ("tide-gauge/power-up.ramp", "tide-gauge/choose.ramp", "tide-gauge/supply-margin.ramp", "tide-gauge/burn-in.ramp")
# As the program words them where a person reads.
WORDS = {"overvoltage": "overvoltage protection", "overpower-level": "overpower headroom", "overpower": "overpower protection",
         "power-envelope": "output power", "total-power": "supply power"}
TITLED = re.compile(r"[A-Z][A-Za-z ]*: ")  # For: …, Meant to be found: …

HEAD = """# Profiles to copy

Made by `tests/profiles/readme.py` from the profiles and the answers of the program; build the target `profiles_readme` to update it.

Copy a profile with its load file and its bench, enter the figures of your supplies and of your device, and simulate:
```sh
cp -r profiles my-tests && cd my-tests/patterns
rampart simulate brown-out.ramp
```
The head of each file says what it is for, what to change and what to watch for. [pair.bench.yaml](pair.bench.yaml) is the bench of
all of them: an invented pair of supplies. The devices are invented too: a tide gauge logger and its siblings.

A picture shows the setpoints of each rail: no line while the output is off, a broken line where the run waits. Duration, energy and margin
are those of the simulation. The tightest margin is that of the protection or limit that comes closest to acting, as a share of its setting.
Findings that are *meant to be found* are left in, as a reminder or as the result itself. There are no others.

**Cautions.** A table is not an emergency stop. Above 60 V DC touching a conductor can hurt or kill. A capacitor stays charged when the output is off. A run that nobody
watches needs fuses, smoke detection and a way to cut the mains. Follow local rules, and leave the work to qualified people.
"""
PATTERNS = """
## Patterns
"""
STANDARDS = """
## Shapes of published tests
The edition is in the file name. Values were read in the standard or its publisher's pages (*read*), or in a page that quotes it (*quoted*). The tests
check each table against the printed values, row by row, or time by time where windows are printed (`tests/profiles/printed_values.json` has the values with
their sources). A shape is not a test: for set-up, tolerances, the unit's functions and the verdict see the standard itself.
"""
MEMORY = """
## Shapes from memory
The numbers of these were not compared with the standard. Check each in your copy. The tests check order, count and total time only. A run
of them is not a test to that standard.
"""
REFUSALS = """
## Refusals
What a bench supply cannot play, and what Rampart reports.
"""
WHOLE_HEAD = """
## Whole examples
[first](first) is the smallest complete job, and [tide-gauge](tide-gauge) the tour, of the [first page](../README.md). [any-bench](any-bench) is one profile that
runs on four benches without an edit. [templates](templates) fill a text of your own with a table.
"""


def sentence(name):
    """What the head of a profile says it is: its first lines, up to the first that has a title."""
    lines = []
    for line in (library.ROOT / name).read_text(encoding="utf-8").split("\n"):
        text = line[2:]
        if not line.startswith("# ") or (lines and TITLED.match(text)):
            break
        if not text.startswith("FROM MEMORY"):
            lines.append(text)
    whole = " ".join(lines).removeprefix("A REFUSAL: ")
    return whole[0].upper() + whole[1:]


def with_prefix(value, unit):
    """Three digits and an SI prefix: 0.0123 J is 12.3 mJ."""
    for factor, prefix in ((1e6, "M"), (1e3, "k"), (1, ""), (1e-3, "m"), (1e-6, "u")):
        if abs(float("%.3g" % value)) >= factor:
            return "%.3g %s%s" % (value / factor, prefix, unit)
    return "0 " + unit


def lasting(seconds):
    if seconds >= 2 * 3600:
        return "%.4g h" % (seconds / 3600)
    if seconds >= 2 * 60:
        return "%.3g min" % (seconds / 60)
    return with_prefix(seconds, "s")


def tightest(answer):
    """What comes closest to its limit, by share of that limit. A level that is reached, for as long as it may be, counts by that time."""
    items = [item for item in answer["margins"] if item["what"] != "settling" and item["limit"] and (item["margin"] or 0) > 0]
    shares = [(float("%.3g" % (item["margin"] / item["limit"])), item["what"], item) for item in items if item["margin"] is not None]
    if not shares:
        return ""
    _, what, least = min(shares, key=lambda share: share[:2])
    return "%s of %s, %s" % (with_prefix(least["margin"], least["unit"]), with_prefix(least["limit"], least["unit"]),
                             WORDS.get(what, what.replace("-", " ")) + (" of `%s`" % least["rail"] if least["rail"] else ""))


def link(name):
    return "[%s](%s)" % (pathlib.Path(name).stem, name)


def row(program, name, pictures, basis=""):
    answer = program.simulation(name)
    end = lasting(answer["duration_s"])
    drawing = "pictures/%s.svg" % name.replace("/", "-").removesuffix(".ramp")
    pictures[drawing] = picture.picture(program.table(name, number=float), end)
    found = ", ".join("`%s`" % item for item in library.findings(answer))
    return "| ![setpoints](%s) | %s<br>%s%s | %s | %s | %s | %s |" % (
        drawing, link(name), sentence(name), basis, end, with_prefix(answer["total"]["energy_J"], "J"), tightest(answer), found)


def pages(program):
    """The text of README.md and of every picture, by name."""
    names, files = library.profiles(), {}
    columns = "\n| setpoints | profile | lasts | energy | tightest margin | meant to be found |\n|---|---|---|---|---|---|"
    kinds = {name: PRINTED[pathlib.Path(name).stem] for name in names if name.startswith("standards/")}
    refused = [name for name, entry in kinds.items() if entry["shape"] == "refused"]
    memory = [name for name, entry in kinds.items() if entry["basis"] == "from memory" and name not in refused]
    printed = [name for name in kinds if name not in refused + memory]
    text = HEAD + PATTERNS + "\n".join([columns] + [row(program, name, files) for name in names if name.startswith("patterns/")]) + "\n"
    text += STANDARDS + "\n".join([columns] + [row(program, name, files, {"read": " *Read.*", "read-2": " *Quoted.*"}[kinds[name]["basis"]])
                                               for name in printed]) + "\n"
    text += MEMORY + "\n".join([columns] + [row(program, name, files) for name in memory]) + "\n"
    text += REFUSALS + "\n| profile | found |\n|---|---|\n"
    for name in refused:
        found = ", ".join("`%s`" % item for item in library.findings(program.simulation(name)))
        text += "| %s<br>%s | %s |\n" % (link(name), sentence(name), found)
    text += WHOLE_HEAD + "\n".join([columns] + [row(program, name, files) for name in WHOLE]) + "\n"
    files["README.md"] = text
    return files


def main():
    program = library.Program(sys.argv[1])
    files = pages(program)
    drawn = {"pictures/" + path.name for path in (library.ROOT / "pictures").glob("*.svg")}
    if sys.argv[2:] == ["--write"]:
        (library.ROOT / "pictures").mkdir(exist_ok=True)
        for name in drawn - set(files):
            (library.ROOT / name).unlink()
        for name, text in files.items():
            (library.ROOT / name).write_text(text, encoding="utf-8")
        return 0
    stale = sorted(drawn - set(files))
    for name, text in files.items():
        path = library.ROOT / name
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(name)
    for name in stale:
        print("profiles/%s is not what the profiles say: build the target profiles_readme" % name)
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
