#!/usr/bin/env python3
"""Writes what the fuzzers start from. usage: seeds.py PROGRAM FOLDER [TARGET...]

FOLDER/TARGET/ gets texts made of the profiles, goldens and examples of the project, with what was found before
(tests/fuzz/regressions/TARGET), and FOLDER/TARGET.dict the words that the reader knows, from its own lists.
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path.insert(0, str(ROOT / "tests/meta"))
import editor_words  # noqa: E402

CUT = "\n%%%%\n"
TARGETS = ("profile", "bench", "load", "link", "table", "template", "chain", "log", "messages", "part", "play", "answer")
# Longer seeds slow a fuzzer down more than they teach it.
LONGEST = 6000
FOLDERS = ("profiles", "tests/golden", "tests/whole_language", "tests/data")


def files(suffix):
    found = [path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*" + suffix))]
    return [path for path in found if path.stat().st_size < 60000]


def read(path):
    return path.read_text(encoding="utf-8", errors="surrogateescape")


def profile_text(path):
    """Without the expectations of a golden."""
    return re.split(r"^#--- ", read(path), maxsplit=1, flags=re.MULTILINE)[0]


def profiles():
    for path in files(".ramp"):
        if "golden/audit" not in str(path):
            yield path, profile_text(path)


def named(text, word):
    found = re.search(r'^%s "([^"]+)"' % word, text, re.MULTILINE)
    return found.group(1) if found else None


def beside(path, name, suffix):
    """The file that a profile names, or the golden's key does."""
    for place in (path.parent / name, ROOT / "tests/golden" / ("benches" if "bench" in suffix else "loads") / name):
        for one in (place, place.with_name(place.name + suffix)):
            if one.is_file():
                return read(one)
    return ""


def golden_key(text, key):
    found = re.search(r"\b%s: (\S+)" % key, text.split("\n", 1)[0])
    return found.group(1) if found else None


def chains():
    for path, text in profiles():
        bench = named(text, "bench") or golden_key(text, "bench")
        load = named(text, "load") or golden_key(text, "load")
        imported, points = named(text, "import"), re.search(r'from "([^"]+)"', text)
        parts = [re.sub(r'^import "[^"]+"', 'import "i.ramp"', re.sub(r'from "[^"]+"', 'from "w.csv"', text), flags=re.MULTILINE),
                 beside(path, bench, ".bench.yaml") if bench else "", beside(path, load, ".load.yaml") if load else "",
                 beside(path, imported, "") if imported else "", beside(path, points.group(1), "") if points else ""]
        yield CUT.join(parts)


def tables(program):
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        for profile in ("profiles/first/power-up.ramp", "profiles/tide-gauge/power-up.ramp", "profiles/any-bench/sounder.ramp"):
            bench = beside(ROOT / profile, named(read(ROOT / profile), "bench"), "")
            for form in ("csv", "json"):
                for rows in ("changes", "instants"):
                    table = folder / ("t." + form)
                    done = subprocess.run([program, "build", str(ROOT / profile), "--as", form, "--rows", rows, "-o", str(table)],
                                          capture_output=True, timeout=60)
                    if done.returncode != 0:
                        continue
                    lines = read(table).split("\n")
                    # Both ends: the rows between are all alike.
                    text = "\n".join(lines if len(lines) < 80 else lines[:40] + lines[-40:])
                    record = folder / "t.csv.setup.json"
                    yield CUT.join([text, read(record) if form == "csv" else "", bench])
    for path in files(".ramp"):
        if "golden/audit" in str(path):
            record = path.with_name(path.name + ".setup.json")
            key = golden_key(read(path), "bench") or (golden_key(read(path.with_name(path.name + ".expect")), "bench")
                                                      if path.with_name(path.name + ".expect").exists() else None)
            yield CUT.join([profile_text(path), read(record) if record.exists() else "",
                            beside(path, key, ".bench.yaml") if key else ""])


SAMPLE_LOG = """time_s,kind,channel,rail,segment,measured_V,measured_A,set_V,set_A,output,mode,quality,planned_s,sent_s,acked_s,text
0,command,left.ch1,,1,,,0,1,1,,,0,0,0.001,
0.01,reading,,core,1,0.25,0.02,,,1,CV,,,,,
0.02,reading,left.ch2,,1,9.91E37,0,,,0,CC,ok,,,,
0.1,event,left.ch1,,1,,,,,,,,,,,trip overvoltage
0.2,event,,,1,,,,,,,,,,,end complete
"""
SAMPLE_DESCRIPTION = """log: A logger
format: {separator: semicolon, decimal: comma, skip_lines: 1}
time: {format: iso8601, zone: "+01:00"}
columns:
  "Zeit": {is: time}
  "U1": {is: voltage, rail: core, unit: mV, sign: reversed}
"""


