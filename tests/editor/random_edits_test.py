#!/usr/bin/env python3
"""After random edits the server says what a fresh `check` of the same texts says. usage: random_edits_test.py PROGRAM [SEED]

At every hundredth edit. RAMPART_EDITOR_EDITS gives the number of edits; the long form has 100,000.
"""
import collections
import json
import os
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile
import urllib.parse

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import client  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parents[2]
EXAMPLES = ["profiles/first", "profiles/tide-gauge", "tests/whole_language", "profiles/any-bench"]
EVERY = 100
# What people type, and what they do not.
PARTS = ["a", "1", " ", "\n", "{", "}", "(", ")", ",", ";", "#", "\"", ".", " V", " s", " mA", "on ", "off ", "ramp ", "dwell 1 s\n",
         "to ", "over ", "rail ", "let x = 3 V\n", "run {\n", "\u00b5", "\U0001F50B", "-", "..", "=", "  mark \"m\"\n", "}\n"]
SEVERITIES = {"error": 1, "warning": 2, "note": 3}


def edit_once(dice, texts, uri, server):
    version, text = texts[uri]
    begin = dice.randrange(len(text) + 1)
    what = dice.random()
    if what < 0.4:
        server.edit(uri, begin, begin, dice.choice(PARTS))
    elif what < 0.75:
        server.edit(uri, begin, min(len(text), begin + dice.choice((1, 1, 1, 2, 5, 20))), "")
    elif what < 0.9:
        server.edit(uri, begin, min(len(text), begin + dice.choice((1, 3, 8))), dice.choice(PARTS))
    else:
        end = min(len(text), begin + dice.randrange(60))
        at = dice.randrange(len(text) + 1)
        server.edit(uri, at, at, text[begin:end])


def of_the_server(server):
    """Findings by file, in the words of `check`."""
    found = collections.Counter()
    for uri, findings in server.findings.items():
        name = urllib.parse.unquote(uri.removeprefix("file://"))
        for one in findings:
            # Lines and columns from 1, in code points.
            text = server.texts[uri][1] if uri in server.texts else pathlib.Path(name).read_text(encoding="utf-8")
            line = one["range"]["start"]["line"]
            before = text.split("\n")[line].encode("utf-16-le")[:2 * one["range"]["start"]["character"]]
            found[(name, line + 1, len(before.decode("utf-16-le")) + 1, one["code"], one["severity"],
                   one["message"].split("\n")[0])] += 1
    return found


def of_check(program, profile):
    done = subprocess.run([program, "check", str(profile), "--format", "json"], capture_output=True, timeout=300)
    document = json.loads(done.stdout)
    found = collections.Counter()
    for one in document["profiles"][0]["findings"]:
        if one.get("accepted"):
            continue
        key = (one["file"], one["line"], one["column"], one["name"], SEVERITIES[one["severity"]], one["message"])
        found[key] = 1
    return found


def run(program, seed, edits):
    dice = random.Random(seed)
    compared = 0
    for example in EXAMPLES:
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name).resolve() / "texts"
            shutil.copytree(ROOT / example, folder)
            if (ROOT / example).parent.name == "profiles":
                for shared in (ROOT / "profiles").glob("*.yaml"):
                    shutil.copy(shared, folder.parent / shared.name)
            compared += play(program, dice, folder, edits // len(EXAMPLES), example)
    print("%d edits, seed %d: compared with a fresh check %d times" % (edits, seed, compared))
    assert compared >= edits // EVERY - len(EXAMPLES)


def play(program, dice, folder, edits, example):
    profile = max(folder.glob("*.ramp"), key=lambda path: path.stat().st_size)
    server = client.Client(program, folder, options={"corners": False})
    # The profile alone is open: what it imports and its bench and load are of the disk.
    uri = server.open(profile)
    original = server.texts[uri][1]
    compared = 0
    for i in range(1, edits + 1):
        if dice.random() < 0.02 or len(server.texts[uri][1]) > 3 * len(original):
            server.change(uri, original)
        edit_once(dice, server.texts, uri, server)
        if i % EVERY == 0:
            server.settle_on(uri)
            profile.write_text(server.texts[uri][1], encoding="utf-8", newline="")
            said, fresh = of_the_server(server), of_check(program, profile)
            if set(said) != set(fresh):
                print("%s, edit %d: the server and a fresh check differ" % (example, i))
                print("  the server alone:", sorted(set(said) - set(fresh))[:5])
                print("  check alone:     ", sorted(set(fresh) - set(said))[:5])
                print(server.texts[uri][1])
                raise SystemExit(1)
            compared += 1
    code = server.end()
    assert code == 0, code
    return compared


if __name__ == "__main__":
    program = str(pathlib.Path(sys.argv[1]).resolve())
    run(program, int(sys.argv[2]) if len(sys.argv) > 2 else 1, int(os.environ.get("RAMPART_EDITOR_EDITS", "2000")))
    wrong = client.TYPES.check() if client.TYPES else ""
    print(wrong, end="")
    sys.exit(1 if wrong else 0)
