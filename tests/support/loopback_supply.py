#!/usr/bin/env python3
"""A supply that exists only on this computer, for the tests of `rampart run` and `rampart off`. It is a process of its own and
shares no code with the program: it reads program messages by its own strict reader of SCPI-1999 and IEEE 488.2, has
protections, links, a clock that can be faster than the real one, and loads whose voltage is known in closed form. It can be slow, drop bytes, answer nonsense, trip and
vanish.

usage: loopback_supply.py CONFIGURATION.json

It listens on the loopback address alone, or on a pseudo-terminal, and prints where as its first line. Each line of its
standard input is a deed in JSON that it does at once: {"do": "trip", "channel": 1, "cause": "overvoltage"}. What it was sent
is written to the file `record`, one JSON object a message.

Sections of IEEE 488.2-1992 and SCPI-1999 are from memory.
"""
import contextlib
import json
import math
import os
import pty
import re
import select
import socket
import sys
import threading
import time
import tty

LONGEST_MESSAGE = 255  # what lists of `build` keep to as well
# IEEE 488.2, 7.7.2.2: NRf.
NRF = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
# IEEE 488.2, 11.5.1.1: bits of the standard event status register.
QUERY_ERROR, EXECUTION_ERROR, COMMAND_ERROR, USER_REQUEST, POWER_ON = 4, 16, 32, 64, 128


class MessageError(Exception):
    """An error of SCPI-1999, volume 2, 21.8: number and text."""

    def __init__(self, number, text):
        super().__init__('%d,"%s"' % (number, text))
        self.bit = COMMAND_ERROR if number > -200 else EXECUTION_ERROR


# The headers that it knows, in the notation of SCPI-1999, volume 1, 6.2: capitals are the short form, parts in brackets may be
# left out, and `#` is where a number of a channel may stand. Those below the line are its own.
HEADERS = """
OUTPut#[:STATe]|output
[:SOURce#]:VOLTage[:LEVel][:IMMediate][:AMPLitude]|voltage
[:SOURce#]:CURRent[:LEVel][:IMMediate][:AMPLitude]|current
[:SOURce#]:VOLTage:PROTection[:LEVel]|ovp
[:SOURce#]:VOLTage:PROTection:STATe|ovp_on
[:SOURce#]:VOLTage:PROTection:TRIPped|ovp_tripped
[:SOURce#]:CURRent:PROTection[:LEVel]|fuse
[:SOURce#]:CURRent:PROTection:STATe|fuse_on
[:SOURce#]:CURRent:PROTection:TRIPped|fuse_tripped
[:SOURce#]:POWer:PROTection[:LEVel]|opp
[:SOURce#]:POWer:PROTection:STATe|opp_on
[:SOURce#]:POWer:PROTection:TRIPped|opp_tripped
MEASure#[:SCALar]:VOLTage[:DC]|measured_voltage
MEASure#[:SCALar]:CURRent[:DC]|measured_current
SYSTem:ERRor[:NEXT]|error
SYSTem:LOCK:REQuest|lock
SYSTem:LOCK:RELease|unlock
STATus:QUEStionable:INSTrument:ISUMmary#:CONDition|condition
[:SOURce#]:CURRent:PROTection:DELay|fuse_delay
[:SOURce#]:POWer:PROTection:DELay|opp_delay
[:SOURce#]:TEMPerature:PROTection:TRIPped|otp_tripped
[:SOURce#]:SENSe:REMote|remote
LINE#[:LEVel]|line
WATChdog:TIME|watchdog
WATChdog:FEED|feed
""".split()
# Which bit of the condition register says what is left to the maker of a supply: these are its own.
CONDITION_BITS = {"constant_current": 0, "constant_voltage": 1, "overvoltage": 9, "fuse": 10, "overpower": 11}
TRUTHS = ("output", "ovp_on", "fuse_on", "opp_on", "remote", "line")
NUMBERS = ("voltage", "current", "ovp", "fuse", "opp", "fuse_delay", "opp_delay", "watchdog")
ONLY_ASKED = ("ovp_tripped", "fuse_tripped", "opp_tripped", "otp_tripped", "measured_voltage", "measured_current", "error", "lock",
              "condition")