def logs():
    yield SAMPLE_LOG
    yield SAMPLE_LOG + CUT + SAMPLE_DESCRIPTION
    for path in sorted((ROOT / "tests/golden/evaluate").glob("*.csv")):
        description = path.with_suffix(".log.yaml")
        lines = read(path).split("\n")
        text = "\n".join(lines[:60])
        record = path.with_name(path.name + ".run.json")
        parts = [text, read(description) if description.exists() else "", read(record) if record.exists() else ""]
        while not parts[-1]:
            parts.pop()
        yield CUT.join(parts)
    page = read(ROOT / "docs/as-run.md")
    for block in re.findall(r"```yaml\n(.*?)```", page, re.DOTALL):
        yield SAMPLE_LOG + CUT + block


def samples():
    """The texts that targets use where they are given none, by their names."""
    return dict(re.findall(r'const char\* (?:const )?k(\w+) = R"\((.*?)\)"', "".join(read(HERE / name) for name in ("samples.cpp", "play.cpp", "part.cpp")),
                           re.DOTALL))


def in_folder(folder, texts):
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")


def parts(program):
    """Results of a sweep and of corners, and the files that hold them."""
    texts = samples()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        in_folder(folder, {"p.ramp": texts["Varied"], "b.bench.yaml": texts["Bench"], "l.load.yaml": texts["Tolerant"]})
        for command in (["sweep", "p.ramp", "--vary", "level=4.8V..5.2V step 0.1V"], ["simulate", "p.ramp", "--corners"]):
            done = subprocess.run([program, *command, "--part", "1/1"], cwd=folder, capture_output=True, check=True, timeout=60)
            results = list(json.loads(done.stdout)["results"].values())
            yield CUT.join(results[:4])
            yield results[-1]
            yield done.stdout.decode()


def plays(program):
    """Tables with what `run` asks for: of the sample, and of profiles with their links."""
    texts = samples()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        in_folder(folder, {"p.ramp": texts["Profile"], "b.bench.yaml": texts["Bench"], "l.load.yaml": texts["Load"]})
        subprocess.run([program, "build", "p.ramp", "--as", "json", "-o", "t.json"], cwd=folder, capture_output=True, check=True, timeout=60)
        yield read(folder / "t.json")
        profile = ROOT / "profiles/tide-gauge/power-up.ramp"
        subprocess.run([program, "build", str(profile), "--as", "json", "-o", str(folder / "u.json")], capture_output=True, check=True, timeout=60)
        lines = read(folder / "u.json").split("\n")
        yield CUT.join(["\n".join(lines if len(lines) < 90 else lines[:60] + lines[-30:]), read(profile.with_name("two-supplies.bench.yaml")),
                        read(profile.with_name("two-supplies.link.yaml"))])


ANSWERS = ("MAKER,TYPE,SERIAL,1.0\n", "+1.00000E+01\r\n", "9.91E37\n", "1\n0\n", "-113,\"Undefined header\"\n", "+0,\"No error\"\n",
           "ON\n", "#800000004abcd\n", "A" * 4100 + "\n")


def methods():
    return re.findall(r'"((?:textDocument|workspace|\$)/[A-Za-z/]+|initialized?|shutdown|exit)"',
                      "".join(read(path) for path in sorted((ROOT / "runtime/editor").glob("*.cpp"))))


