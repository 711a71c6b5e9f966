#!/usr/bin/env python3
"""Every bound of what is read: at it the file is taken, one past it there is its finding. usage: bounds_test.py PROGRAM

docs/robustness.md lists the bounds; its numbers are those of the sources, and each of its rows has a case here.
"""
import pathlib
import re
import unittest

from program import BENCH, LOAD, PROFILE, InFolder, main

ROOT = pathlib.Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs/robustness.md"
CHANNEL = "{voltage: {range: 0 V .. 20 V, resolution: 1 mV}, current: {range: 0 A .. 2 A, resolution: 1 mA}}"
TIMING = "timing: {minimum_step: 10 ms, resolution: 1 ms}"


def rows():
    """What the page says: constant, file, number, finding."""
    text = PAGE.read_text(encoding="utf-8")
    found = re.findall(r"^\|[^|]*\| ([0-9,]+)[^|]*\| `(k\w+)` in `([\w/.]+)` \| `([\w-]+)` \|$", text, re.MULTILINE)
    return {(path, name): (int(number.replace(",", "")), finding) for number, name, path, finding in found}


def constant(path, name):
    """The number that a constant of the sources is."""
    text = (ROOT / path).read_text(encoding="utf-8")
    value = re.search(r"\b%s = ([^;]+);" % name, text).group(1)
    value = re.sub(r"std::size_t\{(\d+)\}", r"\1", value).replace("'", "")
    return eval(re.sub(r"(\d)U\b", r"\1", value), {})


def profile(statements="", head=""):
    """A profile that does next to nothing, with these statements in its run."""
    return PROFILE.replace("param", head + "param", 1).replace("  dwell 1 s\n", statements + "\n  dwell 1 s\n")


def bench(more="", channels=None, supplies=None):
    one = "  bench:\n    %s%s\n    channels:\n%s" % (TIMING, more, channels or BENCH.split("channels:\n", 1)[1])
    return "bench: One\nsupplies:\n%s%s" % (one, supplies or "")


def channels_of(count):
    return "      ch1:\n" + BENCH.split("ch1:\n", 1)[1] + "".join("      c%d: {like: ch1}\n" % i for i in range(count - 1))


def yaml_of_bytes(size):
    return BENCH + "#" * (size - len(BENCH.encode()) - 1) + "\n"


def values(count):
    """A bench file of so many YAML values."""
    # The document, its key and the key's value are there already.
    return "bench: [" + "1," * (count - 3) + "]\n"


def some(pattern, count):
    return ", ".join(pattern.replace("#", str(i)) for i in range(count))


def load(elements="[{kind: resistor, resistance: 10 Ohm}]", more="", rails=""):
    return "load: One\nrails: {core: {elements: %s}%s}\n%s" % (elements, rails, more)


def log(description="", header="", value="0", before=""):
    """A log and its description."""
    return {"log.csv": before + "time_s,core_measured_V,core_measured_A%s\n0,%s,0\n" % (header, value),
            "log.log.yaml": "log: A logger\n" + description}


def link(names=1, supplies=1):
    first = "  bench: {tcp: {address: 192.0.2.1, port: 5025}, channels: {%s}}\n" % some("c#: 1", names)
    return {"one.link.yaml": "link: One\nsupplies:\n" + first + "".join(
        "  s%d: {tcp: {address: 192.0.2.1, port: %d}, channels: {c: 1}}\n" % (i, 5026 + i) for i in range(supplies - 1))}


def supplies_of(count):
    return "".join("  s%d: {%s, channels: {a: %s}}\n" % (i, TIMING, CHANNEL) for i in range(count))


def table(time="0", rows=1, more=""):
    return {"t.csv": "time_s,channel,voltage_V,current_A,output\n" + "".join("%s,bench.ch1,5,1,1%s\n" % (time, more) for i in range(rows))}


def walked(count):
    """Loops in each other, of which so many passes differ: of each at most three are gone through, with those inside."""
    statements, depth = "", 16
    while depth > 0:
        passes = (3 ** (depth + 1) - 3) // 2
        if count < passes:
            depth -= 1
            continue
        statements += "repeat 3 { " * depth + "step core to 5 V; dwell 20 ms" + " }" * depth + "\n"
        count -= passes
    return statements + "repeat 1 { dwell 20 ms }\n" * count


def nested(text, depth):
    return "(" * depth + text + ")" * depth