ONLY_TOLD = ("unlock", "feed")


def header_patterns():
    for row in HEADERS:
        notation, what = row.split("|")
        pattern = ""
        for opening, mnemonic, number in re.findall(r"(\[)?:?([A-Za-z]+)(#?)\]?", notation):
            short = re.match("[A-Z]+", mnemonic).group()
            part = "(?:%s|%s)%s" % (short, mnemonic.upper(), r"(?P<number>\d*)" if number else "")
            part = ":" + part if pattern else part + "(?::|$)" if opening and not pattern else part
            pattern += "(?:%s)?" % part if opening else part
        pattern = pattern.replace("(?::|$))?:", ":)?")
        yield re.compile(pattern), what


PATTERNS = list(header_patterns())


# An output that slews does so in steps of this, s.
SLEW_STEP = 5e-5


class Channel:
    """One output and its load. The load is known in closed form: a resistor, or a capacitor with a resistor across it behind
    a series resistance, so that its voltage follows exponentials."""

    def __init__(self, load):
        self.load = dict({"ohm": 1e9, "farad": 0.0, "series": 0.001, "volts": 0.0, "fails_at": math.inf, "slew": math.inf}, **load)
        self.age = 0.0  # of the load, in the instrument's time
        self.set = {"output": False, "voltage": 0.0, "current": 0.0, "ovp": 0.0, "ovp_on": False, "fuse": 0.0, "fuse_on": False,
                    "opp": 0.0, "opp_on": False, "fuse_delay": 0.0, "opp_delay": 0.0, "remote": False}
        self.level = 0.0  # what the output regulates to: the setpoint, as fast as `slew` (V/s) lets it follow
        self.tripped = None
        self.on_trip = lambda cause: None
        self.stored = self.load["volts"]  # across the capacitor
        self.limited = self.over = 0.0    # how long it has been in constant current, or above the power

    def state(self):
        """Terminal voltage, current, and whether it is in constant current."""
        ohm, series, farad = self.load["ohm"], self.load["series"], self.load["farad"]
        if not self.set["output"]:
            return (self.stored if farad else 0.0), 0.0, False
        volts, most = self.level, self.set["current"]
        current = (volts - self.stored) / series if farad else volts / (ohm + series)
        if current <= most:
            return volts, max(current, 0.0), False
        return (self.stored + most * series if farad else most * (ohm + series)), most, True

    def advance(self, seconds):
        """Goes on by so much. A load that fails at an age becomes another one then."""
        self.age += seconds
        if self.age > self.load["fails_at"]:
            self.load.update(self.load["becomes"], fails_at=math.inf)
        farad = self.load["farad"]
        while seconds > 0:
            step = min(seconds, self.follow_setpoint(seconds))
            volts, current, is_limited = self.state()
            if farad:
                ohm, series = self.load["ohm"], self.load["series"]
                if not self.set["output"]:
                    end, tau = 0.0, ohm * farad
                elif is_limited:
                    end, tau = current * ohm, ohm * farad
                else:
                    end, tau = self.level * ohm / (ohm + series), ohm * series / (ohm + series) * farad
                # While the output is on, a step must not go far beyond the end of constant current, or past a protection.
                if self.set["output"] and abs(self.stored - end) > 1e-6:
                    step = min(step, 1e-3)
                self.stored = end + (self.stored - end) * math.exp(-step / tau)
            seconds -= step
            self.limited = self.limited + step if is_limited else 0.0
            self.over = self.over + step if volts * current > self.set["opp"] else 0.0
            if self.set["output"]:
                self.protect(volts)

    def follow_setpoint(self, seconds):
        """Takes the output nearer to its setpoint, and gives how long it stays there, `seconds` at most."""
        wanted = self.set["voltage"]
        if not self.set["output"] or self.load["slew"] == math.inf:
            self.level = wanted
        if self.level == wanted:
            return seconds
        step = min(seconds, SLEW_STEP)
        most = self.load["slew"] * step
        self.level += max(-most, min(most, wanted - self.level))
        return step

    def protect(self, volts):
        if self.set["ovp_on"] and volts > self.set["ovp"]:
            self.trip("overvoltage")
        elif self.set["fuse_on"] and self.limited > self.set["fuse_delay"]:
            self.trip("fuse")
        elif self.set["opp_on"] and self.over > self.set["opp_delay"]:
            self.trip("overpower")

    def trip(self, cause):
        self.tripped = cause
        self.set["output"] = False
        self.on_trip(cause)

    def condition(self):
        """The condition register. What is off holds neither its voltage nor its limit."""
        _, _, is_limited = self.state()
        mode = ("constant_current" if is_limited else "constant_voltage") if self.set["output"] else None
        return sum(1 << bit for what, bit in CONDITION_BITS.items() if what in (mode, self.tripped))


