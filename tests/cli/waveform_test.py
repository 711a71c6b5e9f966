"""Waveforms against scripts that know nothing of Rampart: the same course written as ramps gives the same bytes, and the rows
are those that docs/language.md ("Time on the supply") describes. usage: PROGRAM

The points are interpolated here with exact fractions; stairs, counts and rounding follow the sentences of that page.
"""
import csv
import fractions
import hashlib
import io
import json
import random

import program

F = fractions.Fraction
MS = F(1, 1000)
BENCH = """bench: Waveforms
supplies:
  steps:
    timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: hold}
    table: {points: 100000}
    channels:
      ch1:
        voltage: {range: 0 V .. 20 V, resolution: 10 mV}
        current: {range: 0 A .. 2 A, resolution: 1 mA}
      ch2: {like: ch1}
  lines:
    timing: {minimum_step: 5 ms, resolution: 1 ms, interpolation: linear}
    table: {points: 100000}
    channels:
      ch1:
        voltage: {range: 0 V .. 20 V, resolution: 5 mV}
        current: {range: 0 A .. 2 A, resolution: 1 mA}
outputs:
  held: steps.ch1
  second: steps.ch2
  stacked: {series: [steps.ch1, steps.ch2]}
  straight: lines.ch1
"""
FORMATS = ("csv", "spice", "vcd")


def decimal_text(value):
    """A fraction of whole microunits, as the language writes numbers."""
    sign = "-" if value < 0 else ""
    micro = abs(value) * 10**6
    assert micro.denominator == 1
    whole, part = divmod(micro.numerator, 10**6)
    return "%s%d.%06d" % (sign, whole, part)


def volts(value):
    return decimal_text(value) + " V"


def seconds(value):
    return decimal_text(value) + " s"


def shape_of(dice, count, spacing, steps, sign=1):
    """Points of a random course from 0 V; `spacing` is the shortest time between two."""
    points, time, level = [(F(0), F(0))], F(0), F(0)
    while len(points) < count:
        if not steps or dice.random() < 0.8 or points[-1][0] == (points[-2][0] if len(points) > 1 else None):
            time += spacing + dice.randrange(0, 300) * MS
        if dice.random() < 0.8:
            level = sign * F(dice.randrange(0, 12000), 1000)
        if (time, level) != points[-1]:
            points.append((time, level))
    return points


def waveform_text(points):
    return "waveform core from [" + ", ".join("[%s, %s]" % (seconds(t), volts(v)) for t, v in points) + "]"


def ramps_text(points):
    lines = []
    for (before, _), (time, level) in zip(points, points[1:]):
        lines.append("step core to %s" % volts(level) if time == before else
                     "ramp core to %s over %s" % (volts(level), seconds(time - before)))
    return "{ " + "; ".join(lines) + " }"


def profile_text(output, inside, rails=""):
    return 'bench "b.bench.yaml"\nrail core on %s\n%srun {\n  limit core to 1 A\n  on core\n  dwell 100 ms\n  %s\n  dwell 100 ms\n  off core\n}\n' % (
        output, rails, inside)


def rounded(value):
    """To the nearest whole number, halves away from zero."""
    whole = (abs(value) + F(1, 2)).__floor__()
    return whole if value >= 0 else -whole


def level_at(points, time):
    """The course at a time, by straight lines; of two points at one time the later one."""
    at = points[0][1]
    for (t0, v0), (t1, v1) in zip(points, points[1:]):
        if t0 <= time < t1:
            return v0 + (v1 - v0) * (time - t0) / (t1 - t0)
        if time >= t1:
            at = v1
    return at