# By file and constant: the files that hold so many of what is bounded.
CASES = {
    ("lang/syntax/parse.h", "kMaxProfileBytes"): lambda n: {"one.ramp": PROFILE + "#" * (n - len(PROFILE) - 1) + "\n"},
    ("lang/syntax/parse.h", "kMaxNesting"): lambda n: {"one.ramp": profile(head="let deep = " + nested("1 V", n) + "\n")},
    ("lang/syntax/expression_builder.h", "kMaxFunctionOperands"): lambda n: {
        "one.ramp": profile(head="let most = max(" + ", ".join(["1 V"] * n) + ")\n")},
    ("compiler/yaml/yaml_document.h", "kMaxYamlBytes"): lambda n: {"one.bench.yaml": yaml_of_bytes(n)},
    ("compiler/yaml/yaml_document.h", "kMaxYamlNodes"): lambda n: {"one.bench.yaml": values(n)},
    ("compiler/yaml/yaml_document.h", "kMaxYamlDepth"): lambda n: {
        "one.bench.yaml": "bench: " + "[" * (n - 1) + "]" * (n - 1) + "\n"},
    ("compiler/yaml/yaml_document.h", "kMaxYamlTextBytes"): lambda n: {
        "one.bench.yaml": BENCH.replace("One supply", "x" * n)},
    ("compiler/bench/bench_reader.cpp", "kMaxSupplies"): lambda n: {
        "one.bench.yaml": bench(supplies=supplies_of(n - 1))},
    ("compiler/bench/bench_reader.cpp", "kMaxChannels"): lambda n: {"one.bench.yaml": bench(channels=channels_of(n))},
    ("compiler/bench/bench_reader.cpp", "kMaxLines"): lambda n: {
        "one.bench.yaml": bench("\n    lines: [%s]" % ", ".join("l%d" % i for i in range(n)))},
    ("compiler/bench/bench_reader.cpp", "kMaxPoints"): lambda n: {"one.bench.yaml": bench("\n    table: {points: %d}" % n)},
    ("compiler/bench/outputs_reader.cpp", "kMaxOutputs"): lambda n: {
        "one.bench.yaml": BENCH + "outputs: {%s}\n" % ", ".join("o%d: bench.ch1" % i for i in range(n))},
    ("compiler/bench/meter.cpp", "kMaxRanges"): lambda n: {
        "one.bench.yaml": bench(channels=BENCH.split("channels:\n", 1)[1] + "        readback: {voltage: {ranges: [%s]}}\n"
                                % ", ".join("{up_to: %d V, accuracy: 10 mV}" % (i + 20) for i in range(n)))},
    ("compiler/shape/shape.h", "kMaxShapePoints"): lambda n: {
        "shape.csv": "time_s,voltage_V\n" + "".join("%d,%d\n" % (i, i % 2) for i in range(n)),
        "one.ramp": profile('  waveform core from "shape.csv" scaled by 0\n')},
    ("compiler/shape/shape.h", "kMaxShapeBytes"): lambda n: {
        "shape.csv": "time_s,voltage_V\n0,0\n1,1\n" + "#" * (n - 26) + "\n",
        "one.ramp": profile('  waveform core from "shape.csv" scaled by 1\n')},
    ("compiler/resolve/resolve.h", "kMaxExpandedNesting"): lambda n: {
        "one.ramp": profile("do s1\n", head="".join("sequence s%d { do s%d }\n" % (i, i + 1) for i in range(1, n))
                            + "sequence s%d { dwell 1 s }\n" % n)},
    ("compiler/compile/parameter_ends.h", "kMaxParametersAtEnds"): lambda n: {
        "one.ramp": profile("".join("  step core to p%d\n  dwell 1 s\n" % i for i in range(n - 1)),
                            head="".join("param p%d = 5 V in 4 V .. 6 V\n" % i for i in range(n - 1)))},
    ("compiler/resolve/arithmetic.cpp", "kMaxUnitPower"): lambda n: {
        "one.ramp": profile(head="let large = " + " * ".join(["1 V"] * n) + "\n")},
    ("runtime/load/element_reader.cpp", "kMaxPoints"): lambda n: {
        "one.load.yaml": LOAD.replace("[{kind: resistor, resistance: 10 Ohm}]",
                                      "[{kind: load_profile, power_good: 3 V, draws: [%s]}]" % ", ".join("[%d ms, 0 A]" % i for i in range(n)))},
    ("compiler/bench/name_lists.cpp", "kMaxMembers"): lambda n: {
        "one.bench.yaml": bench(channels=channels_of(64), supplies=supplies_of(1)) + "outputs: {all: {series: [%s]}}\n" % some(
            "bench.c#", n)},
    ("compiler/bench/links_reader.cpp", "kMaxLinks"): lambda n: {
        "one.bench.yaml": bench(supplies=supplies_of(40)) + "links: {%s}\n" % ", ".join(
            "l%d: {wired: [s%d, s%d], delay: 1 ms}" % (i, i % 40, (i + 1 + i // 40) % 40) for i in range(n))},
    ("compiler/bench/links_reader.cpp", "kMaxLinkedSupplies"): lambda n: {
        "one.bench.yaml": bench() + "links: {all: {wired: [%s], delay: 1 ms}}\n" % some("s#", n)},
    ("runtime/load/load_reader.cpp", "kMaxRails"): lambda n: {"one.load.yaml": load(rails=", " + some("r#: {elements: []}", n - 1))},
    ("runtime/load/load_reader.cpp", "kMaxFaults"): lambda n: {
        "one.load.yaml": load(more="faults: {%s}\n" % some("f#: {rail: core, at: 10 ms, becomes: []}", n))},
    ("runtime/load/element_reader.cpp", "kMaxElements"): lambda n: {
        "one.load.yaml": load("[%s]" % some("{kind: resistor, resistance: 10 kOhm}", n))},
    ("runtime/log/log_description.cpp", "kMaxColumns"): lambda n: log(
        "columns: {%s}\n" % some('"c#": {is: text}', n)),
    ("runtime/log/log_description.cpp", "kMaxInstruments"): lambda n: log("instruments: {%s}\n" % some("i#: {serial: a}", n)),
    ("runtime/log/log_description.cpp", "kMaxSkipped"): lambda n: log("skip_lines: %d\n" % n, before="a\n" * n),
    ("runtime/link/link_reader.cpp", "kMaxSupplies"): lambda n: link(supplies=n),
    ("runtime/link/link_reader.cpp", "kMaxNames"): lambda n: link(names=n),
    ("runtime/support/csv_reader.h", "kMaxCsvLineBytes"): lambda n: {
        "t.csv": table()["t.csv"] + "1,bench.ch1,5,1,1" + "," * (n - 17) + "\n"},
    ("runtime/audit/record.h", "kMaxDepth"): lambda n: {"t.json": '{"a": %s%s}\n' % ("[" * (n - 1), "]" * (n - 1))},
    ("compiler/export/template.h", "kMaxTemplateNumber"): lambda n: {"t.template": "[row]\n{channel:>%d}\n" % n},
    ("lang/files/files.h", "kMaxFileBytes"): lambda n: {"one.ramp": PROFILE + "#" * (n - len(PROFILE))},
    # Beside the loop there are seven.
    ("compiler/resolve/resolve.h", "kMaxExpandedStatements"): lambda n: {
        "one.ramp": profile("  for i in 1 .. %d step 1 { dwell 20 ms }" % (n - 7))},
    ("compiler/timeline/timeline.h", "kMaxShiftingPasses"): lambda n: {
        "one.ramp": profile("  repeat %d { step core by 0.01 mV; dwell 20 ms }" % n)},
    ("compiler/timeline/timeline.h", "kMaxWalkedPasses"): lambda n: {"one.ramp": profile(walked(n))},
    ("compiler/timeline/timeline.h", "kMaxTogetherMoves"): lambda n: {
        "one.ramp": profile("  together { { repeat %d { step core to 5 V; dwell 10 ms } } { dwell 1 s } }" % n)},
}
# What reads a file that `check` does not.
READERS = {"log.csv": ("evaluate", "one.ramp", "--log", "log.csv"),
           "one.link.yaml": ("run", "none.json", "--bench", "one.bench.yaml", "--link", "one.link.yaml", "--dry-run"),
           "t.csv": ("audit", "t.csv", "--bench", "one.bench.yaml"),
           "t.json": ("audit", "t.json", "--bench", "one.bench.yaml"),
           "t.template": ("build", "one.ramp", "--as", "template", "--template", "t.template", "-o", "-")}


class Bounds(InFolder):
    def findings(self, files):
        before = {path.name: path.read_bytes() for path in self.folder.iterdir()}
        for name, text in files.items():
            self.write(name, text)
        command = next((READERS[name] for name in files if name in READERS), ("check", "one.ramp"))
        done = self.run_it(*command)
        self.assertIn(done.returncode, (0, 1, 2), done.stderr)
        for path in list(self.folder.iterdir()):
            path.unlink()
        for name, text in before.items():
            (self.folder / name).write_bytes(text)
        said = re.findall(r"(?:error|warning|note): (.*) \[([\w-]+)\]$", done.stderr.decode(), re.MULTILINE)
        self.assertTrue(said or done.returncode == 0, (command, done.stderr))
        return {(name, message) for message, name in said}

    def test_the_page_has_the_numbers_of_the_sources(self):
        listed = rows()
        self.assertEqual(set(listed), set(CASES), "docs/robustness.md and the cases of this test")
        for (path, name), (number, _) in listed.items():
            self.assertEqual(constant(path, name), number, (path, name))

    def test_at_the_bound_and_one_past_it(self):
        for (path, name), (number, finding) in rows().items():
            with self.subTest(constant=name, path=path):
                # What the message of the bound says beside others of its name: its number, or KiB or MiB of it.
                said = {str(number), str(number >> 10), str(number >> 20 or number)}
                at, past = self.findings(CASES[(path, name)](number)), self.findings(CASES[(path, name)](number + 1))
                told = [[message for one, message in found if one == finding and said & set(re.findall(r"\d+", message.replace(",", "")))]
                        for found in (at, past)]
                self.assertEqual(told[0], [], name)
                self.assertEqual(len(told[1]), 1, (name, sorted(past)[:5]))


if __name__ == "__main__":
    main()