class Supply:
    def __init__(self, configuration):
        self.configuration = configuration
        self.channels = {number + 1: Channel(load) for number, load in enumerate(configuration.get("loads", [{}]))}
        self.lines = {number + 1: False for number in range(configuration.get("lines", 2))}
        self.errors, self.events, self.is_mute = [], configuration.get("events", 0), False
        self.fed, self.watchdog = time.monotonic(), 0.0
        self.owner = None
        self.speed, self.then = configuration.get("speed", 1.0), time.monotonic()
        self.mutex, self.counts, self.arms, self.armed = threading.RLock(), {}, {}, set()
        self.is_listening = True
        for number, channel in self.channels.items():
            channel.on_trip = lambda cause, number=number: self.pass_on(number, cause)
        self.wires = []  # ports of the supplies that the trigger line leads to
        self.line = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.record = open(configuration["record"], "w", buffering=1, encoding="utf-8") if "record" in configuration else None
        for number in configuration.get("on", []):
            self.channels[number].set.update(output=True, voltage=5.0, current=1.0)
        for number in configuration.get("tripped", []):
            self.channels[number].trip("overvoltage")

    def pass_on(self, number, cause):
        """A fuse has acted: by its links it takes other outputs off, here and at the other end of the wire."""
        if cause != "fuse":
            return
        for linked in self.configuration.get("links", []):
            for other in linked if number in linked else []:
                if self.channels[other].set["output"]:
                    self.channels[other].trip("linked")
        # A wire is faster than any question: nobody is answered before the other end has acted.
        for port in self.wires:
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as end:
                end.settimeout(0.5)
                end.sendto(b"trip", ("127.0.0.1", port))
                with contextlib.suppress(TimeoutError):
                    end.recv(16)

    def follow_wire(self):
        """What comes over the wire switches all outputs off."""
        while True:
            _, other = self.line.recvfrom(16)
            with self.mutex:
                self.pass_time()
                for channel in self.channels.values():
                    if channel.set["output"]:
                        channel.trip("linked")
            self.line.sendto(b"off", other)

    def run_clock(self):
        """Protections act by themselves, not only when someone asks."""
        while True:
            time.sleep(0.01)
            with self.mutex:
                self.pass_time()

    def pass_time(self):
        now = time.monotonic()
        passed, self.then = (now - self.then) * self.speed, now
        for channel in self.channels.values():
            channel.advance(passed)
        if self.watchdog and now - self.fed > self.watchdog:
            for channel in self.channels.values():
                if channel.set["output"]:
                    channel.trip("watchdog")

    def do(self, deed):
        """A fault or an act of someone at the front panel."""
        what = deed["do"]
        with self.mutex:
            self.pass_time()
            channel = self.channels[deed.get("channel", 1)]
            if what == "trip":
                channel.trip(deed.get("cause", "overvoltage"))
            elif what == "off":
                channel.set["output"] = False
            elif what == "on":
                channel.set["output"] = True
            elif what == "event":
                self.events |= deed["bits"]
            elif what == "line":
                self.lines[deed["line"]] = deed["level"]
            elif what == "set":
                channel.set.update(deed["values"])
            elif what == "load":
                channel.load.update(deed["load"])
            elif what == "wire":
                self.wires.append(deed["port"])
            elif what == "power-cycle":
                for one in self.channels.values():
                    one.set.update(output=False, voltage=0.0, current=0.0)
                self.events |= POWER_ON
            elif what == "die":
                os._exit(1)
            else:
                raise ValueError(what)

    def channel(self, found):
        text = found.groupdict().get("number")
        number = int(text) if text else 1
        if number not in self.channels:
            raise MessageError(-114, "Header suffix out of range")
        return self.channels[number]

    def unit(self, text, connection):
        """One unit of a program message; its answer, or None."""
        head, blank, data = text.partition(" ")
        if blank and (not data or data[0] == " "):
            raise MessageError(-103, "Invalid separator")
        is_query = head.endswith("?")
        name = head.rstrip("?")
        if name.startswith("*"):
            return self.common(name.upper(), is_query, data)
        for pattern, what in PATTERNS:
            found = pattern.fullmatch(name.lstrip(":").upper())
            if found:
                return self.ask(what, found, data, connection) if is_query else self.tell(what, found, data)
        raise MessageError(-113, "Undefined header")

    def common(self, name, is_query, data):
        """IEEE 488.2, chapter 10."""
        if data:
            raise MessageError(-108, "Parameter not allowed")
        if is_query and name == "*IDN":
            return self.configuration.get("identity", "Tidewater Instruments,LB-2,%s,1.0" % self.configuration["serial"])
        if is_query and name == "*OPC":
            return "1"
        if is_query and name == "*ESR":
            events, self.events = self.events, 0
            return str(events)
        raise MessageError(-113, "Undefined header")

    def ask(self, what, found, data, connection):
        if data:
            raise MessageError(-108, "Parameter not allowed")
        if what == "error":
            return self.errors.pop(0) if self.errors else '0,"No error"'
        if what == "lock":
            self.owner = self.owner or connection
            return str(int(self.owner == connection))
        if what == "line":
            return str(int(self.lines[int(found["number"] or 1)]))
        if what == "watchdog":
            return repr(self.watchdog)
        if what in ONLY_TOLD:
            raise MessageError(-113, "Undefined header")
        channel = self.channel(found)
        if what == "condition":
            return str(channel.condition())
        if what.startswith("measured"):
            volts, current, _ = channel.state()
            return "%.6E" % (volts if what == "measured_voltage" else current)
        if what.endswith("_tripped"):
            causes = {"ovp_tripped": "overvoltage", "fuse_tripped": "fuse", "opp_tripped": "overpower", "otp_tripped": "overtemperature"}
            return str(int(channel.tripped == causes[what]))
        value = channel.set[what]
        return str(int(value)) if what in TRUTHS else "%.6E" % value

    def tell(self, what, found, data):
        if what in ONLY_ASKED:
            raise MessageError(-113, "Undefined header")
        if what in ONLY_TOLD:
            if data:
                raise MessageError(-108, "Parameter not allowed")
            self.fed = time.monotonic()
            self.owner = None if what == "unlock" else self.owner
            return None
        if not data:
            raise MessageError(-109, "Missing parameter")
        if what in TRUTHS:
            if data.upper() not in ("ON", "OFF", "1", "0"):
                raise MessageError(-104, "Data type error")
            value = data.upper() in ("ON", "1")
        else:
            if not NRF.fullmatch(data):
                raise MessageError(-104, "Data type error")
            value = float(data)
        if what == "line":
            self.lines[int(found["number"] or 1)] = value
            return None
        if what == "watchdog":
            self.watchdog, self.fed = value, time.monotonic()
            return None
        channel = self.channel(found)
        limits = self.configuration.get("limits", {"voltage": 40.0, "current": 10.0})
        if what in limits and not 0 <= value <= limits[what]:
            raise MessageError(-222, "Data out of range")
        if what == "output" and value and channel.tripped:
            raise MessageError(-221, "Settings conflict")
        channel.set[what] = value
        return None

    def message(self, text, connection):
        """A program message without its line end; what is answered, as bytes."""
        with self.mutex:
            self.pass_time()
            answers, error = [], None
            try:
                if len(text) + 1 > LONGEST_MESSAGE:
                    raise MessageError(-363, "Input buffer overrun")
                for place, unit in enumerate(text.split(";")):
                    # IEEE 488.2, 7.3.1: after the first, a header goes on where the last one was unless a colon leads it.
                    if not unit or (place > 0 and unit[0] not in ":*"):
                        raise MessageError(-102, "Syntax error")
                    answer = self.unit(unit, connection)
                    if answer is not None:
                        answers.append(answer)
            except MessageError as wrong:
                error = str(wrong)
                self.errors.append(error)
                self.events |= wrong.bit
            answer = (";".join(answers) + "\n").encode() if answers else b""
            if self.record:
                self.record.write(json.dumps({"time": time.monotonic(), "connection": connection, "message": text,
                                              "answer": answer.decode(), "error": error}) + "\n")
            fault = self.planted(text)
        return self.with_fault(fault, answer)

    def planted(self, text):
        """The fault that a message brings: the `after`-th and `times - 1` more that match `on`, once one has matched `arm` (or so
        many, as `arm_times` says)."""
        for number, fault in enumerate(self.configuration.get("faults", [])):
            if "arm" in fault and re.search(fault["arm"], text):
                self.arms[number] = self.arms.get(number, 0) + 1
                if self.arms[number] == fault.get("arm_times", 1):
                    self.armed.add(number)
            if not re.search(fault["on"], text) or ("arm" in fault and number not in self.armed):
                continue
            self.counts[number] = self.counts.get(number, 0) + 1
            first = fault.get("after", 1)
            if first <= self.counts[number] < first + fault.get("times", 1):
                return fault
        return None

    def with_fault(self, fault, answer):
        if self.is_mute:
            return b""
        what = fault["do"] if fault else "nothing"
        if what == "slow":
            time.sleep(fault["seconds"])
        elif what == "drop":
            return answer[:-fault["bytes"]]
        elif what == "answer":
            return fault["text"].encode("latin-1")
        elif what == "close":
            return None
        elif what == "vanish":
            self.is_listening = False
            return None
        elif what == "mute":
            self.is_mute = True
            return b""
        elif what != "nothing":
            self.do(fault)
        return answer


