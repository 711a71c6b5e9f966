#!/usr/bin/env python3
"""Reports in a browser: they load, move, read, print and stay legible. usage: report_test.py PROGRAM"""
import csv
import json
import pathlib
import re
import shutil
import sys
import unittest
import zlib

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/cli"))
from program import BENCH, InFolder  # noqa: E402

from contrast import contrast, texts_on_grounds  # noqa: E402
from devtools import CHROMIUM, Browser, Page  # noqa: E402

EXAMPLES = ROOT / "profiles/tide-gauge"
RANGES = "[...document.querySelectorAll('.plot')].map((_, i) => report.plots[i].chart.xAxisRange())"
# Pixels of each chart's canvases that are drawn upon.
INK = """[...document.querySelectorAll('.plot')].map(plot => [...plot.querySelectorAll('canvas')].reduce((sum, canvas) => {
  const pixels = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
  let count = 0;
  for (let i = 3; i < pixels.length; i += 4) if (pixels[i] > 0) ++count;
  return sum + count;
}, 0))"""


def number(words):
    """"1.25 mA" in A."""
    value, unit = re.fullmatch(r"([−\d.e-]+) ([pnµmkM]?)[VAWs]", words).groups()
    factor = {"p": 1e-12, "n": 1e-9, "µ": 1e-6, "m": 1e-3, "": 1, "k": 1e3, "M": 1e6}[unit]
    return float(value.replace("−", "-")) * factor


def at(rows, time, column):
    """The simulation's course at a time, straight between the rows on either side."""
    for before, after in zip(rows, rows[1:]):
        if before["time_s"] <= time < after["time_s"]:
            share = (time - before["time_s"]) / (after["time_s"] - before["time_s"])
            return before[column] + share * (after[column] - before[column])
    return rows[-1][column]


def drawn_images(document):
    """Images of a PDF (ISO 32000-1, 8.9.5) that are not of one colour alone, but for those that only hold opacities."""
    count = 0
    for head, data in re.findall(rb"<<((?:(?!<<).)*?/Subtype\s*/Image.*?)>>\s*stream\r?\n(.*?)endstream", document, re.DOTALL):
        if b"/DeviceGray" not in head and len(set(zlib.decompressobj().decompress(data))) > 8:
            count += 1
    return count


