"""The tables of profiles/standards against what the standards print. usage: PROGRAM

This holds the compiler against something outside of the project: printed_values.json has the printed values with their sources,
printed_rows.py makes rows of them. Where a value is from memory, only order, count and total time are compared.
"""
import decimal
import itertools
import json
import pathlib
import sys
import unittest

import library
import printed_rows

PROGRAM = library.Program(sys.argv.pop(1))
HERE = pathlib.Path(__file__).resolve().parent
PRINTED = json.loads((HERE / "printed_values.json").read_text(encoding="utf-8"), parse_float=decimal.Decimal, parse_int=decimal.Decimal)
WINDOWED = ("T1_ms", "T2_ms", "T3_ms", "T5_ms", "T6_ms")


def rail_rows(table, segment, rail):
    """(seconds, volts, output on, limit) of a rail: in series voltages add, in parallel currents do."""
    rail = next(item for item in table["setup"]["rails"] if item["rail"] == rail)
    parallel = rail["arrangement"] == "parallel"
    rows, state = [], {}
    for row in segment["rows"]:
        if row["channel"] not in rail["channels"]:
            continue
        state[row["channel"]] = row
        if len(state) == len(rail["channels"]):
            volts, amperes = ([item[key] for item in state.values()] for key in ("voltage_V", "current_A"))
            if rows and rows[-1][0] == row["time_s"]:
                rows.pop()
            rows.append((row["time_s"], volts[0] if parallel else sum(volts), row["output"], sum(amperes) if parallel else amperes[0]))
    return rows


def last_at(table, rail, rows, volts):
    """The last instant at which a rail is at a level: a supply that holds stays there until its next row."""
    at = max(index for index, row in enumerate(rows) if row[1] == volts)
    channel = next(item for item in table["setup"]["channels"] if item["rail"] == rail)
    return rows[at + 1][0] if channel["interpolation"] == "hold" else rows[at][0]


def run_of(table):
    return [segment for segment in table["segments"] if segment["segment"] != "safe"]


def shapes_of(kinds):
    return {name: entry for name, entry in PRINTED.items() if entry["shape"] in kinds}


def levels_in_turn(rows):
    return [volts for volts, _ in itertools.groupby(row[1] for row in rows)]


