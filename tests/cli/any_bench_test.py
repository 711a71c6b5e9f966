"""The same profile on every bench of profiles/any-bench: it holds, and its table passes the audit. usage: PROGRAM"""
import json
import pathlib
import subprocess
import sys
import tempfile
import unittest

PROGRAM = str(pathlib.Path(sys.argv.pop(1)).resolve())
FOLDER = pathlib.Path(__file__).resolve().parents[2] / "profiles/any-bench"


def run(*arguments):
    return subprocess.run([PROGRAM, *arguments], cwd=FOLDER, capture_output=True, text=True, timeout=60)


class AnyBench(unittest.TestCase):
    def test_each_bench_plays_the_profile(self):
        benches = sorted(path.name for path in FOLDER.glob("*.bench.yaml"))
        self.assertEqual(benches, ["one-channel.bench.yaml", "three-channel.bench.yaml", "two-channel.bench.yaml", "two-supplies.bench.yaml"])
        channels = set()
        for bench in benches:
            with self.subTest(bench=bench), tempfile.TemporaryDirectory() as folder:
                done = run("simulate", "sounder.ramp", "--bench", bench, "--strict", "--format", "json")
                self.assertEqual(done.returncode, 0, done.stdout)
                answer = json.loads(done.stdout)
                # 48 V into 68 Ohm behind 120 mOhm: the divider, whoever supplies it.
                up = next(item for item in answer["expectations"] if "voltage" in item["text"])
                self.assertAlmostEqual(up["value"], 48 * 68 / 68.12, places=3)
                table = str(pathlib.Path(folder) / "table.csv")
                self.assertEqual(run("build", "sounder.ramp", "--bench", bench, "--as", "csv", "-o", table).returncode, 0)
                audit = run("audit", table, "--bench", bench)
                self.assertEqual(audit.returncode, 0, audit.stderr)
                lines = pathlib.Path(table).read_text(encoding="utf-8").splitlines()
                channels.add(frozenset(line.split(",")[2] for line in lines[1:]))
        self.assertEqual(len(channels), 4, "each bench has channels of its own")


if __name__ == "__main__":
    unittest.main()
