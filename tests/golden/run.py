#!/usr/bin/env python3
"""Runs the golden tests: profiles that hold their own expected output. See README.md beside this file.

usage: run.py --rampart PROGRAM [--update] [WORD...]

Runs every golden whose path holds one of the words (all of them without words). With --update it rewrites the
expectations instead of comparing them.
"""
import argparse
import concurrent.futures
import difflib
import os
import pathlib
import re
import shlex
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent
SHARED = ("benches", "loads")
KEYS = ("mode", "bench", "load", "exit", "args")
MODES = ("check", "build", "simulate", "report", "format", "diff", "audit", "explain", "sweep", "evaluate", "fit-load")
TIMEOUT_S = 900 if os.environ.get("RAMPART_SANITIZE") else 120  # a sanitizer takes its time
# Longer output goes to a file beside the golden.
LONGEST_INLINE = 60


class GoldenError(Exception):
    """A golden that is itself wrong."""


def split_tail(text):
    """The profile and the expectations after it."""
    found = re.search(r"^#--- ", text, re.MULTILINE)
    return (text[: found.start()], text[found.start() :]) if found else (text, "")


def parse_keys(text):
    first = text.split("\n", 1)[0].rstrip("\r")
    if not re.match(r"# (%s):" % "|".join(KEYS), first):
        raise GoldenError("the first line must hold the keys, such as `# mode: check   bench: one-supply`")
    parts = re.split(r"(?:^#|\s)\s*(%s):" % "|".join(KEYS), first)
    keys = {"mode": "check", "bench": "", "load": "", "exit": "0", "args": ""}
    for key, value in zip(parts[1::2], parts[2::2]):
        keys[key] = value.strip()
    for mode in keys["mode"].split("+"):
        if mode not in MODES:
            raise GoldenError("there is no mode `%s`" % mode)
    return keys


def parse_blocks(tail):
    """Expected text by name: stderr, stdout, or the name of a file that the run writes."""
    blocks, name = {}, None
    for line in tail.replace("\r\n", "\n").splitlines():
        if line.startswith("#--- "):
            name = line[5:].strip()
            blocks[name] = ""
        elif line == "#":
            blocks[name] += "\n"
        elif line.startswith("# "):
            blocks[name] += line[2:] + "\n"
        elif line:
            raise GoldenError("after `#---` every line starts with `# `: %s" % line)
    return blocks


def render_blocks(blocks, newline):
    lines = []
    for name, content in blocks.items():
        lines.append("#--- " + name)
        lines += ["# " + line if line else "#" for line in content.splitlines()]
    return "".join(line + newline for line in lines)


