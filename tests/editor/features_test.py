#!/usr/bin/env python3
"""What an editor asks for, with a client of our own. usage: features_test.py PROGRAM

The numbers are worked by hand from the profile, its load (Ohm's law) and the forms of LSP 3.17.
"""
import sys
import unittest

from client import apply, offset_of
from folder import PROFILE, InFolder, main


class Features(InFolder):
    def test_findings_come_and_go_with_the_text(self):
        uri = self.open()
        self.client.wait_for(lambda: uri in self.client.findings)
        self.client.settle_on(uri)
        self.assertEqual(self.named(uri), [])
        self.client.change(uri, PROFILE.replace("to level over", "to 7 V over"))
        self.client.wait_for(lambda: ("above-ceiling", 17) in self.named(uri))
        self.client.wait_for(lambda: ("trip-predicted", 17) in self.named(uri) or len(self.named(uri)) > 1)
        self.client.change(uri, PROFILE.replace("rail io on left.ch2", "rail io on left.ch3"))
        self.client.wait_for(lambda: ("unknown-name", 9) in self.named(uri))
        self.assertEqual(self.client.versions[uri], 3)
        self.client.change(uri, PROFILE)
        self.client.wait_for(lambda: self.named(uri) == [])

    def test_findings_of_bench_and_load_over_unsaved_text(self):
        uri = self.open()
        bench = self.open("board.bench.yaml")
        self.client.change(bench, self.client.texts[bench][1].replace("ch2: {like: ch1}", "ch2: {lik: ch1}"))
        self.client.wait_for(lambda: ("unknown-key", 11) in self.named(bench))
        load = self.open("board.load.yaml")
        self.client.change(load, self.client.texts[load][1].replace("heater, resistance: 10 Ohm", "heater, resistance: 10 V"))
        self.client.wait_for(lambda: ("unit-mismatch", 3) in self.named(load))
        # What is closed is what the disk has again.
        for one in (bench, load):
            self.client.notify("textDocument/didClose", {"textDocument": {"uri": one}})
        self.client.wait_for(lambda: self.named(bench) == [] and self.named(load) == [] and self.named(uri) == [])

    def test_a_library_speaks_through_its_profile(self):
        uri = self.open("library.ramp")
        self.client.settle_on(uri)
        self.assertEqual(self.named(uri), [])
        self.client.change(uri, "let v_io = 5 V\n" + self.client.texts[uri][1].split("\n", 1)[1])
        self.client.wait_for(lambda: any(code == "above-ceiling" for code, _ in self.named(uri)))

    def hover(self, uri, what, offset=0):
        answer = self.client.request("textDocument/hover", self.client.at(uri, what, offset))
        return answer["contents"]["value"] if answer else None

    def test_hover(self):
        uri = self.open()
        self.client.settle_on(uri)
        self.assertIn("5 V, in 4 V .. 6 V", self.hover(uri, "level ="))
        self.assertIn("3.3 V", self.hover(uri, "v_io)"))
        core = self.hover(uri, "core on")
        for part in ("left.ch1", "0 V .. 20 V", "ceiling 6 V", "fuse after 100 ms", "peak 500 mA"):
            self.assertIn(part, core)
        ramp = self.hover(uri, "ramp core to level")
        for part in ("begins at **0 s**, ends at **1 s**", "core: 0 V, 1 A → 5 V, 1 A", "nearest margin:"):
            self.assertIn(part, ramp)
        # 1 s and 0.1 s of ramps before it; a pass takes 2 s, and there are ten.
        step = self.hover(uri, "step io to 3 V")
        for part in ("begins at **1.1 s**", "10 times, the last at 19.1 s", "pass 1 of its loop", "io: 3.3 V, 1 A → 3 V"):
            self.assertIn(part, step)
        self.assertIn("begins at **1.1 s**, ends at **21.1 s**", self.hover(uri, "repeat 10"))
        self.assertIn("begins at **1 s**, ends at **1.1 s**", self.hover(uri, "do io_up"))
        self.assertIn("in `safe`, begins at **200 ms**", self.hover(uri, "off core }"))
        self.assertIsNone(self.hover(uri, "profile"))
        library = self.open("library.ramp")
        self.assertIn("= 3.3 V", self.hover(library, "2 * 1.65"))
        self.assertIn("argument `level`: 3.3 V", self.hover(library, "level)"))

    def test_hover_after_a_mistake(self):
        uri = self.open()
        self.client.settle_on(uri)
        broken = PROFILE.replace("rail io on left.ch2", "rail io on").replace("mark \"up\"", "mark \"up\"\n  stepp core")
        self.client.change(uri, broken)
        self.assertIn("5 V, in 4 V .. 6 V", self.hover(uri, "level ="))
        self.client.change(uri, PROFILE.replace("mark \"up\"", "mark \"up\"\n  stepp core"))
        self.assertIn("begins at **0 s**, ends at **1 s**", self.hover(uri, "ramp core to level"))
        self.assertIn("begins at **1.1 s**", self.hover(uri, "step io to 3 V"))

    def test_inlay_hints(self):
        uri = self.open()
        lines = PROFILE.count("\n")
        hints = self.client.request("textDocument/inlayHint", {
            "textDocument": {"uri": uri}, "range": {"start": {"line": 0, "character": 0},
                                                    "end": {"line": lines, "character": 0}}})
        by_line = {}
        for hint in hints:
            by_line.setdefault(hint["position"]["line"] + 1, []).append(hint["label"])
        self.assertEqual(by_line[17], ["0 s"])
        self.assertEqual(by_line[18], ["1 s"])
        self.assertEqual(by_line[19], ["1.1 s"])
        self.assertEqual(by_line[21], ["1.1 s, 10 times"])
        self.assertEqual(by_line[26], ["21.1 s"])
        self.assertEqual(by_line[30], ["0 s", "0 s", "200 ms"])

    def complete(self, uri, text, what):
        self.client.change(uri, text)
        answer = self.client.request("textDocument/completion", self.client.at(uri, what, len(what)))
        return {item["label"]: item for item in answer["items"]}

    def test_completion_by_place(self):
        uri = self.open()
        at_run = PROFILE.replace("  on core\n", "  on \n")
        self.assertEqual(list(self.complete(uri, at_run, "  on ")), ["core", "io"])
        labels = self.complete(uri, PROFILE.replace("  on core\n", "  ra\n"), "  ra")
        self.assertIn("ramp", labels)
        self.assertNotIn("rail", labels)
        self.assertIn("rail", self.complete(uri, PROFILE.replace("param level", "ra\nparam level"), "\nra"))
        channels = self.complete(uri, PROFILE.replace("left.ch2", "left."), "io on left.")
        self.assertEqual(set(channels), {"left.ch1", "left.ch2"})
        text = self.client.texts[uri][1]
        self.assertIn("rail io on left.ch2\n", apply(text, [channels["left.ch2"]["textEdit"]]))
        values = self.complete(uri, PROFILE.replace("to level over", "to  over"), "ramp core to ")
        self.assertLessEqual({"level", "v_io", "min", "abs"}, set(values))
        operators = self.complete(uri, PROFILE + 'rule "high" always core  \n', "always core ")
        self.assertLessEqual({">=", "<", "+", "and", "or"}, set(operators))
        self.assertEqual(operators[">="]["kind"], 24)
        self.assertIn("io_up", self.complete(uri, PROFILE.replace("do io_up(v_io)", "do "), "  do "))
        self.assertIn("ms", self.complete(uri, PROFILE.replace("over 1 s\n  do", "over 1 \n  do"), "over 1 "))
        self.assertIn("fuse", self.complete(uri, PROFILE.replace("by fuse under", "by  under"), "trip core by "))
        self.assertIn("shorted", self.complete(uri, PROFILE.replace("under shorted", "under "), "under "))
        self.assertIn("board.load.yaml", self.complete(uri, PROFILE.replace("board.load.yaml", ""), "load \""))
        self.assertIn("peak_current", self.complete(uri, PROFILE + "expect pe\n", "expect pe"))
        self.assertIn("no-overpower", self.complete(uri, PROFILE + "accept no-\n", "accept no-"))

    def test_completion_in_bench_and_load(self):
        bench = self.open("board.bench.yaml")
        text = self.client.texts[bench][1]
        self.assertIn("power", self.complete(bench, text.replace("    lines: [line1]", "    po"), "    po"))
        self.assertIn("own_current", self.complete(bench, text.replace("current_limit", ""), "fuse_by: "))
        load = self.open("board.load.yaml")
        text = self.client.texts[load][1]
        self.assertIn("esr", self.complete(load, text.replace("kind: resistor, name: heater, resistance: 10 Ohm",
                                                              "kind: capacitor, es"), "capacitor, es"))
        self.assertIn("capacitor", self.complete(load, text.replace("kind: resistor, name", "kind: , name"), "kind: "))

    def test_definition_and_references_across_files(self):
        uri = self.open()
        at = lambda what, offset=0: self.client.at(uri, what, offset)
        found = self.client.request("textDocument/definition", at("v_io)"))
        self.assertEqual([(one["uri"].rsplit("/", 1)[1], one["range"]["start"]) for one in found],
                         [("library.ramp", {"line": 0, "character": 4})])
        found = self.client.request("textDocument/definition", at("ch2", 1))
        self.assertEqual([one["uri"].rsplit("/", 1)[1] for one in found], ["board.bench.yaml"])
        found = self.client.request("textDocument/definition", at("shorted"))
        self.assertEqual([one["uri"].rsplit("/", 1)[1] for one in found], ["board.load.yaml"])
        found = self.client.request("textDocument/references", dict(at("io on"), context={"includeDeclaration": False}))
        files = sorted({one["uri"].rsplit("/", 1)[1] for one in found})
        self.assertEqual(files, ["board.load.yaml", "board.ramp", "library.ramp"])
        # Seven in the profile, two in the library, one in the load.
        self.assertEqual(len(found), 10)
        found = self.client.request("textDocument/documentHighlight", at("level ="))
        self.assertEqual([one["kind"] for one in found], [3, 2])

    def rename(self, uri, what, name, offset=0):
        return self.client.request("textDocument/rename", dict(self.client.at(uri, what, offset), newName=name))["changes"]

    def test_rename_across_all_files(self):
        uri = self.open()
        changes = self.rename(uri, "io on", "radio")
        texts = {}
        for file, edits in changes.items():
            path = self.folder / file.rsplit("/", 1)[1]
            texts[path.name] = apply(path.read_text(encoding="utf-8"), edits)
        self.assertEqual(set(texts), {"board.ramp", "library.ramp", "board.load.yaml"})
        for name, text in texts.items():
            self.write(name, text)
        self.assertIn("  radio: {elements", texts["board.load.yaml"])
        self.assertIn("ramp radio to level", texts["library.ramp"])
        self.client.change(uri, texts["board.ramp"])
        self.client.notify("workspace/didChangeWatchedFiles", {"changes": []})
        self.client.settle_on(uri)
        self.assertEqual(self.named(uri), [])
        # From the library, whoever has the profile open.
        library = self.open("library.ramp")
        self.assertEqual({file.rsplit("/", 1)[1] for file in self.rename(library, "v_io", "level_io")},
                         {"board.ramp", "library.ramp"})
        self.assertEqual({file.rsplit("/", 1)[1] for file in self.rename(uri, "left.ch1", "main", 5)},
                         {"board.ramp", "board.bench.yaml"})
        self.assertEqual({file.rsplit("/", 1)[1] for file in self.rename(uri, "up\"", "all up")},
                         {"board.ramp", "board.load.yaml"})

    def test_rename_is_refused_where_it_would_break_something(self):
        uri = self.open()
        for name in ("core", "ramp", "2x", "a b", "", "x" * 65):
            message = self.client.answer(self.client.ask("textDocument/rename",
                                                         dict(self.client.at(uri, "io on"), newName=name)))
            self.assertEqual(message["error"]["code"], -32803, name)
        self.assertIsNone(self.client.request("textDocument/prepareRename", self.client.at(uri, "rail core")))
        prepared = self.client.request("textDocument/prepareRename", self.client.at(uri, "level over"))
        self.assertEqual(prepared["placeholder"], "level")

    def test_code_actions_write_what_hints_say(self):
        uri = self.open()
        for right, wrong, title in (("ramp core to level", "ramp core to levle", "Write `level`"),
                                    ("dwell 1 s\n    step", "dwel 1 s\n    step", "Write `dwell`"),
                                    ("left.ch1\n", "left.ch3\n", None),
                                    ("over 1 s\n  off", "over 1 sec\n  off", "Write `s`")):
            text = PROFILE.replace(right, wrong)
            self.client.change(uri, text)
            self.client.wait_for(lambda: self.client.versions.get(uri) == self.client.texts[uri][0])
            first = self.client.findings[uri][0]
            actions = self.client.request("textDocument/codeAction", {
                "textDocument": {"uri": uri}, "range": first["range"], "context": {"diagnostics": [first]}})
            self.assertTrue(actions, wrong)
            if title:
                self.assertEqual(actions[0]["title"], title)
                self.assertEqual(apply(text, actions[0]["edit"]["changes"][uri]), PROFILE)

    def test_outline_folds_colours(self):
        uri = self.open()
        items = self.client.request("textDocument/documentSymbol", {"textDocument": {"uri": uri}})
        self.assertEqual([item["name"] for item in items],
                         ["level", "core", "io", "protect core", "protect io", "run", "safe",
                          "expect trip core by fuse under shorted"])
        self.assertEqual([part["name"] for part in items[5]["children"]], ["up"])
        folds = self.client.request("textDocument/foldingRange", {"textDocument": {"uri": uri}})
        self.assertEqual([(fold["startLine"] + 1, fold["endLine"] + 1) for fold in folds], [(14, 28), (20, 25)])
        legend = self.client.abilities["semanticTokensProvider"]["legend"]["tokenTypes"]
        data = self.client.request("textDocument/semanticTokens/full", {"textDocument": {"uri": uri}})["data"]
        words, line, column = [], 0, 0
        lines = PROFILE.split("\n")
        for i in range(0, len(data), 5):
            column = data[i + 1] + (column if data[i] == 0 else 0)
            line += data[i]
            words.append((lines[line][column:column + data[i + 2]], legend[data[i + 3]]))
        self.assertEqual(words[:2], [("profile", "keyword"), ("\"Board\"", "string")])
        for word in (("level", "parameter"), ("core", "variable"), ("ch1", "property"), ("io_up", "function"),
                     ("5 V", "number"), ("ceiling", "keyword"), ("shorted", "event"), ("v_io", "variable")):
            self.assertIn(word, words)
        load = self.open("board.load.yaml")
        names = [item["name"] for item in self.client.request("textDocument/documentSymbol", {"textDocument": {"uri": load}})]
        self.assertEqual(names, ["heater", "shorted"])

    def test_formatting(self):
        uri = self.open(text=PROFILE.replace("  limit core to 1 A, io", "     limit core to 1A ,io"))
        edits = self.client.request("textDocument/formatting", {"textDocument": {"uri": uri},
                                                                "options": {"tabSize": 2, "insertSpaces": True}})
        self.assertEqual(apply(self.client.texts[uri][1], edits), PROFILE)
        self.assertEqual(len(edits), 1)
        self.assertLess(len(edits[0]["newText"]), 40)
        self.client.change(uri, PROFILE)
        self.assertEqual(self.client.request("textDocument/formatting", {
            "textDocument": {"uri": uri}, "options": {"tabSize": 2, "insertSpaces": True}}), [])

    def test_positions_count_utf_16_units(self):
        # U+1F50B takes two units, U+00B5 one.
        text = PROFILE.replace("profile \"Board\"", "profile \"\U0001F50B\u00B5\"; let spare = 1 V")
        uri = self.open(text=text)
        self.client.wait_for(lambda: ("unused-name", 1) in self.named(uri))
        first = self.client.findings[uri][0]
        self.assertEqual(first["range"]["start"], {"line": 0, "character": 19})
        self.assertEqual(text[offset_of(text, first["range"]["start"]):offset_of(text, first["range"]["end"])], "spare")
        at = text.index("spare")
        self.client.edit(uri, at, at + 5, "other")
        self.client.wait_for(lambda: self.client.versions.get(uri) == 2)
        self.assertIn("`other`", self.client.findings[uri][0]["message"])


class InBytes(InFolder):
    abilities = {"general": {"positionEncodings": ["utf-8", "utf-16"]}}

    def test_positions_count_bytes_where_the_client_offers_that(self):
        self.assertEqual(self.client.abilities["positionEncoding"], "utf-8")
        uri = self.open(text="profile \"\U0001F50B\u00B5\"; let spare = 1 V\n" + PROFILE.split("\n", 1)[1])
        self.client.wait_for(lambda: ("unused-name", 1) in self.named(uri))
        self.assertEqual(self.client.findings[uri][0]["range"]["start"], {"line": 0, "character": 22})
        self.assertNotIn("relatedInformation", self.client.findings[uri][0])
        flat = self.client.request("textDocument/documentSymbol", {"textDocument": {"uri": uri}})
        self.assertIn("location", flat[0])


if __name__ == "__main__":
    sys.exit(main())
