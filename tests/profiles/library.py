"""The profiles of the library, and what the program says of them."""
import decimal
import json
import pathlib
import subprocess

ROOT = pathlib.Path(__file__).resolve().parents[2] / "profiles"
BENCH = ROOT / "pair.bench.yaml"
FOLDERS = ("patterns", "standards")


def profiles():
    """Names such as `patterns/dips.ramp`, sorted."""
    return sorted(str(path.relative_to(ROOT)) for folder in FOLDERS for path in (ROOT / folder).glob("*.ramp"))


class Program:
    """The program, run beside the profile that it is given."""

    def __init__(self, path):
        self.path = str(pathlib.Path(path).resolve())

    def run(self, command, name, *arguments):
        path = ROOT / name
        return subprocess.run([self.path, command, path.name, *arguments], cwd=path.parent, stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=120)

    def simulation(self, name, *arguments):
        """The answer of `simulate`. A profile without a load is a refusal, and has its findings alone."""
        return json.loads(self.run("simulate", name, "--format", "json", *arguments).stdout)

    def table(self, name, *arguments, number=decimal.Decimal):
        """The setpoint table, its numbers as exact decimals."""
        done = self.run("build", name, "--as", "json", "-o", "-", *arguments)
        if done.returncode != 0:
            raise AssertionError("%s builds no table: %s" % (name, done.stderr))
        return json.loads(done.stdout, parse_float=number, parse_int=number)

    def formatted(self, text):
        return subprocess.run([self.path, "format", "-"], input=text, stdout=subprocess.PIPE, text=True, timeout=120).stdout

    def limits(self, text, bench):
        """What is found in the text of a pattern on a bench."""
        done = subprocess.run([self.path, "check", "-", "--bench", str(bench), "--format", "json"], cwd=ROOT / "patterns",
                              input=text, stdout=subprocess.PIPE, text=True, timeout=120)
        return json.loads(done.stdout)["profiles"][0]["findings"]

    def audit(self, table):
        return subprocess.run([self.path, "audit", table, "--bench", str(BENCH)], stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=120)


def findings(answer):
    """What was found as sorted names, each once, without notes."""
    return sorted({finding["name"] for finding in answer["findings"] if finding["severity"] != "note"})
