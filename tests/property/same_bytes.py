#!/usr/bin/env python3
"""What programs built in different ways write of every profile: the same bytes. usage: same_bytes.py PROGRAM OTHER...

The profiles of the library and of the goldens, each with the bench and load that it names or that its golden does. Not one of
the tests: the other programs are built first, as docs/robustness.md says.
"""
import hashlib
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
COMMANDS = {
    "check": ("check", "--format", "json"),
    "simulate": ("simulate", "--format", "json"),
    "corners": ("check", "--corners", "--format", "json"),
    "csv": ("build", "--as", "csv", "-o", "-"),
    "json": ("build", "--as", "json", "-o", "-"),
    "list": ("build", "--as", "list", "-o", "-"),
    "spice": ("build", "--as", "spice", "-o", "-"),
    "vcd": ("build", "--as", "vcd", "-o", "-"),
    "report": ("report", "-o", "-"),
}
# An answer that takes longer is compared by none.
LONGEST_S = 60


def named(path, text, word, suffix):
    """The options for a file that a golden's first line names."""
    if re.search(r'^%s "' % word, text, re.MULTILINE):
        return []
    key = re.search(r"\b%s: (\S+)" % word, text.split("\n", 1)[0])
    if not key:
        return []
    folder = ROOT / "tests/golden" / ("benches" if word == "bench" else "loads")
    for one in (path.parent / key.group(1), folder / key.group(1), folder / (key.group(1) + suffix)):
        if one.is_file():
            return ["--" + word, str(one)]
    return []


def profiles():
    for folder in ("profiles", "tests/golden", "tests/whole_language"):
        for path in sorted((ROOT / folder).rglob("*.ramp")):
            if "golden/audit" in str(path):
                continue
            text = path.read_text(encoding="utf-8", errors="surrogateescape")
            yield path, named(path, text, "bench", ".bench.yaml") + named(path, text, "load", ".load.yaml")


def answer(program, command, path, options):
    """The digest of what is written, and the exit code; none where it takes too long."""
    with tempfile.TemporaryFile() as output:
        try:
            done = subprocess.run([program, command[0], path.name, *command[1:], *options], cwd=path.parent, stdout=output,
                                  stderr=subprocess.PIPE, timeout=LONGEST_S)
        except subprocess.TimeoutExpired:
            return None
        output.seek(0)
        digest = hashlib.sha256()
        for piece in iter(lambda: output.read(1 << 20), b""):
            digest.update(piece)
        return digest.hexdigest(), done.returncode, done.stderr


def main(programs):
    programs = [str(pathlib.Path(program).resolve()) for program in programs]
    compared = slow = different = 0
    for path, options in profiles():
        for name, command in COMMANDS.items():
            answers = [answer(program, command, path, options) for program in programs]
            if None in answers:
                slow += 1
                continue
            compared += 1
            for program, other in zip(programs[1:], answers[1:]):
                if other != answers[0]:
                    different += 1
                    print("%s: %s differs in %s" % (path.relative_to(ROOT), name, program))
    print("%d answers compared, %d different, %d too slow" % (compared, different, slow))
    return 1 if different or not compared else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
