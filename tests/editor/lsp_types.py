"""Checks messages of the server against the types that `vscode-languageserver-protocol` publishes for LSP 3.17.

RAMPART_LSP_TYPES names a folder where that package and `typescript` are installed (npm install
vscode-languageserver-protocol@3.17.5 typescript@5.4). Each message becomes a constant of its type, and the compiler says which of
them are none: what is missing, what is of another type, and what the type does not have.
"""
import json
import pathlib
import subprocess
import tempfile

# The names under which the package has the requests and notifications that are used here.
REQUESTS = {
    "initialize": "InitializeRequest", "shutdown": "ShutdownRequest", "textDocument/hover": "HoverRequest",
    "textDocument/completion": "CompletionRequest", "textDocument/definition": "DefinitionRequest",
    "textDocument/references": "ReferencesRequest", "textDocument/documentHighlight": "DocumentHighlightRequest",
    "textDocument/prepareRename": "PrepareRenameRequest", "textDocument/rename": "RenameRequest",
    "textDocument/documentSymbol": "DocumentSymbolRequest", "textDocument/foldingRange": "FoldingRangeRequest",
    "textDocument/formatting": "DocumentFormattingRequest", "textDocument/semanticTokens/full": "SemanticTokensRequest",
    "textDocument/inlayHint": "InlayHintRequest", "textDocument/codeAction": "CodeActionRequest",
}
NOTIFICATIONS = {"textDocument/publishDiagnostics": "PublishDiagnosticsNotification",
                 "window/logMessage": "LogMessageNotification"}
OF_THE_SERVER = {"client/registerCapability": "RegistrationRequest",
                 "window/workDoneProgress/create": "WorkDoneProgressCreateRequest"}
PROGRESS = "{token: lsp.ProgressToken, value: lsp.WorkDoneProgressBegin | lsp.WorkDoneProgressEnd}"
HEAD = """import * as lsp from 'vscode-languageserver-protocol';
type Sent<R> = [R] extends [void] ? null : R;
type Result<T> = T extends lsp.ProtocolRequestType0<infer R, any, any, any> ? Sent<R>
  : T extends lsp.ProtocolRequestType<any, infer R, any, any, any> ? R : never;
type Params<T> = T extends lsp.ProtocolNotificationType<infer P, any> ? P
  : T extends lsp.ProtocolRequestType<infer P, any, any, any, any> ? P : never;
"""
MOST = 3000
ENUMERATED = ("kind", "severity", "positionEncoding")  # of these each value is a shape of its own


def shape(value):
    """What two messages of the same form have in common."""
    if isinstance(value, dict):
        return "{" + ",".join(name + ":" + (json.dumps(one) if name in ENUMERATED else shape(one))
                              for name, one in sorted(value.items())) + "}"
    if isinstance(value, list):
        return "[" + ",".join(sorted({shape(one) for one in value})) + "]"
    return type(value).__name__


class Types:
    def __init__(self, folder):
        self.folder = pathlib.Path(folder).resolve()
        self.kept = {}
        self.seen = 0

    def keep(self, message, asked):
        """Keeps a message of the server for the check; `asked` has the methods of the client's requests by id."""
        self.seen += 1
        assert message["jsonrpc"] == "2.0", message
        if "method" in message:
            if message["method"] == "$/progress":
                return self.add(PROGRESS, message["params"])
            known = OF_THE_SERVER if "id" in message else NOTIFICATIONS
            assert message["method"] in known, message
            self.add("Params<typeof lsp.%s.type>" % known[message["method"]], message["params"])
        elif "error" in message:
            assert "result" not in message, message
            self.add("{code: number, message: string}", message["error"])
        else:
            self.add("Result<typeof lsp.%s.type>" % REQUESTS[asked[message["id"]]], message["result"])

    def add(self, kind, value):
        key = kind + shape(value)
        if key not in self.kept and len(self.kept) < MOST:
            self.kept[key] = (kind, value)

    def check(self):
        """What the compiler says of all that was kept; empty if all of it fits."""
        text = HEAD + "".join("const m%d: %s =\n  %s;\n" % (i, kind, json.dumps(value)) for i, (kind, value) in
                              enumerate(self.kept.values()))
        with tempfile.TemporaryDirectory(dir=self.folder) as work:
            source = pathlib.Path(work) / "messages.ts"
            source.write_text(text, encoding="utf-8")
            options = {"noEmit": True, "strict": True, "skipLibCheck": True, "module": "node16", "target": "es2020",
                       "moduleResolution": "node16", "types": []}
            (pathlib.Path(work) / "tsconfig.json").write_text(json.dumps({"compilerOptions": options, "files": [source.name]}))
            done = subprocess.run(["node", str(self.folder / "node_modules/typescript/bin/tsc"), "--project", work],
                                  capture_output=True, text=True, cwd=self.folder)
            lines = text.split("\n")
            said = []
            for line in done.stdout.splitlines():
                said.append(line)
                if "messages.ts(" in line:
                    number = int(line.split("messages.ts(")[1].split(",")[0])
                    said.append("  " + lines[number - 2][:300] + " " + lines[number - 1][:300])
            return "" if done.returncode == 0 else "\n".join(said)[:5000] + done.stderr
