#!/usr/bin/env python3
"""Titles, names of marks and prompts can hold any text, and act on nothing in any output. usage: outside_text_test.py PROGRAM

Escapes: ECMA-48. Characters that turn the direction of text: Unicode 15, UAX #9. Formulas: what spreadsheets take for one (OWASP, CSV
Injection). Markup: HTML.
"""
import csv
import html.parser
import io
import json
import unittest

from program import BENCH, PROFILE, InFolder, main

TURNS = ("\u202a", "\u202b", "\u202d", "\u202e", "\u2066", "\u2067", "\u2068")
# A text of each kind that some reader might take for more than text.
TEXTS = ("=HYPERLINK(1)", "+1+1", "-1+cmd", "@SUM(1)", "<script>alert(1)</script>", "'><img src=x onerror=alert(1)>", "</style>&amp;",
         "$end $var wire 1 ! evil $end", "* evil .include evil", "]]>evil", "%s%n evil")
LOAD = "load: %s\nrails: {core: {elements: [{kind: resistor, name: %s, resistance: 10 Ohm}]}}\n"


class Page(html.parser.HTMLParser):
    """The tags of a page with the scripts that it has, and all attributes that run something."""
    def __init__(self):
        super().__init__()
        self.tags, self.runs = {}, []

    def handle_starttag(self, tag, attributes):
        self.tags[tag] = self.tags.get(tag, 0) + 1
        self.runs += [name for name, _ in attributes if name.startswith("on")]


class OutsideText(InFolder):
    def put(self, text):
        """The text wherever a profile, a bench and a load have one."""
        quoted = '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
        self.write("one.bench.yaml", BENCH.replace("One supply", quoted).replace("    channels:", "    lines: [go]\n    channels:"))
        self.write("one.load.yaml", LOAD % (quoted, quoted))
        profile = PROFILE.replace('"Five volts"', quoted).replace('"end"', quoted)
        profile = profile.replace("  dwell 1 s\n", "  dwell 1 s\n  await operator %s within 9 s assume 1 s\n  dwell 100 ms\n"
                                  "  measure %s over 50 ms\n" % (quoted, quoted.replace("evil", "read")))
        self.write("one.ramp", profile + "rule %s always core <= 11 V\nsafe { off core }\n" % quoted)
        self.write("wrong.ramp", profile.replace("step core to level", "step core to 25 V") + "accept unattended on core because %s\n" % quoted)
        self.write("t.template", "[header]\n{title:q}\n[segment]\n[row]\n{channel:q},{time_s}\n[line]\n[wait]\n{what:q}\n"
                   "[mark]\n{name:q}\n[measure]\n{name:q}\n")

    def outputs(self):
        """What every command prints or writes of these files, by a name for it."""
        found = {}
        for name, command in (("check", ("check", "one.ramp")), ("wrong", ("check", "wrong.ramp")), ("simulate", ("simulate", "one.ramp", "--full")),
                              ("sweep", ("sweep", "one.ramp")), ("diff", ("diff", "one.ramp", "wrong.ramp")),
                              ("check.json", ("check", "one.ramp", "wrong.ramp", "--format", "json")),
                              ("check.sarif", ("check", "one.ramp", "wrong.ramp", "--format", "sarif")),
                              ("simulate.json", ("simulate", "one.ramp", "--format", "json")),
                              ("report.html", ("report", "one.ramp", "-o", "-")), ("build.csv", ("build", "one.ramp", "--as", "csv", "-o", "-")),
                              ("build.json", ("build", "one.ramp", "--as", "json", "-o", "-")),
                              ("build.cir", ("build", "one.ramp", "--as", "spice", "-o", "-")),
                              ("build.vcd", ("build", "one.ramp", "--as", "vcd", "-o", "-")),
                              ("template.csv", ("build", "one.ramp", "--as", "template", "--template", "t.template", "-o", "-"))):
            done = self.run_it(*command)
            self.assertIn(done.returncode, (0, 1, 2) if name == "diff" else (0, 1), (name, done.stderr))
            found[name] = done.stdout.decode("utf-8")
            found[name + " said"] = done.stderr.decode("utf-8")
        self.run_it("build", "one.ramp", "--as", "csv", "-o", "t.csv")
        self.run_it("simulate", "one.ramp", "--waveforms", "w.csv")
        found["waves.csv"] = (self.folder / "w.csv").read_text(encoding="utf-8")
        found["setup.json"] = (self.folder / "t.csv.setup.json").read_text(encoding="utf-8")
        return found

    def test_nothing_acts(self):
        self.put("Five volts")
        plain = self.outputs()
        page = Page()
        page.feed(plain["report.html"])
        for text in TEXTS:
            self.put(text)
            for name, output in self.outputs().items():
                with self.subTest(text=text, output=name):
                    self.assertTrue(output or not plain[name])
                    self.look_at(name, output, page)

    def look_at(self, name, output, plain_page):
        if name.endswith((".json", ".sarif")):
            json.loads(output)
            return
        for turn in TURNS:
            self.assertNotIn(turn, output)
        self.assertNotIn("\x1b", output)
        if name.endswith(".html"):
            page = Page()
            page.feed(output)
            self.assertEqual((page.tags.get("script"), page.tags.get("img"), page.tags.get("style"), page.runs),
                             (plain_page.tags.get("script"), plain_page.tags.get("img"), plain_page.tags.get("style"), plain_page.runs))
        if name.endswith((".cir", ".vcd")):
            # Their comments hold what the program says, and nothing of a title.
            self.assertNotIn("evil", output)
        if name.endswith(".csv"):
            for row in csv.reader(io.StringIO(output)):
                for cell in row:
                    try:
                        float(cell)
                    except ValueError:
                        self.assertFalse(cell.startswith(("=", "+", "-", "@", "\t", "\r")), cell)

    def test_what_acts_on_a_terminal_is_refused(self):
        files = {"one.ramp": (PROFILE, "Five volts"), "one.bench.yaml": (BENCH, "One supply"),
                 "one.load.yaml": (LOAD % ("A load", "heater"), "A load")}
        for name, (plain, title) in files.items():
            for text in ("\x1b[31m", "\x07", "\u009b", "\x7f") + TURNS:
                with self.subTest(file=name, text=text):
                    self.write(name, plain.replace(title, text))
                    done = self.run_it("check", "one.ramp")
                    self.assertEqual(done.returncode, 1, done.stdout)
                    self.assertNotIn(text.encode(), done.stdout + done.stderr)
            self.write(name, plain)


if __name__ == "__main__":
    unittest.TestCase.maxDiff = 2000
    main()
