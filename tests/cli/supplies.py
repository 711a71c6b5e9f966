"""Supplies on the loopback address, and link files that lead to them, for the tests of `run` and `off`."""
import json
import pathlib
import socket
import subprocess
import sys
import tempfile

SUPPLY = pathlib.Path(__file__).resolve().parents[1] / "support/loopback_supply.py"
# What our supply says in words of its own: the standards have none for these.
OWN_MESSAGES = {
    "fuse_delay": "SOURce{channel}:CURRent:PROTection:DELay {delay_s}",
    "fuse_delay_set": "SOURce{channel}:CURRent:PROTection:DELay?",
    "overpower_delay": "SOURce{channel}:POWer:PROTection:DELay {delay_s}",
    "overpower_delay_set": "SOURce{channel}:POWer:PROTection:DELay?",
    "overtemperature_tripped": "SOURce{channel}:TEMPerature:PROTection:TRIPped?",
    "sense_remote": "SOURce{channel}:SENSe:REMote ON",
    "sense_local": "SOURce{channel}:SENSe:REMote OFF",
    "sense_is_remote": "SOURce{channel}:SENSe:REMote?",
    "line_high": "LINE{line}:LEVel ON",
    "line_low": "LINE{line}:LEVel OFF",
    "line_state": "LINE{line}:LEVel?",
}


class LoopbackSupply:
    """One supply in a process of its own."""

    def __init__(self, test, folder, name, **configuration):
        self.name, self.folder = name, pathlib.Path(folder)
        self.serial = configuration.setdefault("serial", "S-" + name)
        self.channels = len(configuration.get("loads", [{}]))
        self.record_path = self.folder / (name + ".record")
        path = self.folder / (name + ".supply.json")
        path.write_text(json.dumps(dict(configuration, record=str(self.record_path))))
        self.process = subprocess.Popen([sys.executable, "-B", str(SUPPLY), str(path)], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, text=True)
        test.addCleanup(self.stop)
        self.place = self.process.stdout.readline().strip()

    def stop(self):
        self.process.stdin.close()
        self.process.wait(timeout=10)
        self.process.stdout.close()
        # A player that was killed leaves its lock file, which keeps nobody out.
        for folder in ("/run/lock", tempfile.gettempdir()):
            pathlib.Path(folder, "rampart-127-0-0-1-port-%s.lock" % self.place).unlink(missing_ok=True)

    def do(self, what, **more):
        self.process.stdin.write(json.dumps(dict(more, do=what)) + "\n")
        self.process.stdin.flush()

    def wire(self, other):
        """A cable between the trigger lines: a fuse of one takes the outputs of the other off."""
        self.do("wire", port=int(other.place))
        other.do("wire", port=int(self.place))

    def ask(self, message):
        """Another controller of the same supply asks."""
        with socket.create_connection(("127.0.0.1", int(self.place)), timeout=10) as connection:
            connection.sendall(message.encode() + b"\n")
            return connection.makefile().readline().strip()

    def record(self):
        return [json.loads(line) for line in self.record_path.read_text().splitlines()]

    def messages(self):
        return [entry["message"] for entry in self.record()]

    def violations(self):
        return [entry for entry in self.record() if entry["error"]]

    def link(self, keys="", messages=None, serial=None, transport="tcp"):
        """Its part of a link file."""
        reach = {"tcp": "tcp: {address: 127.0.0.1, port: %s}", "serial": "serial: {device: %s, baud: 115200}",
                 "usbtmc": "usbtmc: {device: %s}"}[transport] % self.place
        texts = dict(OWN_MESSAGES, **(messages or {}))
        channels = ", ".join("ch%d: %d" % (number + 1, number + 1) for number in range(self.channels))
        lines = ["  %s:" % self.name, "    " + reach, "    serial_number: %s" % (serial or self.serial),
                 "    channels: {%s}" % channels, "    lines: {line1: 1, line2: 2}"]
        lines += ["    " + key for key in keys.splitlines()]
        lines += ["    messages:"] + ["      %s: %s" % (key, json.dumps(text)) for key, text in texts.items()]
        return "\n".join(lines) + "\n"


def link_file(*parts):
    return "link: Supplies on this computer\nsupplies:\n" + "".join(parts)
