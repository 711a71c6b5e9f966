#!/usr/bin/env python3
"""The rooms of the house: what each folder may include, also through the headers of others.

The rules are those that build the program: `rampart_room(...)` in each folder's CMakeLists.txt names the headers that others
may include (PUBLIC) and the rooms whose headers its own files may see (USES). What a header brings along counts as seen. A
third-party header stays inside the .cpp files that need it.
"""
import re
import sys

from sources import LAYERS, ROOT, report, source_files
from unnamed import unnamed_problems

# Third-party include folders, and where in the layers each may appear.
THIRD_PARTY = {
    "boost/spirit": r"lang/syntax/grammar/.*\.h",
    "boost/fusion": r"lang/syntax/grammar/.*\.h",
    "boost/container": r"runtime/circuit/weights\.h|runtime/play/(form_curve\.h|total_power\.cpp)",
    "boost": r".*\.cpp",
    "CLI": r"runtime/cli/.*\.cpp",
    "Eigen": r"runtime/(circuit/.*|fit/least_squares)\.cpp",
    "fmt": r"(compiler|runtime)/.*\.cpp",
    # Several files write parts of one document; the headers have declarations alone.
    "nlohmann": r"(compiler|runtime)/.*\.cpp|runtime/cli/json/json_parts\.h|runtime/editor/\w+\.h",
    "cryptopp": r"compiler/export/sha256\.cpp",
    "yaml-cpp": r"compiler/yaml/.*\.cpp",
}
SYSTEM = ("sys",)
LISTS = ("FOR", "PUBLIC", "USES", "FILES", "ALONE", "LIBRARIES")
INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)', re.MULTILINE)


class Room:
    def __init__(self, folder, text):
        self.folder = folder
        words = re.findall(r'"[^"]*"|[^\s"]+', re.sub(r"#[^\n]*", "", text))
        self.lists, current = {name: [] for name in LISTS}, None
        for word in words:
            if word in LISTS:
                current = word
            elif current:
                self.lists[current].append(word.strip('"'))
        self.public = {folder + "/" + name for name in self.lists["PUBLIC"]}
        self.uses = set(self.lists["USES"])


def read_rooms():
    rooms = {}
    for layer in LAYERS:
        for path in sorted((ROOT / layer).rglob("CMakeLists.txt")):
            call = re.search(r"^rampart_room\((.*?)\)\s*$", path.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
            if call:
                folder = str(path.parent.relative_to(ROOT))
                rooms[folder] = Room(folder, call.group(1))
    return rooms


ROOMS = read_rooms()


def room_of(file):
    """The innermost folder around the file that is a room."""
    folder = str(file)
    while "/" in folder:
        folder = folder.rsplit("/", 1)[0]
        if folder in ROOMS:
            return ROOMS[folder]
    return None


def third_party_problem(name, target):
    folder = target.rsplit("/", 1)[0] if "/" in target else ""
    if not folder or folder in SYSTEM:
        return None
    names = [one for one in THIRD_PARTY if folder == one or folder.startswith(one + "/")]
    if not names:
        return "third-party header `%s` is not known here: add it to check_layers.py" % target
    return None if re.fullmatch(THIRD_PARTY[max(names, key=len)], name) else "`%s` has no place here" % target


def include_problem(room, target):
    if not (ROOT / target).exists():
        return "`%s` is not a path from the root" % target
    other = room_of(target)
    if other is None:
        return "`%s` is in no room" % target
    if other is room:
        return None
    if other.folder not in room.uses:
        return "`%s`: %s is not in USES of %s" % (target, other.folder, room.folder)
    if target not in other.public:
        return "`%s` is not in PUBLIC of %s" % (target, other.folder)
    return None


def includes_of(file, known={}):
    if file not in known:
        text = (ROOT / file).read_text(encoding="utf-8")
        known[file] = [(kind, target, text.count("\n", 0, found.start(1)) + 1)
                       for found in INCLUDE.finditer(text) for kind, target in [found.groups()]]
    return known[file]


def seen_from(header, known={}):
    """Headers of the project that come with a header, each with the one that includes it."""
    if header not in known:
        known[header] = {}
        for kind, target, _ in includes_of(header):
            if kind == '"' and (ROOT / target).exists():
                known[header][target] = header
                known[header].update({far: near for far, near in seen_from(target).items()
                                      if far not in known[header]})
    return known[header]


def problems_of(file):
    room = room_of(file)
    if room is None:
        yield "%s: in no room" % file
        return
    for kind, target, line in includes_of(str(file)):
        wrong = third_party_problem(str(file), target) if kind == "<" else include_problem(room, target)
        if wrong:
            yield "%s:%d: %s" % (file, line, wrong)
            continue
        if kind == "<":
            continue
        for far, near in sorted(seen_from(target).items()):
            other = room_of(far)
            if other not in (None, room) and other.folder not in room.uses:
                yield "%s:%d: `%s` brings `%s` along (by %s), and %s is not in USES of %s" % (
                    file, line, target, far, near, other.folder, room.folder)


def rule_problems():
    """Rules that nothing needs, and rooms that reach each other in a circle."""
    for folder, room in sorted(ROOMS.items()):
        for used in sorted(room.uses):
            if used not in ROOMS:
                yield "%s: USES `%s`, which is no room" % (folder, used)
            elif LAYERS.index(used.split("/")[0]) > LAYERS.index(folder.split("/")[0]):
                yield "%s: USES `%s`, which points the wrong way" % (folder, used)
        seen, open_rooms = set(), list(room.uses)
        while open_rooms:
            one = open_rooms.pop()
            if one == folder:
                yield "%s: reaches itself by way of its USES" % folder
                break
            if one not in seen and one in ROOMS:
                seen.add(one)
                open_rooms += ROOMS[one].uses
        for header in sorted(room.public):
            if not (ROOT / header).exists():
                yield "%s: PUBLIC names `%s`, which is not there" % (folder, header)
        if not room.lists["FOR"]:
            yield "%s: says nothing in FOR" % folder


files = source_files(LAYERS)
problems = sorted(set(rule_problems())) + sorted(unnamed_problems(ROOMS)) + [problem for file in files for problem in problems_of(file)]
sys.exit(report(problems, len(files)))