def serve(supply, number, receive, send, close):
    """Reads messages until the other side is gone or a fault ends the connection."""
    pending = b""
    while supply.is_listening:
        while b"\n" in pending:
            line, pending = pending.split(b"\n", 1)
            answer = supply.message(line.decode("latin-1"), number)
            if answer is None:
                close()
                return
            try:
                send(answer)
            except OSError:  # the other side did not wait for it
                close()
                return
        try:
            got = receive()
        except OSError:
            break
        if not got:
            break
        pending += got
    if supply.owner == number:
        supply.owner = None
    close()


def serve_tcp(supply):
    listener = socket.create_server(("127.0.0.1", supply.configuration.get("port", 0)))
    supply.line.bind(listener.getsockname())
    threading.Thread(target=supply.follow_wire, daemon=True).start()
    print(listener.getsockname()[1], flush=True)
    listener.settimeout(0.05)
    number = 0
    while supply.is_listening:
        try:
            connection, _ = listener.accept()
        except socket.timeout:
            continue
        number += 1
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        threading.Thread(target=serve, daemon=True, args=(supply, number, lambda c=connection: c.recv(65536), connection.sendall,
                                                          connection.close)).start()
    listener.close()
    threading.Event().wait()


def serve_terminal(supply):
    controller, terminal = pty.openpty()
    tty.setraw(terminal)
    print(os.ttyname(terminal), flush=True)
    serve(supply, 1, lambda: os.read(controller, 65536), lambda data: os.write(controller, data), lambda: None)


def take_deeds(supply):
    for line in sys.stdin:
        if line.strip():
            supply.do(json.loads(line))
    os._exit(0)  # whoever started it is gone


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        supply = Supply(json.load(file))
    for work in (lambda: take_deeds(supply), supply.run_clock):
        threading.Thread(target=work, daemon=True).start()
    (serve_terminal if supply.configuration.get("terminal") else serve_tcp)(supply)


if __name__ == "__main__":
    main()