def sessions():
    """A conversation about each of some texts: opened, asked of in every way, edited, asked of again."""
    uri = "file:///nowhere/p.ramp"
    some = [text for path, text in profiles() if len(text) < 1500][::40] + ["bench: x\nsupplies: {a: {channels: {b: {}}}}\n"]
    for i, text in enumerate(some):
        at = {"line": min(i, 5), "character": 3}
        everything = {"start": {"line": 0, "character": 0}, "end": {"line": 1000, "character": 0}}
        asked = [{"method": "initialize", "params": {"processId": None, "rootUri": None, "capabilities": {
                     "general": {"positionEncodings": ["utf-8", "utf-16"]}, "window": {"workDoneProgress": True},
                     "textDocument": {"publishDiagnostics": {"relatedInformation": True, "versionSupport": True}}}}},
                 {"method": "initialized", "params": {}},
                 {"method": "textDocument/didOpen", "params": {"textDocument": {"uri": uri, "languageId": "rampart", "version": 1, "text": text}}}]
        for round_ in range(2):
            for method in sorted({name for name in methods() if name.startswith("textDocument/")}):
                if "did" in method or "publish" in method:
                    continue
                asked.append({"method": method, "params": {
                    "textDocument": {"uri": uri}, "position": at, "range": everything, "context": {"diagnostics": [], "includeDeclaration": True},
                    "newName": "other", "options": {"tabSize": 2, "insertSpaces": True}}})
            asked.append({"method": "textDocument/didChange", "params": {"textDocument": {"uri": uri, "version": 2 + round_}, "contentChanges": [
                {"range": {"start": at, "end": {"line": at["line"], "character": 9}}, "text": "ramp "}]}})
        asked += [{"method": "shutdown"}, {"method": "exit"}]
        texts = []
        for number, one in enumerate(asked):
            notifies = "/did" in one["method"] or one["method"] in ("initialized", "exit")
            texts.append(json.dumps(dict(one, jsonrpc="2.0", **({} if notifies else {"id": number})), ensure_ascii=False))
        yield CUT.join(texts)
    yield "Content-Length: 2\r\n\r\n{}Content-Length: 5\r\nContent-Type: a\r\n\r\n[1,2]"


def seeds(target, program):
    if target == "profile":
        return [text for _, text in profiles()]
    if target == "chain":
        return list(chains())
    if target == "table":
        return list(tables(program))
    if target == "log":
        return list(logs())
    if target == "part":
        return list(parts(program))
    if target == "play":
        return list(plays(program))
    if target == "answer":
        return list(ANSWERS)
    if target == "messages":
        return list(sessions())
    return [read(path) for path in files("." + target + (".yaml" if target != "template" else ""))]


def quoted(paths):
    """The words in quotes of source files."""
    return {word for path in paths for word in re.findall(r'"([\w .*/$-]{2,40})"', read(ROOT / path))}


def words(target):
    keys = {"bench": ["compiler/bench/bench_keys.h", "compiler/bench/channel_reader.cpp", "compiler/bench/bench_reader.cpp"],
            "load": ["runtime/load/load_keys.h"] + sorted(str(p.relative_to(ROOT)) for p in (ROOT / "runtime/load/elements").glob("*.cpp")),
            "link": ["runtime/link/link_keys.h", "runtime/link/messages.cpp", "runtime/link/link_reader.cpp"],
            "log": ["runtime/log/log_keys.h", "runtime/log/log_description.cpp", "runtime/log/log_values.cpp"],
            "part": ["runtime/part/part.cpp"],
            "play": ["runtime/bench_run/play_table.cpp", "runtime/audit/record.cpp"],
            "answer": ["runtime/link/messages.cpp"],
            "table": ["runtime/audit/record.cpp", "runtime/audit/audit_json.cpp", "runtime/audit/table_row.cpp"],
            "template": ["compiler/export/template_fields.cpp", "compiler/export/template_reader.cpp"]}
    language = [word for group in editor_words.lists().values() for word in group]
    if target in ("profile", "messages"):
        known = set(language) | (set(methods()) if target == "messages" else set())
    elif target == "chain":
        known = set(language) | quoted(keys["bench"] + keys["load"])
    else:
        known = quoted(keys[target]) | set(editor_words.units())
    return sorted(known | {CUT} if target not in ("profile", "bench", "load", "link", "template", "answer") else known)


def dictionary(target):
    lines = []
    for word in words(target):
        escaped = "".join(chr(byte) if 0x20 <= byte < 0x7F and byte not in b'"\\' else "\\x%02X" % byte
                          for byte in word.encode("utf-8"))
        lines.append('"%s"' % escaped)
    return "\n".join(lines) + "\n"


def write(program, folder, target):
    place = pathlib.Path(folder) / target
    place.mkdir(parents=True, exist_ok=True)
    program = str(pathlib.Path(program).resolve())
    texts = [text.encode("utf-8", errors="surrogateescape") for text in seeds(target, program)]
    count = 0
    for text in dict.fromkeys(text for text in texts if len(text) <= LONGEST or target in ("messages", "table", "play")):
        (place / ("seed-%04d" % count)).write_bytes(text)
        count += 1
    found = sorted((HERE / "regressions" / target).glob("*"))
    for path in found:
        (place / ("found-" + path.name)).write_bytes(path.read_bytes())
    (pathlib.Path(folder) / (target + ".dict")).write_text(dictionary(target), encoding="utf-8")
    return count, len(found)


if __name__ == "__main__":
    for name in sys.argv[3:] or TARGETS:
        print("%s: %d seeds and %d found before" % ((name,) + write(sys.argv[1], sys.argv[2], name)))