class Reports(InFolder):
    @classmethod
    def setUpClass(cls):
        if CHROMIUM is None:
            raise RuntimeError("the package chromium is not installed; cmake -DRAMPART_BROWSER_TESTS=OFF leaves these tests out")
        cls.browser = Browser()
        cls.addClassCleanup(cls.browser.close)

    def setUp(self):
        super().setUp()
        shutil.copytree(EXAMPLES, self.folder, dirs_exist_ok=True)

    def report(self, profile, *arguments, code=0):
        path = self.folder / "report.html"
        done = self.run_it("report", profile, "-o", path.name, *arguments)
        self.assertEqual(done.returncode, code, done.stderr.decode())
        return path

    def open(self, path, **how):
        page = Page(self.browser, path, **how)
        self.addCleanup(page.close)
        if how.get("script", True):
            page.settle()
        return page

    def middle(self, page, plot):
        """The middle of a chart's area in the window, and its left and right ends."""
        return page.evaluate("""(() => {
          const plot = report.plots[%d];
          plot.place.scrollIntoView({block: 'center'});
          const box = plot.place.getBoundingClientRect(), area = plot.chart.getArea();
          return [box.left + area.x, box.left + area.x + area.w, box.top + area.y + area.h / 2];
        })()""" % plot)

    def test_pages_load_in_silence_and_draw_every_chart(self):
        for profile, arguments in (("power-up.ramp", ()), ("burn-in.ramp", ()), ("power-up.ramp", ("--fault", "shorted"))):
            page = self.open(self.report(profile, *arguments))
            self.assertEqual(page.complaints(), [])
            ink = page.evaluate(INK)
            self.assertEqual(len(ink), 1 + 2 * 3)  # all rails, and three of each rail
            self.assertGreater(min(ink), 1000, (profile, ink))

    def test_a_zoom_of_one_chart_moves_all(self):
        page = self.open(self.report("power-up.ramp"))
        whole = page.evaluate(RANGES)
        left, right, y = self.middle(page, 0)
        page.drag(left + 0.25 * (right - left), left + 0.5 * (right - left), y)
        ranges = page.evaluate(RANGES)
        self.assertEqual(len({tuple(one) for one in ranges}), 1)
        for found, share in zip(ranges[0], (0.25, 0.5)):
            self.assertAlmostEqual(found, share * whole[0][1], delta=0.01 * whole[0][1])
        seen = page.evaluate("scrollY")
        for click in (1, 2):
            page.mouse("mousePressed", left + 90, y, clickCount=click)
            page.mouse("mouseReleased", left + 90, y, clickCount=click)
        page.evaluate("new Promise(done => setTimeout(done, 600))")  # longer than a double click
        page.settle()
        self.assertEqual(page.evaluate(RANGES), whole)
        # Neither of the two clicks was taken for one that leads to the source.
        self.assertEqual(page.evaluate("scrollY"), seen)
        self.assertEqual(page.complaints(), [])

    def test_shift_and_drag_move_what_is_shown(self):
        page = self.open(self.report("power-up.ramp"))
        page.evaluate("report.set(4, 8)")
        page.settle()
        left, right, y = self.middle(page, 3)
        page.evaluate("0")
        for kind, x, more in (("mousePressed", 600, {}), ("mouseMoved", 700, {"buttons": 1}), ("mouseReleased", 700, {})):
            page.mouse(kind, x, y, modifiers=8, clickCount=1, **more)
        page.settle()
        begin, end = page.evaluate("[report.from, report.to]")
        self.assertAlmostEqual(end - begin, 4, places=6)
        self.assertAlmostEqual(begin, 4 - 4 * 100 / (right - left), delta=0.03)

    def test_hovering_reads_what_the_simulation_says(self):
        path = self.report("power-up.ramp")
        self.run_it("simulate", "power-up.ramp", "--waveforms", "waves.csv")
        with open(self.folder / "waves.csv", newline="") as file:
            rows = [{key: value if key == "rail" else float(value) for key, value in row.items()} for row in csv.DictReader(file)]
        page = self.open(path)
        left, right, y = self.middle(page, 0)
        for share in (0.03, 0.0713, 0.4, 0.937, 0.96):
            page.mouse("mouseMoved", left + share * (right - left), y)
            page.settle()
            time = page.evaluate("report.cursor")
            for index, rail in enumerate(("logic", "radio")):
                own = [row for row in rows if row["rail"] == rail]
                shown = page.evaluate("report.rails[%d].readout.textContent" % index)
                words = re.match(r"at .* · setpoint (.*?) · terminals (.*?) · load (.*?) · (.*?) · (.*?) · ", shown).groups()
                for column, word in zip(("setpoint_V", "terminal_V", "load_V", "current_A", "power_W"), words):
                    # Quanta of a tenth of the error, and five digits.
                    room = 2e-4 * max(abs(row[column]) for row in own) + 1e-4 * abs(at(own, time, column)) + 1e-9
                    self.assertAlmostEqual(number(word), at(own, time, column), delta=room, msg="%s %s %s" % (rail, column, time))

    def test_readings_lie_over_the_prediction(self):
        without = self.open(self.report("power-up.ramp")).evaluate(INK)
        page = self.open(self.report("power-up.ramp", "--log", "as-run.csv", "--corners"))
        self.assertEqual(page.complaints(), [])
        with_log = page.evaluate(INK)
        # Every chart of a rail has its dots; that of all rails has none.
        self.assertEqual([b > a for a, b in zip(without, with_log)], [False] + 6 * [True])
        with open(self.folder / "as-run.csv", newline="") as file:
            readings = list(csv.DictReader(file))
        # A reading in the middle of the run, where the rail rests: the log begins 1.25 s before it, with 50 ms between readings.
        page.evaluate("report.point(%f)" % (150 * 0.05 - 1.25))
        shown = page.evaluate("report.rails[0].readout.textContent")
        volts, amps = re.search(r"measured (.*?), (.*?), ", shown).groups()
        self.assertAlmostEqual(number(volts), float(readings[150]["logic_measured_V"]), delta=2e-3)
        self.assertAlmostEqual(number(amps), float(readings[150]["logic_measured_A"]), delta=5e-4)
        self.assertEqual(page.evaluate("document.querySelectorAll('#as-run .verdict.good').length"), 2)

    def test_excursions_are_marked_and_lead_to_the_charts(self):
        page = self.open(self.report("power-up.ramp", "--log", "as-run-2.csv", "--log-description", "as-run.log.yaml", "--corners", code=1))
        self.assertEqual(page.complaints(), [])
        words = page.evaluate("document.getElementById('as-run').textContent")
        for part in ("Sequence: FAIL", "Response: FAIL", "a row that is", "an offset of", "E1", "E2"):
            self.assertIn(part, words)
        marked = page.evaluate("report.plots.filter(plot => plot.excursions && plot.excursions.length).map(plot => plot.rail.name + plot.quantity)")
        self.assertEqual(sorted(marked), ["logicvoltage", "radiovoltage"])
        link = "document.querySelector('#as-run a[data-time]')"
        page.evaluate(link + ".click()")
        page.settle()
        begin, end = page.evaluate("[report.from, report.to]")
        self.assertTrue(begin <= page.evaluate("Number(%s.dataset.time)" % link) <= end)

    def test_keys_move_in_time(self):
        page = self.open(self.report("power-up.ramp"))
        page.evaluate("document.getElementById('panels').focus()")
        page.key("+")
        begin, end = page.evaluate("[report.from, report.to]")
        self.assertAlmostEqual(end - begin, 14.07 / 2, places=6)
        page.key("ArrowRight")
        self.assertGreater(page.evaluate("report.from"), begin)
        page.key("Home")
        page.key("n")
        page.key("n")
        # The outputs come on 10 ms after `on`, then the first mark.
        self.assertAlmostEqual(page.evaluate("report.cursor"), 1.07, places=9)
        page.key("p")
        self.assertAlmostEqual(page.evaluate("report.cursor"), 0.01, places=9)
        page.key("ArrowRight", modifiers=8)
        self.assertGreater(page.evaluate("report.cursor"), 0)
        page.key("Enter")
        self.assertEqual(page.evaluate("document.querySelectorAll('.here').length"), 1)
        # The line that was begun last, whichever rail plays it.
        source = (EXAMPLES / "power-up.ramp").read_text(encoding="utf-8").split("\n")
        ramp = next(i for i, line in enumerate(source, 1) if "ramp radio to" in line)
        page.evaluate("report.point(1.3), document.getElementById('panels').focus()")
        page.key("Enter")
        self.assertEqual(page.evaluate("document.querySelector('.here').id"), "f0-%d" % ramp)

    def test_charts_and_lines_lead_to_each_other(self):
        page = self.open(self.report("power-up.ramp"))
        source = (EXAMPLES / "power-up.ramp").read_text(encoding="utf-8").split("\n")
        ramp = next(i for i, line in enumerate(source, 1) if "ramp logic to logic_level" in line)
        left, right, y = self.middle(page, 0)
        x = left + 0.5 / 14.07 * (right - left)  # in the first second
        page.mouse("mousePressed", x, y, clickCount=1)
        page.mouse("mouseReleased", x, y, clickCount=1)
        page.evaluate("new Promise(done => setTimeout(done, 600))")  # longer than a double click
        self.assertEqual(page.evaluate("document.querySelector('.here').id"), "f0-%d" % ramp)
        page.evaluate("document.querySelector('#f0-%d .to-chart').click()" % ramp)
        page.settle()
        begin, end = page.evaluate("[report.from, report.to]")
        # The ramp lasts a second; there is some room on either side.
        self.assertTrue(begin < 0.02 and 1 < end < 1.5, (begin, end))
        page.evaluate("document.querySelector('#margins tr.least a[data-time]').click()")
        self.assertAlmostEqual(page.evaluate("report.cursor"), 1.67, places=6)

    def test_print_has_all_charts(self):
        page = self.open(self.report("power-up.ramp"), scheme="dark")
        self.assertGreaterEqual(drawn_images(page.pdf()), 6)
        page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        page.call("Emulation.setEmulatedMedia", media="print")
        page.settle()
        widths = page.evaluate("[...document.querySelectorAll('.plot')].map(plot => plot.getBoundingClientRect().width)")
        # A4 less its margins, in CSS pixels (CSS Values and Units Level 3: 96 to the inch).
        self.assertLess(max(widths), (210 - 2 * 14) / 25.4 * 96)
        self.assertGreater(min(widths), 600)
        self.assertGreater(min(page.evaluate(INK)), 1000)
        # On paper nothing can be unfolded.
        self.assertEqual(page.evaluate("document.querySelectorAll('details:not([open])').length"), 0)
        self.assertEqual(page.evaluate("getComputedStyle(document.body).backgroundColor"), "rgb(255, 255, 255)")

    def test_texts_stand_out_in_both_schemes(self):
        self.write("wrong.ramp", (EXAMPLES / "power-up.ramp").read_text(encoding="utf-8").replace("<= 50 J", "<= 5 J"))
        path = self.report("wrong.ramp", code=1)
        for scheme in ("light", "dark"):
            page = self.open(path, scheme=scheme)
            page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
            page.evaluate("document.querySelector('.listing li').classList.add('here')")
            pairs = texts_on_grounds(page)
            self.assertGreater(len(pairs), 8)
            for ink, ground, words in pairs:
                # WCAG 2.1, success criterion 1.4.3, level AA.
                self.assertGreaterEqual(contrast(ink, ground), 4.5, (scheme, ink, ground, words))

    def test_lines_stand_out_in_both_schemes(self):
        path = self.report("power-up.ramp")
        for scheme in ("light", "dark"):
            page = self.open(path, scheme=scheme)
            ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
            for name in ("rail-0", "rail-1", "rail-2", "rail-3", "rail-4", "bad", "ink"):
                ink = page.evaluate("""(() => { const probe = document.createElement('i'); document.body.append(probe);
                  probe.style.color = 'var(--%s)'; return getComputedStyle(probe).color; })()""" % name)
                # WCAG 2.1, success criterion 1.4.11.
                self.assertGreaterEqual(contrast(ink, ground), 3, (scheme, name))

    def test_narrow_screens_need_no_sideways_scrolling(self):
        path = self.report("burn-in.ramp")
        # WCAG 2.1, success criterion 1.4.10: 320 CSS pixels.
        for width in (320, 390, 768):
            page = self.open(path, width=width)
            self.assertLessEqual(page.evaluate("document.scrollingElement.scrollWidth"), width)
            self.assertGreater(min(page.evaluate(INK)), 500)
            self.assertEqual(page.complaints(), [])

    def test_hostile_names_are_text(self):
        names = ["</script><script>window.hacked=1</script>", "<img src=x onerror=window.hacked=1>", "'\\\"&amp;<!--", "L" * 3000,
                 "\u05d0\u05d1\u05d2 gnp.exe"]
        quoted = ['"%s"' % name.replace("\\", "").replace('"', "") for name in names]
        self.write("one.bench.yaml", BENCH)
        self.write("<b>x.ramp", "profile %s\nbench \"one.bench.yaml\"\nload \"one.load.yaml\"\nrail core on bench.ch1\n"
                   "protect core { overvoltage 12 V; fuse after 50 ms; overpower 4 W }\nrule %s always core <= 6 V\n"
                   "run {\n  limit core to 1 A\n  on core\n  step core to 5 V\n%s  dwell 1 s\n  step core to 0 V\n  off core\n}\n"
                   % (quoted[0], quoted[4], "".join("  dwell 1 s\n  mark %s\n" % name for name in quoted)))
        page = self.open(self.report("<b>x.ramp"), width=700)
        self.assertEqual(page.complaints(), [])
        self.assertIsNone(page.evaluate("window.hacked === undefined ? null : 1"))
        self.assertEqual(page.evaluate("document.querySelectorAll('img, b b, iframe').length"), 0)
        self.assertEqual(page.evaluate("document.scripts.length"), 2)
        text = page.evaluate("document.body.textContent")
        for name in quoted:
            self.assertIn(name, text)
        self.assertEqual(page.evaluate("document.title"), names[0])
        self.assertLessEqual(page.evaluate("document.scrollingElement.scrollWidth"), 700)
        self.assertEqual(json.loads(page.evaluate("JSON.stringify(report.data.events.map(one => one.words))"))[1], names[0])

    def test_two_days_take_no_more_room_than_two_hours(self):
        long = self.report("burn-in.ramp").stat().st_size
        self.write("short.ramp", (EXAMPLES / "burn-in.ramp").read_text(encoding="utf-8").replace("48 h {", "2 h {"))
        self.assertLess(abs(self.report("short.ramp").stat().st_size - long), 5000)
        self.assertLess(long, 1_000_000)

    def test_a_millisecond_of_any_pass(self):
        page = self.open(self.report("burn-in.ramp"))
        # A stair begins in the middle: at an end of the window rounding would say whether it is seen.
        early = page.evaluate("report.from = 600.2995, report.to = 600.3005, report.draw(), report.plots[0].chart.rawData_.map(row => row[3])")
        late = page.evaluate("(() => { const begin = 600 * 283 + 0.2995; report.from = begin; report.to = begin + 1e-3; report.draw();"
                             "return report.plots[0].chart.rawData_.map(row => [row[0] - begin, row[3]]); })()")
        self.assertGreater(len(late), 10)
        self.assertEqual(len(late), len(early))
        for (offset, value), wanted in zip(late, early):
            self.assertTrue(-1e-6 <= offset <= 1e-3 + 1e-6)
            self.assertAlmostEqual(value, wanted, delta=1e-3)
        self.assertIn("(1 ms)", page.evaluate("document.getElementById('window').textContent"))
        # Events of passes that were added in one step are found too: it was switched on a pass later.
        page.evaluate("report.point(600 * 200 + 590), report.nextEvent(false)")
        self.assertAlmostEqual(page.evaluate("report.cursor"), 600 * 201 + 0.01, places=6)

    def test_a_run_that_never_repeats_is_drawn_whole(self):
        steps = "".join("  ramp logic to %d mV over 301 ms\n  ramp logic to 1 V over 297 ms\n" % (3000 + i) for i in range(500))
        source = (EXAMPLES / "power-up.ramp").read_text(encoding="utf-8")
        self.write("long.ramp", source.replace('  mark "nominal"\n', '  mark "nominal"\n' + steps, 1))
        path = self.report("long.ramp", code=1)
        self.assertLess(path.stat().st_size, 1_000_000)
        page = self.open(path)
        self.assertEqual(page.complaints(), [])
        page.evaluate("report.from = 100, report.to = 110, report.draw(), report.point(105)")
        self.assertRegex(page.evaluate("document.getElementById('window').textContent"), "lowest to highest, recorded in steps of")
        low, high = re.search(r"terminals (.*?) to (.*?) ·", page.evaluate("report.rails[0].readout.textContent")).groups()
        # Between 1 V and what the ramp at that time comes to.
        self.assertGreaterEqual(number(low), 0.9)
        self.assertLess(number(high), 3.3)
        rows = page.evaluate("report.plots[0].chart.rawData_.map(row => row[3])")
        self.assertLess(min(rows), 1.2)
        self.assertGreater(max(rows), 2.9)

    def test_without_scripts_the_tables_say_it(self):
        page = self.open(self.report("power-up.ramp"), script=False)
        text = page.evaluate("document.body.innerText")
        self.assertIn("A script draws the charts", text)
        for words in ("1.5 V of 13.5 V left", "logic outlives radio", "Waveforms of logic as a table"):
            self.assertIn(words, text)

    def test_corners_are_told_as_simulate_tells_them(self):
        document = json.loads(self.run_it("simulate", "power-up.ramp", "--corners", "--format", "json").stdout)
        least = next(one["least"] for one in document["corners"]["readings"]
                     if (one["what"], one["rail"]) == ("overvoltage", "radio"))
        page = self.open(self.report("power-up.ramp", "--corners"), script=False)
        row = page.evaluate("[...document.querySelectorAll('#corners tr')].map(one => one.innerText)"
                            ".findLast(words => words.startsWith('overvoltage protection of radio'))").split("\t")
        # Four digits, rounded towards less.
        self.assertLessEqual(number(row[2]), least["value"])
        self.assertAlmostEqual(number(row[2]), least["value"], delta=1e-3 * least["value"])
        for name in least["corner"]:
            self.assertIn(name, row[3])
        verdict = page.evaluate("document.querySelector('#verdict').innerText")
        self.assertIn("PASS in all %d corners" % document["corners"]["corners"], verdict)
        varied = page.evaluate("document.querySelector('#corners table').innerText")
        for one in document["corners"]["tolerances"]:
            self.assertIn(one["name"], varied)

    def test_names_for_those_who_do_not_see(self):
        page = self.open(self.report("power-up.ramp"))
        self.assertEqual(page.evaluate("document.documentElement.lang"), "en")
        self.assertEqual(page.evaluate("[...document.querySelectorAll('.rail')].filter(one => !one.querySelector('table caption')).length"), 0)
        unnamed = "[...document.querySelectorAll('button, [role=group]')].filter(one => !(one.textContent + (one.ariaLabel || '')).trim())"
        self.assertEqual(page.evaluate(unnamed + ".length"), 0)
        ids = page.evaluate("[...document.querySelectorAll('[id]')].map(one => one.id)")
        self.assertEqual(len(ids), len(set(ids)))
        broken = page.evaluate("[...document.querySelectorAll('a[href^=\"#\"]')].filter(one => !document.getElementById(one.hash.slice(1))).length")
        self.assertEqual(broken, 0)

    # WCAG 2.2, 2.5.3: the name of a control contains the words that are seen on it.
    def test_names_contain_what_is_seen(self):
        page = self.open(self.report("power-up.ramp"))
        pairs = page.evaluate("""[...document.querySelectorAll('a[aria-label], button[aria-label]')]
          .map(one => [one.textContent.trim(), one.getAttribute('aria-label')])""")
        words = [(seen, name) for seen, name in pairs if re.fullmatch(r"[A-Za-z ]+", seen)]
        self.assertTrue(words)
        for seen, name in words:
            self.assertRegex(name.lower(), r"\b%s\b" % seen.lower())

    def test_the_same_input_gives_the_same_bytes(self):
        self.assertEqual(self.report("power-up.ramp").read_bytes(), self.report("power-up.ramp").read_bytes())

    def test_where_a_report_cannot_be_written(self):
        done = self.run_it("report", "power-up.ramp", "-o", "power-up.ramp")
        self.assertEqual((done.returncode, b"would replace" in done.stderr), (2, True))
        self.write("broken.ramp", "profile 3\n")
        done = self.run_it("report", "broken.ramp", "-o", "broken.html")
        self.assertEqual((done.returncode, (self.folder / "broken.html").exists()), (1, False))


if __name__ == "__main__":
    unittest.main()
