"""A client of the language server for its tests: frames, requests, and what the server has said so far.

Where RAMPART_LSP_TYPES names a folder with the published types of LSP 3.17, every message of the server is held against them.
"""
import json
import os
import pathlib
import queue
import subprocess
import threading
import time

from lsp_types import Types

TYPES = Types(os.environ["RAMPART_LSP_TYPES"]) if os.environ.get("RAMPART_LSP_TYPES") else None
ABILITIES = {
    "general": {"positionEncodings": ["utf-16"]},
    "window": {"workDoneProgress": True},
    "workspace": {"didChangeWatchedFiles": {"dynamicRegistration": True}},
    "textDocument": {
        "hover": {"contentFormat": ["markdown"]},
        "documentSymbol": {"hierarchicalDocumentSymbolSupport": True},
        "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["quickfix"]}}},
        "publishDiagnostics": {"relatedInformation": True, "versionSupport": True},
        "rename": {"prepareSupport": True},
    },
}


class Client:
    def __init__(self, program, folder=None, abilities=ABILITIES, options=None, start=True):
        self.server = subprocess.Popen([program, "language-server"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.messages = queue.Queue()
        self.findings = {}      # by URI: the last list
        self.versions = {}      # by URI: the version that it was said of
        self.ended = {}         # by URI: the version whose simulation ended last
        self.asked = {}         # our requests by id: their methods
        self.next_id = 0
        self.texts = {}
        self.reader = threading.Thread(target=self.read_all, daemon=True)
        self.reader.start()
        if start:
            folders = [{"uri": pathlib.Path(folder).as_uri(), "name": "here"}] if folder else None
            answer = self.request("initialize", {"processId": None, "rootUri": None, "capabilities": abilities,
                                                 "workspaceFolders": folders, "initializationOptions": options or {}})
            self.abilities = answer["capabilities"]
            self.notify("initialized", {})

    def read_all(self):
        stream = self.server.stdout
        while True:
            length = None
            while True:
                line = stream.readline()
                if not line:
                    self.messages.put(None)
                    return
                if line == b"\r\n":
                    break
                name, value = line.decode("ascii").split(":")
                if name.lower() == "content-length":
                    length = int(value)
            message = json.loads(stream.read(length).decode("utf-8"))
            self.messages.put(message)

    def write(self, data):
        self.server.stdin.write(data)
        self.server.stdin.flush()

    def send(self, message):
        text = json.dumps(message).encode("utf-8")
        self.write(b"Content-Length: %d\r\n\r\n" % len(text) + text)

    def notify(self, method, params):
        self.send({"jsonrpc": "2.0", "method": method, "params": params})

    def ask(self, method, params, id=None):
        """Sends a request and gives its id."""
        if id is None:
            self.next_id += 1
            id = self.next_id
        self.asked[id] = method
        self.send({"jsonrpc": "2.0", "id": id, "method": method, "params": params})
        return id

    def take(self, timeout=60):
        """The next message, after it has been kept where it belongs."""
        message = self.messages.get(timeout=timeout)
        if message is None:
            return None
        if TYPES:
            TYPES.keep(message, self.asked)
        if message.get("method") == "textDocument/publishDiagnostics":
            self.findings[message["params"]["uri"]] = message["params"]["diagnostics"]
            self.versions[message["params"]["uri"]] = message["params"].get("version")
        elif "method" in message and "id" in message:
            self.send({"jsonrpc": "2.0", "id": message["id"], "result": None})
        if message.get("method") == "$/progress" and message["params"]["value"]["kind"] == "end":
            self.ended = dict(self.versions)
        return message

    def answer(self, id, timeout=60):
        """The answer to a request, as it came."""
        while True:
            message = self.take(timeout)
            if message is None:
                raise AssertionError("the server ended")
            if message.get("id") == id and "method" not in message:
                return message

    def request(self, method, params, timeout=60):
        message = self.answer(self.ask(method, params), timeout)
        if "error" in message:
            raise AssertionError("%s: %s" % (method, message["error"]))
        return message["result"]

    def error(self, method, params):
        """The code of the error that the request is answered by."""
        return self.answer(self.ask(method, params))["error"]["code"]

    def open(self, path, text=None, language="rampart"):
        path = pathlib.Path(path)
        text = path.read_text(encoding="utf-8") if text is None else text
        uri = path.as_uri()
        self.texts[uri] = [1, text]
        self.notify("textDocument/didOpen", {"textDocument": {"uri": uri, "languageId": language, "version": 1, "text": text}})
        return uri

    def change(self, uri, text):
        """The whole text anew."""
        self.texts[uri] = [self.texts[uri][0] + 1, text]
        self.notify("textDocument/didChange", {"textDocument": {"uri": uri, "version": self.texts[uri][0]},
                                               "contentChanges": [{"text": text}]})

    def edit(self, uri, begin, end, by):
        """The code points from begin to end replaced, told as a range."""
        version, text = self.texts[uri]
        change = {"range": {"start": place(text, begin), "end": place(text, end)}, "text": by}
        self.texts[uri] = [version + 1, text[:begin] + by + text[end:]]
        self.notify("textDocument/didChange", {"textDocument": {"uri": uri, "version": version + 1},
                                               "contentChanges": [change]})

    def at(self, uri, what, offset=0):
        """Parameters of a request at a part of the text."""
        text = self.texts[uri][1]
        return {"textDocument": {"uri": uri}, "position": place(text, text.index(what) + offset)}

    def settle_on(self, uri):
        """Waits until all has been said of a text as it is, the simulation included."""
        self.wait_for(lambda: self.ended.get(uri) == self.texts[uri][0])

    def wait_for(self, condition, longest=60):
        end = time.monotonic() + longest
        while not condition():
            if time.monotonic() > end:
                raise AssertionError("it never came: " + json.dumps(self.findings)[:2000])
            try:
                self.take(timeout=max(0.01, end - time.monotonic()))
            except queue.Empty:
                pass

    def kill(self):
        self.server.kill()
        self.server.wait()
        self.reader.join()
        for stream in (self.server.stdin, self.server.stdout):
            try:
                stream.close()
            except BrokenPipeError:
                pass

    def end(self):
        self.request("shutdown", None)
        self.notify("exit", None)
        code = self.server.wait(timeout=30)
        self.server.stdout.close()
        self.server.stdin.close()
        return code


def place(text, offset):
    """Where an offset in code points stands, in lines and UTF-16 units."""
    line = text.count("\n", 0, offset)
    start = text.rfind("\n", 0, offset) + 1
    return {"line": line, "character": len(text[start:offset].encode("utf-16-le")) // 2}


def offset_of(text, position):
    """The same the other way."""
    lines = text.split("\n")
    before = sum(len(line) + 1 for line in lines[:position["line"]])
    units = lines[position["line"]].encode("utf-16-le")[:2 * position["character"]]
    return before + len(units.decode("utf-16-le"))


def apply(text, edits):
    """A text after the edits of a server."""
    for edit in sorted(edits, key=lambda one: offset_of(text, one["range"]["start"]), reverse=True):
        begin, end = offset_of(text, edit["range"]["start"]), offset_of(text, edit["range"]["end"])
        text = text[:begin] + edit["newText"] + text[end:]
    return text
