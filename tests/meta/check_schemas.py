#!/usr/bin/env python3
"""The JSON Schemas of bench and load files are valid, take every file that we ship, and refuse what the readers refuse.

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
    """Editors read YAML 1.2, where `on` and `yes` are texts; this library reads 1.1."""


Yaml12Loader.yaml_implicit_resolvers = {
    first: [(tag, rule) for tag, rule in rules if tag != "tag:yaml.org,2002:bool"]
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
sys.exit(report(problems, checked))