class Standards(unittest.TestCase):
    maxDiff = None

    def table(self, name, *arguments):
        return PROGRAM.table("standards/%s.ramp" % name, *arguments)

    def test_every_profile_has_its_values(self):
        profiles = {pathlib.Path(name).stem for name in library.profiles() if name.startswith("standards/")}
        self.assertEqual(profiles, set(PRINTED))

    def test_the_basis_stands_in_the_first_lines(self):
        for name, entry in PRINTED.items():
            with self.subTest(name=name):
                head = (library.ROOT / "standards" / (name + ".ramp")).read_text(encoding="utf-8").split("\n\n")[0]
                expected = {"read": "Values: read in the ", "read-2": "Values: read in ", "from memory": "FROM MEMORY"}
                self.assertIn(expected[entry["basis"]], head)
                if entry["basis"] == "from memory":
                    self.assertIn("FROM MEMORY", head.split("\n")[0])
                else:
                    self.assertNotIn("FROM MEMORY", head)
                self.assertTrue(entry["sources"])

    def test_rows(self):
        entries = shapes_of(printed_rows.SHAPES)
        compared = 0
        for name, entry in entries.items():
            values = dict(entry["printed"], **entry["ours"])
            cases = [((), values)] + [(("--set", case["arguments"]), dict(values, **case["printed"])) for case in entry.get("set", [])]
            for arguments, printed in cases:
                with self.subTest(name=name, arguments=arguments):
                    self.assertNotEqual(entry["basis"], "from memory")
                    table = self.table(name, *arguments)
                    segment, = run_of(table)
                    got = [row[:3] for row in rail_rows(table, segment, "input")]
                    self.assertEqual(got, printed_rows.rows(entry["shape"], printed, entry.get("straight_s")))
                    compared += 1
        self.assertGreaterEqual(compared, 12)

    def test_no_edge_is_too_steep(self):
        compared = 0
        for name, entry in PRINTED.items():
            steepest = entry.get("printed", {}).get("steepest_V_per_us")
            if steepest is not None:
                table = self.table(name)
                rows = rail_rows(table, run_of(table)[0], "input")
                for before, after in zip(rows, rows[1:]):
                    self.assertLessEqual((after[1] - before[1]) / (after[0] - before[0]) / 1000000, steepest)
                    compared += 1
        self.assertGreater(compared, 0)

    def test_soak_after_wait(self):
        for name, entry in shapes_of(["soak_after_wait"]).items():
            values = dict(entry["printed"], **entry["ours"])
            table = self.table(name)
            first, second = run_of(table)
            # Whatever came before, the wait is no longer than printed, and the soak is counted from its end.
            self.assertEqual(first["then"]["within_s"], values["wait_h"] * 3600)
            rows = [row[:3] for row in rail_rows(table, second, "input")]
            end = values["soak_h"] * 3600
            self.assertEqual(rows, [(0, values["level_V"], True), (end, 0, True), (end + 1, 0, False)])

    def test_gates(self):
        for name, entry in shapes_of(["gates"]).items():
            values = dict(entry["printed"], **entry["ours"])
            table = self.table(name)
            lives, opens = [], []
            for segment in run_of(table):
                rows = rail_rows(table, segment, "link")
                started = [at for at, (time, volts, _, _) in enumerate(rows) if volts == values["level_V"] and time > 0]
                if not started:
                    continue
                time, _, on, limit = rows[started[0]]
                self.assertTrue(on)
                if segment["then"] and segment["then"]["await"] == "condition":
                    opens.append([limit / values["rated_A"], segment["then"]["within_s"]])
                else:
                    lives.append([limit / values["rated_A"], rows[started[0] + 1][0] - time])
            self.assertEqual(lives, values["lives"])
            self.assertEqual(opens, values["opens"])

    def test_start_and_stop(self):
        windows = 0
        for name, entry in shapes_of(["start_and_stop"]).items():
            table = self.table(name)
            _, segment = run_of(table)  # the second begins with the call for power
            good = [(row["time_s"], row["output"]) for row in segment["rows"]
                    if row["channel"] == next(line["line"] for line in table["setup"]["lines"] if line["name"] == "power_good")]
            raised = next(time for time, level in good if level)
            lowered = next(time for time, level in good if not level and time > raised)
            for rail, volts in entry["ours"]["rails_V"].items():
                rows = rail_rows(table, segment, rail)
                valid = min(row[0] for row in rows if row[1] == volts)
                rises = last_at(table, rail, [row for row in rows if row[0] <= valid], 0)
                falls = last_at(table, rail, rows, volts)
                got = {"T1_ms": valid, "T2_ms": valid - rises, "T3_ms": raised - valid,
                       "T5_ms": lowered - raised - entry["ours"]["runs_s"], "T6_ms": falls - lowered}
                for which in WINDOWED:
                    if which in entry["printed"]:
                        low, high = entry["printed"][which]
                        with self.subTest(name=name, rail=rail, which=which):
                            self.assertGreaterEqual(1000 * got[which], low)
                            if high is not None:
                                self.assertLessEqual(1000 * got[which], high)
                            windows += 1
        self.assertEqual(windows, 5 + 1 + 3 * 5)

    def test_reset_line(self):
        for name, entry in shapes_of(["reset_line"]).items():
            table = self.table(name)
            segment, = run_of(table)
            line = table["setup"]["lines"][0]["line"]
            levels = [(row["time_s"], row["output"]) for row in segment["rows"] if row["channel"] == line]
            valid = max(min(time for time, level, _, _ in rail_rows(table, segment, rail) if level == volts)
                        for rail, volts in entry["ours"]["rails_V"].items())
            released = [time for time, level in levels if level]
            self.assertGreaterEqual(1000 * (released[0] - valid), entry["printed"]["released_after_ms"])
            self.assertFalse(levels[0][1], "held in reset from the start")
            low = next(time for time, level in levels if not level and time > released[0])
            self.assertGreaterEqual(1000 * (released[1] - low), entry["printed"]["low_for_ms"])

    def test_order_and_time_of_what_is_from_memory(self):
        entries = shapes_of(["order"])
        self.assertGreaterEqual(len(entries), 12)
        for name, entry in entries.items():
            with self.subTest(name=name):
                self.assertEqual(entry["basis"], "from memory")
                table = self.table(name)
                segment, = run_of(table)
                rows = rail_rows(table, segment, "input")
                self.assertEqual(levels_in_turn(rows), [0] + printed_rows.in_order(entry["levels_V"]) + [0])
                self.assertEqual(rows[-1][0], entry["total_s"])


if __name__ == "__main__":
    unittest.main()
