#!/usr/bin/env python3
"""lang/editors has the language's words for editors that know no language server. usage: editor_words.py [--write]

They are made from the grammar's own lists: the words of lang/syntax, the units of lang/values, figures and causes of
compiler/profile. Without --write it says whether they are stale, and whether they colour an example as they should.
"""
import json
import re
import sys

from sources import ROOT, report

TEXTMATE = ROOT / "lang/editors/rampart.tmLanguage.json"
VIM = ROOT / "lang/editors/rampart.vim"
EXAMPLE = 'rail core on left.ch1  # "a" 3 V\nrule "a 3 V" always current(core) <= 1.5 mA\nrun { ramp core to 50 % over 2 V/ms }\n'
COLOURED = {"declaration": ["rail", "rule", "run"], "statement": ["on", "ramp"], "word": ["always", "to", "over"],
            "function": ["current"], "number": ["1.5 mA", "50 %", "2 V/ms"]}


def words_of(path, name):
    """The texts of an array of a source file."""
    text = (ROOT / path).read_text(encoding="utf-8")
    found = re.search(r"\b%s\[\] = \{(.*?)\};" % name, text, re.DOTALL)
    return re.findall(r'"([^"]+)"', found.group(1))


def rows_of(path, name):
    """The first two texts of each row of a table of a source file, and whether `true` stands behind them."""
    text = (ROOT / path).read_text(encoding="utf-8")
    found = re.search(r"\b%s\b[^;]*?\{\n(.*?)\n *\}\)?;" % name, text, re.DOTALL)
    return re.findall(r'^ *\{(?:\w+::\w+, )?"([^"]*)", "([^"]*)"(, true)?', found.group(1), re.MULTILINE)


def units():
    """Every symbol with its prefixes, the longest first."""
    decoded = lambda text: text.encode("ascii").decode("unicode_escape")
    prefixes = [decoded(prefix) for prefix, _, _ in rows_of("lang/values/unit.cpp", "kPrefixes")]
    found = {prefix + decoded(unit) for unit, _, takes in rows_of("lang/values/unit.cpp", "kUnits")
             for prefix in (prefixes if takes else [""])}
    return sorted(found, key=lambda unit: (-len(unit), unit))


def lists():
    scanner = "lang/syntax/scanner.cpp"
    grammar = "".join(path.read_text(encoding="utf-8") for path in sorted((ROOT / "lang/syntax/grammar").glob("*.h")))
    statements, declarations = words_of(scanner, "kVerbs"), words_of(scanner, "kDeclarationWords")
    functions = ["abs", "max", "min"] + words_of("lang/syntax/scanner.h", "kMeasures")
    functions += [row[0] for row in rows_of("compiler/profile/figure_kind.cpp", "kFigures")]
    used = set(re.findall(r'\bword\("(\w+)"\)', grammar)) | set(words_of(scanner, "kReservedBesides"))
    used |= {row[0] for row in rows_of("compiler/profile/figure_kind.cpp", "kCauses")}
    others = sorted(used - set(statements) - set(declarations) - set(functions))
    return {"declaration": sorted(declarations), "statement": sorted(statements), "function": sorted(set(functions)),
            "word": others, "unit": units()}


def alternatives(words):
    return "|".join(re.escape(word) for word in words)


def number(unit):
    one = "(?:(?:%s)(?![A-Za-z0-9_])|%%)" % alternatives(word for word in unit if word != "%")
    return r"\b[0-9]+(?:\.[0-9]+)?(?:[ \t]*%s(?:/%s)?)?" % (one, one)


def textmate(words):
    scope = lambda name: name + ".rampart"
    pattern = lambda match, name: {"match": match, "name": scope(name)}
    return json.dumps({
        "name": "Rampart", "scopeName": "source.rampart", "fileTypes": ["ramp"],
        "patterns": [
            pattern("#.*$", "comment.line.number-sign"),
            {"begin": "\"", "end": "\"|$", "name": scope("string.quoted.double"),
             "patterns": [pattern(r"\\[\"\\]", "constant.character.escape")]},
            {"match": r"^\s*(%s)\b" % alternatives(words["declaration"]),
             "captures": {"1": {"name": scope("keyword.other.declaration")}}},
            pattern(r"\b(?:%s)(?=\()" % alternatives(words["function"]), "support.function"),
            pattern(r"\b(?:%s)\b" % alternatives(words["statement"]), "keyword.control"),
            pattern(r"\b(?:%s)\b" % alternatives(words["word"]), "keyword.other"),
            pattern(number(words["unit"]), "constant.numeric"),
            pattern(r"<=|>=|<|>|[-+*/=]|\.\.", "keyword.operator"),
        ]}, indent=2, ensure_ascii=False) + "\n"


def vim(words):
    spaced = lambda names: " ".join(names)
    unit = r"\%%(%s\)" % r"\|".join(word for word in words["unit"])
    return r'''" Vim syntax file: Rampart profiles (*.ramp). Made from the grammar: build the target `editor_words`.
if exists("b:current_syntax")
  finish
endif
syn case match
syn match rampartWord /\<\%%(%(word)s\)\>/
syn keyword rampartStatement %(statement)s
syn match rampartDeclaration /^\s*\zs\%%(%(declaration)s\)\>/
syn match rampartFunction /\<\%%(%(function)s\)\ze(/
syn match rampartNumber /\<\d\+\%%(\.\d\+\)\=\%%(\s*%(unit)s\%%(\/%(unit)s\)\=\w\@!\)\=/
syn match rampartEscape /\\["\\]/ contained
syn region rampartText start=/"/ skip=/\\["\\]/ end=/"\|$/ contains=rampartEscape
syn match rampartComment /#.*/
hi def link rampartDeclaration Structure
hi def link rampartStatement Statement
hi def link rampartWord Keyword
hi def link rampartFunction Function
hi def link rampartNumber Number
hi def link rampartText String
hi def link rampartEscape SpecialChar
hi def link rampartComment Comment
let b:current_syntax = "rampart"
''' % {"word": r"\|".join(words["word"]), "statement": spaced(words["statement"]),
       "declaration": r"\|".join(words["declaration"]), "function": r"\|".join(words["function"]), "unit": unit}


def wrong_colours(words):
    """What the patterns take of the example outside of comments and texts, and should not, or the other way."""
    plain = re.sub(r'#.*|"[^"\n]*"', "", EXAMPLE)
    taken = {"declaration": re.findall(r"^\s*(%s)\b" % alternatives(words["declaration"]), plain, re.MULTILINE),
             "function": re.findall(r"\b(?:%s)(?=\()" % alternatives(words["function"]), plain),
             "number": [one.group() for one in re.finditer(number(words["unit"]), plain)]}
    for name in ("statement", "word"):
        taken[name] = re.findall(r"\b(?:%s)\b" % alternatives(words[name]), plain)
    return ["%s of the example: %r, not %r" % (name, taken[name], COLOURED[name]) for name in COLOURED
            if sorted(taken[name]) != sorted(COLOURED[name])]


def main():
    words = lists()
    made = {TEXTMATE: textmate(words), VIM: vim(words)}
    if "--write" in sys.argv[1:]:
        TEXTMATE.parent.mkdir(exist_ok=True)
        for path, text in made.items():
            path.write_text(text, encoding="utf-8")
        return 0
    problems = ["%s is stale: build the target `editor_words`" % path.relative_to(ROOT) for path, text in made.items()
                if not path.exists() or path.read_text(encoding="utf-8") != text]
    return report(problems + wrong_colours(words), len(made))


if __name__ == "__main__":
    sys.exit(main())
