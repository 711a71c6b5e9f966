#!/usr/bin/env python3
"""The JSON Schemas of bench, load and link files are valid, take every file that we ship, and refuse what the readers refuse;
those of answers take every answer in the goldens, and refuse one in which any key is called otherwise.

tests/data/wrong_files.json holds a right file of each kind and changes that make it wrong; another test gives the same
to the readers.
"""
import json
import re
import sys

try:
    import jsonschema
    import yaml
except ImportError as missing:
    sys.exit("%s: install python3-jsonschema and python3-yaml" % missing)

from sources import ROOT, report


def load_validator(kind):
    schema = json.loads((ROOT / "docs" / (kind + ".schema.json")).read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


class Yaml12Loader(yaml.SafeLoader):
    """Editors read YAML 1.2, where `on`, `yes` and dates are texts; this library reads 1.1."""


Yaml12Loader.yaml_implicit_resolvers = {
    first: [(tag, rule) for tag, rule in rules if tag not in ("tag:yaml.org,2002:bool", "tag:yaml.org,2002:timestamp")]
    for first, rules in yaml.SafeLoader.yaml_implicit_resolvers.items()}
Yaml12Loader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("^(true|false)$"), list("tf"))


def with_text_keys(data):
    """JSON has no other keys."""
    if isinstance(data, dict):
        return {str(key): with_text_keys(value) for key, value in data.items()}
    return [with_text_keys(value) for value in data] if isinstance(data, list) else data


def mistakes(validator, text):
    try:
        data = with_text_keys(yaml.load(text, Yaml12Loader))
    except yaml.YAMLError as error:
        return [str(error)]
    return ["%s: %s" % ("/".join(map(str, error.absolute_path)), error.message) for error in validator.iter_errors(data)]


problems, checked = [], 0
wrong_files = json.loads((ROOT / "tests/data/wrong_files.json").read_text(encoding="utf-8"))
for kind, cases in wrong_files.items():
    validator = load_validator(kind)
    problems += ["the right %s file: %s" % (kind, mistake) for mistake in mistakes(validator, cases["right"])]
    for change in cases["changes"]:
        checked += 1
        text = cases["right"].replace(change["from"], change["to"], 1)
        if text == cases["right"] or not mistakes(validator, text):
            problems.append("the schema takes a %s file with `%s` for `%s`" % (kind, change["to"], change["from"]))
    for path in sorted(ROOT.glob("profiles/**/*.%s.yaml" % kind)):
        checked += 1
        problems += ["%s: %s" % (path.relative_to(ROOT), mistake)
                     for mistake in mistakes(validator, path.read_text(encoding="utf-8"))]


def golden_answers():
    """Path, mode and document of each golden that expects JSON."""
    for path in sorted(ROOT.glob("tests/golden/**/*.ramp")):
        expect = path.with_name(path.name + ".expect")
        text = (expect if expect.exists() else path).read_text(encoding="utf-8", errors="replace")
        mode = re.match(r"# mode: *([a-z-]+) ", text)
        aside = path.with_suffix(".stdout")
        found = re.search(r"^#--- stdout\n((?:# ?.*\n)+)", text, re.MULTILINE)
        stdout = aside.read_text(encoding="utf-8") if aside.exists() else "\n".join(
            line[2:] for line in found.group(1).splitlines() if not line.startswith("#---")) if found else ""
        if mode and mode.group(1) in ANSWERS and stdout.startswith("{"):
            yield path, mode.group(1), json.loads(stdout)


def renamed_keys(value, rename):
    """The document with one key after the other called otherwise."""
    if isinstance(value, dict):
        for key in value:
            yield {rename if name == key else name: inner for name, inner in value.items()}
        for key, inner in value.items():
            if key in FREE and isinstance(inner, dict):
                inners = [(lambda changed, name=name: {**inner, name: changed}, one) for name, one in inner.items()]
            else:
                inners = [(lambda changed: changed, inner)]
            for put, one in inners:
                for changed in renamed_keys(one, rename):
                    yield {**value, key: put(changed)}
    elif isinstance(value, list) and value:
        for changed in renamed_keys(value[0], rename):
            yield [changed] + value[1:]


ANSWERS = ("check", "simulate", "diff", "audit", "sweep", "evaluate", "fit-load")
# Keys under these are names of the user's.
FREE = ("rails", "others", "trips", "corner")
seen = set()
for path, mode, document in golden_answers():
    seen.add(mode)
    checked += 1
    validator = load_validator(mode)
    problems += ["%s: %s" % (path.relative_to(ROOT), error.message) for error in validator.iter_errors(document)]
    closed = {key: value for key, value in document.items() if key not in FREE + ("corners", "sample", "every_fault")}
    for changed in renamed_keys(closed, "another_key"):
        if validator.is_valid({**document, **changed} if "another_key" not in changed else changed):
            problems.append("%s: the schema of `%s` takes a key that is called otherwise" % (path.relative_to(ROOT), mode))
            break
problems += ["no golden holds the JSON of `%s`" % mode for mode in ANSWERS if mode not in seen]
sys.exit(report(problems, checked))