def stairs(points, count_V, minimum_s, grid_s, start_s):
    """(grid steps, counts) of each row of a supply that holds: a piece of length T has min(floor(T / minimum step), change
    in counts) parts; part k begins at k T / n and holds the value there; the end value comes at T."""
    rows = {}
    for (t0, v0), (t1, v1) in zip(points, points[1:]):
        parts = min((t1 - t0) // minimum_s, abs(rounded(v1 / count_V) - rounded(v0 / count_V))) if t1 > t0 else 0
        for k in range(parts):
            time = t0 + (t1 - t0) * k / parts
            rows[rounded((start_s + time) / grid_s)] = rounded(level_at(points, time) / count_V)
        rows[rounded((start_s + t1) / grid_s)] = rounded(v1 / count_V)
    return rows


class Waveforms(program.InFolder):
    def setUp(self):
        super().setUp()
        self.write("b.bench.yaml", BENCH)

    def table(self, text, form="csv"):
        self.write("w.ramp", text)
        done = self.run_it("build", "w.ramp", "--as", form, "-o", "-")
        self.assertEqual(done.returncode, 0, done.stderr.decode() + text)
        return done.stdout.decode()

    def finding_of(self, text):
        """Name, file and line of the only error."""
        self.write("w.ramp", text)
        done = self.run_it("check", "w.ramp", "--format", "json")
        self.assertIn(done.returncode, (1, 2), done.stderr)
        errors = [one for one in json.loads(done.stdout)["profiles"][0]["findings"] if one["severity"] == "error"]
        self.assertEqual(len(errors), 1, errors)
        return errors[0]["name"], errors[0]["file"], errors[0]["line"]

    def same(self, one, two, **frame):
        for form in FORMATS:
            self.assertEqual(self.table(profile_text(inside=one, **frame), form),
                             self.table(profile_text(inside=two, **frame), form), one)

    def test_same_bytes_as_ramps(self):
        dice = random.Random(5)
        for case in range(12):
            output = dice.choice(["held", "stacked", "straight"])
            spacing = 20 * MS
            points = shape_of(dice, dice.randrange(2, 12), spacing, steps=output != "straight")
            with self.subTest(case=case, output=output):
                self.same(waveform_text(points), ramps_text(points), output=output)

    def test_same_bytes_in_every_place(self):
        dice = random.Random(6)
        points = shape_of(dice, 6, 20 * MS, steps=True) + [(F(2), F(0))]
        points.sort(key=lambda point: point[0])
        wave, ramps = waveform_text(points), ramps_text(points)
        for place in ("repeat 3 { %s; dwell 10 ms }", "together { %s; dwell 3 s }", "{ %s }",
                      "for k in [1, 2] { %s; dwell 20 ms }"):
            with self.subTest(place=place):
                self.same(place % wave, place % ramps, output="held")
        second = "rail io on second\n"
        self.same("limit io to 1 A; on io; dwell 20 ms; track io with core { %s }; off io" % wave,
                  "limit io to 1 A; on io; dwell 20 ms; track io with core { %s }; off io" % ramps, output="held", rails=second)
        negative = [(time, -level) for time, level in points]
        self.same(waveform_text(negative), ramps_text(negative), output="held reversed")
        self.same(wave + " scaled by 50 %", ramps_text([(time, level / 2) for time, level in points]), output="held")

    def test_rows_are_those_of_the_page(self):
        dice = random.Random(7)
        start = F(1, 10)
        compared = 0
        for case in range(20):
            points = shape_of(dice, dice.randrange(2, 10), 20 * MS, steps=True)
            with self.subTest(case=case):
                got = list(csv.DictReader(io.StringIO(self.table(profile_text("held", waveform_text(points))))))
                count, grid = F(1, 100), MS
                expected = stairs(points, count, 10 * MS, grid, start)
                level, rows = 0, []
                for time in sorted(expected):
                    if expected[time] != level:
                        rows.append((time, expected[time]))
                        level = expected[time]
                moved, level = [], 0
                for row in got:
                    counts = F(row["voltage_V"]) / count
                    if counts != level:
                        moved.append((F(row["time_s"]) / grid, counts))
                        level = counts
                self.assertEqual(moved, rows)
                compared += len(rows)
        self.assertGreater(compared, 500)

    def test_points_of_a_supply_that_interpolates(self):
        points = [(F(0), F(0)), (F("0.015"), F(6)), (F("0.1"), F(6)), (F("0.35"), F("1.5"))]
        rows = list(csv.DictReader(io.StringIO(self.table(profile_text("straight", waveform_text(points))))))
        got = [(F(row["time_s"]) - F(1, 10), F(row["voltage_V"])) for row in rows if F(row["time_s"]) >= F(1, 10)][:4]
        self.assertEqual(got, points)

    def test_a_file_is_the_same_as_its_points(self):
        points = [(F(0), F(0)), (F("0.0155"), F(6)), (F("0.0155"), F("2.5")), (F("0.2"), F("7.25"))]
        wave = self.table(profile_text("held", waveform_text(points)))
        texts = ["time_s,voltage_V\n0,0\n0.0155,6\n0.0155,2.5\n0.2,7.25\n",
                 "# of a meter\r\ntime_ms,voltage_mV\r\n0,0\r\n\r\n15.5,6e3\r\n15.5, +2.5E+3\r\n 2e2,7250.000\r\n",
                 "time_us,voltage_kV\n0,-0\n15500,0.006\n1.55e+4,2.5e-3\n200000,0.00725"]
        for text in texts:
            (self.folder / "shapes").mkdir(exist_ok=True)
            self.write("shapes/s.csv", text)
            self.assertEqual(self.table(profile_text("held", 'waveform core from "shapes/s.csv"')), wave)
        document = json.loads(self.table(profile_text("held", 'waveform core from "shapes/s.csv"'), "json"))
        self.assertEqual(document["origin"]["waveforms"],
                         [{"name": "shapes/s.csv", "sha256": hashlib.sha256(texts[-1].encode()).hexdigest()}])

    def test_a_path_counts_from_the_file_that_names_it(self):
        (self.folder / "part").mkdir()
        self.write("part/s.csv", "time_s,voltage_V\n0,0\n1,2\n")
        self.write("part/p.ramp", 'sequence rise(where) { waveform where from "s.csv" }\n')
        text = profile_text("held", "do rise(core)", rails='import "part/p.ramp"\n')
        self.assertEqual(self.table(text), self.table(profile_text("held", "ramp core to 2 V over 1 s")))

    def test_bad_files_are_told_with_their_line(self):
        head = "time_s,voltage_V\n"
        for text, name, line in (
                ("", "bad-waveform", 1), ("\n\n", "bad-waveform", 1), (head, "bad-waveform", 1), (head + "0,0\n", "bad-waveform", 1),
                ("0,0\n1,1\n", "bad-waveform", 1), ("voltage_V,time_s\n0,0\n1,1\n", "bad-waveform", 1),
                ("time_s,voltage_A\n0,0\n1,1\n", "bad-waveform", 1), ("time_s;voltage_V\n0;0\n", "bad-waveform", 1),
                (head + "1,0\n2,1\n", "bad-waveform", 2), (head + "0,0\n2,1\n1,1\n", "bad-waveform", 4),
                (head + "0,0\n1,1\n1,2\n1,3\n", "bad-waveform", 5), (head + "0,0\n1,1,1\n", "bad-waveform", 3),
                (head + "0,0\n1\n", "bad-waveform", 3), (head + "0,0\n1,x\n", "bad-waveform", 3), (head + "0,0\n1,\n", "bad-waveform", 3),
                (head + "0,0\n1,1 V\n", "bad-waveform", 3), (head + "0,0\n1,0x10\n", "bad-waveform", 3),
                (head + "0,0\n1,nan\n", "bad-waveform", 3), (head + "0,0\n1,--1\n", "bad-waveform", 3),
                (head + "0,0\n1,1e\n", "bad-waveform", 3), (head + "0,0\n1,1e1e1\n", "bad-waveform", 3),
                (head + "0,0\n1," + "9" * 60 + "\n", "number-too-large", 3), (head + "0,0\n1,1e999999999999\n", "number-too-large", 3),
                (head + "0,0\n1e20,1\n", "number-too-large", 3), (head + "0,0\n1,\x00\n", "syntax", 3),
                (head + "0,0\n" + "".join("%d,1\n" % second for second in range(1, 100001)), "too-large", 100002),
                (head + "#" + "x" * (9 << 20) + "\n0,0\n1,1\n", "too-large", 1)):
            with self.subTest(text=text[:60]):
                self.write("s.csv", text)
                self.assertEqual(self.finding_of(profile_text("held", 'waveform core from "s.csv"')), (name, "s.csv", line))
        self.assertEqual(self.finding_of(profile_text("held", 'waveform core from "none.csv"')), ("unreadable", "w.ramp", 7))

    def test_no_file_makes_it_crash(self):
        dice = random.Random(8)
        right = b"time_s,voltage_V\n0,0\n0.1,5\n0.2,3\n0.3,0\n"
        for _ in range(150):
            text = bytearray(right)
            for _ in range(dice.randrange(1, 6)):
                place = dice.randrange(len(text))
                text[place:place + dice.randrange(0, 3)] = bytes(dice.choice(b"0123456789eE+-.,;\n\r\"#\x00\xff\xc3tV_ ")
                                                                for _ in range(dice.randrange(0, 4)))
            (self.folder / "s.csv").write_bytes(bytes(text))
            self.write("w.ramp", profile_text("held", 'waveform core from "s.csv"; ramp core to 0 V over 1 s'))
            done = self.run_it("check", "w.ramp")
            self.assertIn(done.returncode, (0, 1), (text, done.stderr))


if __name__ == "__main__":
    program.main()