class Golden:
    """One golden file: what to run and what to expect."""

    def __init__(self, path):
        self.path = path
        # A text that cannot hold comments (empty, binary) has them in a file of its own.
        self.aside = path.with_name(path.name + ".expect")
        self.bytes = path.read_bytes()
        if self.aside.exists():
            head, tail = split_tail(self.aside.read_text(encoding="utf-8"))
            self.profile = self.bytes
        else:
            head, tail = split_tail(self.bytes.decode("utf-8"))
            self.profile = head.encode("utf-8")
        self.head, self.keys = head, parse_keys(head)
        self.blocks = parse_blocks(tail)
        for name in list(self.blocks) + ["stdout", "stderr"]:
            if self.sibling(name).exists():
                self.blocks[name] = self.sibling(name).read_text(encoding="utf-8")
        if ("bad_" in path.name) != (self.keys["exit"] != "0"):
            raise GoldenError("`bad_` stands in the name if and only if the exit code is not 0")

    def sibling(self, name):
        return self.path.with_name(self.path.stem + "." + name)

    def shared_file(self, key, kind):
        name = self.keys[key]
        local = self.path.with_name("%s.%s.yaml" % (name, kind))
        shared = ROOT / (SHARED[0] if kind == "bench" else SHARED[1]) / local.name
        for found in (local, shared):
            if found.exists():
                return os.path.relpath(found, self.path.parent)
        raise GoldenError("there is no %s `%s` beside it or in %s" % (kind, name, shared.parent.name))

    def command(self, program, mode):
        keys = self.keys
        arguments = [program, mode, self.path.name]
        for key in ("bench", "load"):
            if keys[key]:
                arguments += ["--" + key, self.shared_file(key, key)]
        extra = shlex.split(keys["args"])
        if mode == "build" and "-o" not in extra:
            extra += ["-o", "-"]
        if mode == "build" and "--as" not in extra:
            extra += ["--as", "csv"]
        return arguments + extra

    def run(self, program):
        """Runs it in a copy of its folder that shows neither this machine's paths nor the expectations."""
        with tempfile.TemporaryDirectory() as folder:
            area = pathlib.Path(folder) / self.path.parent.relative_to(ROOT)
            area.mkdir(parents=True)
            for name in SHARED:
                if (ROOT / name).exists():
                    (pathlib.Path(folder) / name).symlink_to(ROOT / name)
            for neighbour in self.path.parent.iterdir():
                if neighbour != self.path:
                    (area / neighbour.name).symlink_to(neighbour)
            (area / self.path.name).write_bytes(self.profile)
            code, got = 0, {"stderr": "", "stdout": ""}
            for mode in self.keys["mode"].split("+"):
                done = subprocess.run(self.command(program, mode), cwd=area, stdin=subprocess.DEVNULL,
                                      capture_output=True, timeout=TIMEOUT_S, env=dict(os.environ, LC_ALL="C"))
                code = max(code, done.returncode)
                got["stderr"] += done.stderr.decode("utf-8")
                got["stdout"] += done.stdout.decode("utf-8")
            for name in self.blocks:
                if name not in got:
                    written = area / name
                    got[name] = written.read_text(encoding="utf-8") if written.exists() else ""
            for name, text in got.items():
                if folder in text:
                    raise GoldenError("%s shows a path of this machine" % name)
                if text and not text.endswith("\n"):
                    raise GoldenError("%s does not end with a line end" % name)
            return code, got

    def compare(self, program):
        code, got = self.run(program)
        problems = []
        if code != int(self.keys["exit"]):
            problems.append("exit code %d, expected %s" % (code, self.keys["exit"]))
        for name, text in got.items():
            expected = self.blocks.get(name, "")
            if text != expected:
                problems += difflib.unified_diff(expected.splitlines(), text.splitlines(), "expected " + name,
                                                 "got " + name, lineterm="")
        return problems

    def update(self, program):
        code, got = self.run(program)
        if code != int(self.keys["exit"]):
            raise GoldenError("exit code %d, expected %s: not rewritten" % (code, self.keys["exit"]))
        inline = {}
        for name, text in got.items():
            if self.sibling(name).exists() or text.count("\n") > LONGEST_INLINE:
                self.sibling(name).write_text(text, encoding="utf-8")
            elif text:
                inline[name] = text
        newline = "\r\n" if "\r\n" in self.head else "\n"
        target = self.aside if self.aside.exists() else self.path
        target.write_bytes((self.head + render_blocks(inline, newline)).encode("utf-8"))


def one(path, program, update):
    try:
        golden = Golden(path)
        if update:
            golden.update(program)
            return []
        return golden.compare(program)
    except (GoldenError, UnicodeDecodeError) as error:
        return [str(error)]
    except subprocess.TimeoutExpired:
        return ["still running after %d s" % TIMEOUT_S]


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rampart", required=True)
    parser.add_argument("--update", action="store_true")
    parser.add_argument("words", nargs="*")
    options = parser.parse_args()
    program = str(pathlib.Path(options.rampart).resolve())

    paths = [path for path in sorted(ROOT.glob("*/*.ramp"))
             if "import_" not in path.name and path.parent.name not in SHARED]
    if options.words:
        paths = [path for path in paths if any(word in str(path.relative_to(ROOT)) for word in options.words)]
    failed = 0
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        for path, problems in zip(paths, pool.map(lambda p: one(p, program, options.update), paths)):
            if problems:
                failed += 1
                print("%s:" % path.relative_to(ROOT))
                print("".join("  %s\n" % line for line in problems))
    done = len(paths) - failed
    print("goldens: %d %s, %d failed" % (done, "rewritten" if options.update else "as expected", failed))
    if not paths:
        print("no golden matches")
        return 1
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
