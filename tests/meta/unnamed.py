"""Files of one room can be compiled together: what is hidden in the unnamed namespaces of its files has different names.

Files under ALONE are compiled alone. Functions may be overloads of each other, so these are compared with their parameters.
"""
import collections
import re

from sources import ROOT

BEGIN = re.compile(r"^namespace \{$(.*?)^\}  // namespace$", re.MULTILINE | re.DOTALL)
KIND = re.compile(r"^(?:template <.*>\n)?(?:class|struct|enum class|enum) (\w+)\b(?! \w+;)[^;\n]*\{|"
                  r"^(?:inline )?(?:constexpr|const|constinit)\b[^(={]*?\b(k\w+)(?:\[\w*\])*(?= ?[={])", re.MULTILINE)
FUNCTION = re.compile(r"^(?![\s}/#])[^\n=;]*?\b(\w+\([^;{]*?\))(?: const)?(?: noexcept)? \{$", re.MULTILINE)


def names_in(text):
    for block in BEGIN.findall(text):
        for found in KIND.finditer(block):
            yield next(name for name in found.groups() if name)
        for found in FUNCTION.finditer(block):
            # With the names of parameters: types alone would need a parser.
            yield re.sub(r"\s+", " ", found.group(1))


def unnamed_problems(rooms):
    for folder, room in sorted(rooms.items()):
        places = collections.defaultdict(list)
        for name in room.lists["FILES"]:
            path = ROOT / folder / name
            if name in room.lists["ALONE"] or not path.is_file():
                continue
            for hidden in sorted(set(names_in(path.read_text(encoding="utf-8")))):
                places[hidden].append(name)
        for hidden, files in sorted(places.items()):
            if len(files) > 1:
                yield "%s: `%s` is in the unnamed namespaces of %s" % (folder, hidden, ", ".join(files))
