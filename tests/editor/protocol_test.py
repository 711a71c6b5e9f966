#!/usr/bin/env python3
"""What does not follow the protocol is answered by the protocol's own errors, and the server goes on. usage: protocol_test.py PROGRAM

Error codes: JSON-RPC 2.0, section 5.1, and LSP 3.17, ErrorCodes.
"""
import json
import os
import pathlib
import random
import subprocess
import sys
import time
import unittest

from client import Client
from folder import LIBRARY, PROFILE, PROGRAM, InFolder, main
from sanitized import unless_sanitized

PARSE, INVALID, METHOD, PARAMS = -32700, -32600, -32601, -32602
NOT_INITIALIZED, CANCELLED, FAILED = -32002, -32800, -32803
# Edits that the memory test makes; its long form makes ten times as many.
EDITS = int(os.environ.get("RAMPART_EDITOR_EDITS", "1500"))


def resident_kib(process):
    status = pathlib.Path("/proc/%d/status" % process.pid).read_text()
    return int(status.split("VmRSS:")[1].split()[0])


class Protocol(InFolder):
    def another(self, **how):
        one = Client(PROGRAM, **how)
        self.addCleanup(one.kill)
        return one

    def test_before_initialize_and_after_shutdown(self):
        one = self.another(start=False)
        self.assertEqual(one.error("textDocument/hover", {}), NOT_INITIALIZED)
        one.notify("textDocument/didOpen", {"textDocument": {"uri": "file:///a.ramp", "languageId": "", "version": 1, "text": ""}})
        one.request("initialize", {"processId": None, "rootUri": None, "capabilities": {}})
        self.assertEqual(one.error("initialize", {"processId": None, "rootUri": None, "capabilities": {}}), INVALID)
        one.request("shutdown", None)
        self.assertEqual(one.error("textDocument/hover", {}), INVALID)
        self.assertEqual(one.error("shutdown", None), INVALID)
        one.notify("exit", None)
        self.assertEqual(one.server.wait(timeout=30), 0)

    def test_an_end_without_shutdown_is_code_1(self):
        for end in (lambda one: one.notify("exit", None), lambda one: one.server.stdin.close()):
            one = self.another()
            end(one)
            self.assertEqual(one.server.wait(timeout=30), 1)

    def answers(self):
        """The server still answers."""
        uri = self.open()
        self.assertIsNotNone(self.client.request("textDocument/hover", self.client.at(uri, "level =")))

    def broken(self, data, code=PARSE):
        self.client.write(data)
        message = self.client.take()
        while "method" in message:
            message = self.client.take()
        self.assertIsNone(message["id"])
        self.assertEqual(message["error"]["code"], code, message)
        return message["error"]["message"]

    def test_frames_that_make_no_sense(self):
        self.broken(b"Content-Length: 5\r\n\r\n{\"a\":")
        self.broken(b"Content-Length: 3\r\n\r\n\xff\xfe\x00")
        self.assertIn("without Content-Length", self.broken(b"Content-Type: a\r\n\r\n"))
        self.assertIn("not a number", self.broken(b"Content-Length: five\r\n\r\n"))
        self.broken(b"Content-Length: -5\r\n\r\n")
        self.broken(b"Content-Length: 99999999999999999999999\r\n\r\n")
        self.assertIn("without a colon", self.broken(b"what is this\r\n"))
        self.assertIn("4 KiB", self.broken(b"X: " + b"y" * 10000 + b"\r\n"))
        self.answers()

    @unless_sanitized
    def test_a_message_that_is_too_long_is_skipped(self):
        size = (64 << 20) + 1
        self.client.write(b"Content-Length: %d\r\n\r\n" % size)
        for _ in range(64):
            self.client.write(b" " * (1 << 20))
        before = resident_kib(self.client.server)
        self.client.write(b" ")
        self.assertIn("64 MiB", self.broken(b""))
        self.assertLess(before, 60000)
        self.answers()

    def test_a_length_that_is_not_there_ends_with_the_input(self):
        one = self.another()
        one.write(b"Content-Length: 1000000\r\n\r\n{}")
        one.server.stdin.close()
        self.assertEqual(one.server.wait(timeout=30), 1)

    def test_messages_that_are_no_requests(self):
        for text in ("[]", "3", "null", "{}", "{\"id\": 1}", "{\"method\": 3, \"id\": 1}", "[" * 100000 + "]" * 100000,
                     "{\"method\": \"shutdown\", \"id\": [1]}", "{\"method\": \"shutdown\", \"id\": 1.5}"):
            data = text.encode()
            self.broken(b"Content-Length: %d\r\n\r\n" % len(data) + data, INVALID)
        self.answers()

    def test_messages_that_nest_too_deeply(self):
        for levels in (62, 63, 100000):
            text = '{"method": "$/cancelRequest", "params": {"id": %s%s}}' % ("[" * levels, "]" * levels)
            data = b"Content-Length: %d\r\n\r\n" % len(text) + text.encode()
            if levels == 62:
                self.client.write(data)
            else:
                self.assertIn("too deeply", self.broken(data, INVALID))
        self.answers()

    def test_methods_and_parameters(self):
        uri = self.open()
        self.assertEqual(self.client.error("textDocument/unheardOf", {}), METHOD)
        self.assertEqual(self.client.error("$/unheardOf", {}), METHOD)
        self.client.notify("$/unheardOf", {})
        self.client.notify("textDocument/unheardOf", 3)
        at = self.client.at(uri, "level")
        for wrong in (None, 3, [], {}, {"textDocument": 3}, {"textDocument": {"uri": uri}},
                      dict(at, position={"line": -1, "character": 0}), dict(at, position={"line": 1.5, "character": 0}),
                      dict(at, position={"line": "1", "character": 0}), dict(at, position=[]),
                      dict(at, textDocument={"uri": 3}), dict(at, textDocument={"uri": uri + "x"})):
            self.assertEqual(self.client.error("textDocument/hover", wrong), PARAMS, wrong)
        # Places beyond the text are its end.
        for position in ({"line": 10 ** 9, "character": 0}, {"line": 0, "character": 2 ** 31 - 1}):
            self.client.request("textDocument/hover", dict(at, position=position))
            self.client.request("textDocument/completion", dict(at, position=position))
        for wrong in ({}, {"textDocument": {"uri": uri, "version": 2}, "contentChanges": 3},
                      {"textDocument": {"uri": uri, "version": 2}, "contentChanges": [{"range": {}, "text": "a"}]},
                      {"textDocument": {"uri": uri, "version": "2"}, "contentChanges": []},
                      {"textDocument": {"uri": "file:///never-opened", "version": 2}, "contentChanges": [{"text": "a"}]}):
            self.client.notify("textDocument/didChange", wrong)
        self.client.notify("textDocument/didClose", {"textDocument": {"uri": "file:///never-opened"}})
        self.answers()

    def test_cancelled_requests(self):
        uri = self.open()
        parts = []
        for i in range(200):
            parts.append({"jsonrpc": "2.0", "id": "r%d" % i, "method": "textDocument/semanticTokens/full",
                          "params": {"textDocument": {"uri": uri}}})
            self.client.asked["r%d" % i] = parts[-1]["method"]
        parts += [{"jsonrpc": "2.0", "method": "$/cancelRequest", "params": {"id": "r%d" % i}} for i in range(200)]
        data = b""
        for part in parts:
            text = json.dumps(part).encode()
            data += b"Content-Length: %d\r\n\r\n" % len(text) + text
        self.client.write(data)
        codes = [self.client.answer("r%d" % i).get("error", {}).get("code") for i in range(200)]
        self.assertLessEqual(set(codes), {None, CANCELLED})
        self.assertIn(CANCELLED, codes)
        # The same id again is another request.
        self.assertIn("result", self.client.answer(self.client.ask("textDocument/semanticTokens/full",
                                                                   {"textDocument": {"uri": uri}}, "r199")))

    def test_files_that_vanish_and_come_back(self):
        uri = self.open()
        self.client.settle_on(uri)
        for name in ("board.bench.yaml", "board.load.yaml", "library.ramp"):
            text = (self.folder / name).read_text()
            (self.folder / name).unlink()
            self.client.notify("workspace/didChangeWatchedFiles", {"changes": []})
            self.client.wait_for(lambda: any(code == "unreadable" for code, _ in self.named(uri)))
            self.client.request("textDocument/hover", self.client.at(uri, "level ="))
            self.client.request("textDocument/references", dict(self.client.at(uri, "io on"),
                                                                context={"includeDeclaration": True}))
            self.write(name, text)
            self.client.notify("workspace/didChangeWatchedFiles", {"changes": []})
            self.client.wait_for(lambda: self.named(uri) == [])
        (self.folder / "board.ramp").unlink()
        self.client.notify("textDocument/didClose", {"textDocument": {"uri": uri}})
        self.assertEqual(self.client.error("textDocument/hover", self.client.at(uri, "level =")), PARAMS)

    def test_texts_of_every_kind(self):
        """Hostile texts get findings or nothing, and every request an answer."""
        texts = ["", "\ufeff" + PROFILE, "\0", "\r\n" * 10, "\r", "{" * 10000, "run {" * 300, "x" * 1_000_000,
                 "let a = " + "(" * 5000, "\"", "import \"board.ramp\"\n" + PROFILE, "bench \"board.ramp\"\nload \"library.ramp\"\nrun { }",
                 "import \"../\"\nbench \"/dev/zero\"\nload \"/dev/stdin\"\n", "\U0001F50B" * 1000, LIBRARY * 2]
        uri = self.open()
        for text in texts:
            self.client.change(uri, text)
            at = {"textDocument": {"uri": uri}, "position": {"line": 0, "character": min(7, len(text))}}
            everything = {"start": {"line": 0, "character": 0}, "end": {"line": 10 ** 6, "character": 0}}
            for method, params in (("hover", at), ("completion", at), ("definition", at), ("prepareRename", at),
                                   ("references", dict(at, context={"includeDeclaration": True})), ("documentHighlight", at),
                                   ("documentSymbol", at), ("foldingRange", at), ("semanticTokens/full", at),
                                   ("formatting", dict(at, options={"tabSize": 2, "insertSpaces": True})),
                                   ("inlayHint", dict(at, range=everything)),
                                   ("codeAction", dict(at, range=everything, context={"diagnostics": []}))):
                params = {key: value for key, value in params.items() if key != "position" or "ange" not in method}
                self.assertIn("result", self.client.answer(self.client.ask("textDocument/" + method, params)), method)
        self.client.change(uri, PROFILE)
        self.client.wait_for(lambda: self.named(uri) == [] and self.client.versions[uri] == self.client.texts[uri][0])

    @unless_sanitized
    def test_memory_does_not_grow_with_edits(self):
        uri = self.open()
        dice = random.Random(7)
        self.client.settle_on(uri)
        sizes = []
        for i in range(EDITS):
            text = self.client.texts[uri][1]
            at = dice.randrange(len(text))
            if i % 10 == 9:
                self.client.change(uri, PROFILE)
            else:
                self.client.edit(uri, at, min(len(text), at + dice.randrange(3)), dice.choice(["a", " ", "1", "\n", "}", ""]))
            self.client.request("textDocument/semanticTokens/full", {"textDocument": {"uri": uri}})
            if i in (EDITS // 3, EDITS - 1):
                sizes.append(resident_kib(self.client.server))
        self.assertLess(sizes[1] - sizes[0], 8192, sizes)
        print("%d edits: %d KiB resident after a third, %d KiB at the end" % (EDITS, *sizes))

    def test_an_output_that_is_closed_ends_it(self):
        one = subprocess.Popen([PROGRAM, "language-server"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        one.stdout.close()
        text = json.dumps({"jsonrpc": "2.0", "id": 1, "method": "nothing"}).encode()
        one.stdin.write(b"Content-Length: %d\r\n\r\n" % len(text) + text)
        one.stdin.flush()
        self.assertEqual(one.wait(timeout=30), 1)
        one.stdin.close()


if __name__ == "__main__":
    sys.exit(main())
