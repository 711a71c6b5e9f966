"""Runs on a bench as ngspice sees them, and the logs that a logger would write of them.

Each plant is a profile for `rampart`, and a netlist for ngspice that was written from the same words of the profile: the
setpoint of each rail is a list of corner points worked out here, by hand, and shares no code with the program. What may
differ from plant to plant is data: how late a statement is, how far an output is off, what the load draws."""
import bisect
import dataclasses
import pathlib
import random
import re
import subprocess
import tempfile

STEP = 0.01  # s, the minimum step of the bench's `hold` supply
EDGE = 1e-6  # s that a jump of a netlist takes
WINDOW = 0.02  # s, of the meters
VOLTS_ERROR, AMPS_ERROR = (0.0005, 2e-3), (0.002, 2e-3)  # share of the reading, offset in V and A

BENCH = """bench: Two supplies of a test
supplies:
  held:
    timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: hold}
    channels:
      ch1:
        voltage: {range: 0 V .. 30 V, resolution: 1 mV, accuracy: 0.02 % + 2 mV}
        current: {range: 0 A .. 5 A, resolution: 1 mA, accuracy: 0.1 % + 2 mA}
        protection: {fuse_by: current_limit, fuse_delay: 0 s .. 8 s}
        readback: {voltage: {accuracy: 0.05 % + 2 mV, noise: 1 mV}, current: {accuracy: 0.2 % + 2 mA, noise: 1 mA},
                   window: 20 ms, latency: 0 ms .. 2 ms}
      ch2: {like: ch1}
  powered:
    timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: hold}
    channels:
      ch1:
        voltage: {range: 0 V .. 30 V, resolution: 1 mV, accuracy: 0.02 % + 2 mV}
        current: {range: 0 A .. 5 A, resolution: 1 mA, accuracy: 0.1 % + 2 mA}
        protection: {overpower: 0 W .. 60 W, overpower_delay: 0 s .. 10 s}
        readback: {voltage: {accuracy: 0.05 % + 2 mV, noise: 1 mV}, current: {accuracy: 0.2 % + 2 mA, noise: 1 mA},
                   window: 20 ms, latency: 0 ms .. 2 ms}
  straight:
    timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: linear}
    channels:
      ch1:
        voltage: {range: 0 V .. 30 V, resolution: 1 mV, accuracy: 0.02 % + 2 mV}
        current: {range: 0 A .. 5 A, resolution: 1 mA, accuracy: 0.1 % + 2 mA}
        protection: {fuse_by: current_limit, fuse_delay: 0 s .. 8 s}
        readback: {voltage: {accuracy: 0.05 % + 2 mV, noise: 1 mV}, current: {accuracy: 0.2 % + 2 mA, noise: 1 mA},
                   window: 20 ms, latency: 0 ms .. 2 ms}
"""


@dataclasses.dataclass(frozen=True)
class Off:
    """How a bench or a device is not as it was reviewed."""
    late: float = 0  # s, the second statement of `a` and what comes after it on that rail
    volts: float = 0  # V that the output of `a` is off while it is above 0 V
    load: float = 1  # times what the load of `a` draws
    limit: float = 1  # times its current limit
    dead: bool = False  # the output of `a` never comes on


@dataclasses.dataclass(frozen=True)
class Plant:
    name: str
    profile: str
    load: str
    rails: tuple
    elements: dict  # of each rail: from what the load draws to netlist lines behind node pNAME
    corners: dict  # of each rail: (time, volts) of its setpoint, straight lines between
    seconds: float
    held: bool = True  # ramps are stairs
    limits: dict = dataclasses.field(default_factory=dict)  # A
    wires: dict = dataclasses.field(default_factory=dict)  # Ohm
    off_at: dict = dataclasses.field(default_factory=dict)  # s: the output is open from here on
    second: float = 0  # s: when the second statement of `a` begins
    step: float = 2e-4  # s, of ngspice
    signs: dict = dataclasses.field(default_factory=dict)  # -1 of a reversed rail


def at(corners, time):
    """The value of a course of straight lines; the later one at a jump."""
    times = [corner[0] for corner in corners]
    i = bisect.bisect_right(times, time) - 1
    if i < 0:
        return corners[0][1]
    if i + 1 == len(corners):
        return corners[-1][1]
    (t0, v0), (t1, v1) = corners[i], corners[i + 1]
    return v0 if t1 == t0 else v0 + (v1 - v0) * (time - t0) / (t1 - t0)


def stairs(corners):
    """A `hold` supply plays each way in stairs of its minimum step, each at the value of its start."""
    points = [(corners[0][0], corners[0][1])]
    for (t0, v0), (t1, v1) in zip(corners, corners[1:]):
        count = round((t1 - t0) / STEP) if v1 != v0 else 0
        for k in range(1, count + 1):
            time, volts = t0 + k * (t1 - t0) / count, v0 + k * (v1 - v0) / count
            points += [(time, points[-1][1]), (time + EDGE, round(volts, 3))]
        if count == 0 and t1 > t0:
            points.append((t1, points[-1][1]))
        if count == 0 and t1 == t0:
            points.append((t1 + EDGE, v1))
    return points


def netlist(plant, off):
    lines = ["* " + plant.name]
    for rail in plant.rails:
        corners = list(plant.corners[rail])
        if rail == "a" and off.late:
            corners = [(t + off.late if t >= plant.second else t, v) for t, v in corners]
        points = stairs(corners) if plant.held else corners
        if rail == "a" and off.volts:
            points = [(t, v + off.volts if v > 0.1 else v) for t, v in points]
        if rail == "a" and off.dead:
            points = [(0, 0), (1, 0)]
        straight = [points[0]]
        for t, v in points[1:]:
            straight.append((max(t, straight[-1][0] + EDGE / 10), v))
        pwl = " ".join(f"{t:.9g} {v:.9g}" for t, v in straight)
        k = off.load if rail == "a" else 1
        limit = plant.limits.get(rail, 4) * (off.limit if rail == "a" else 1)
        wire = plant.wires.get(rail, 0.05)
        live = f"(time < {plant.off_at[rail]})" if rail in plant.off_at else "1"
        lines += [f"Vset{rail} set{rail} 0 pwl({pwl})",
                  # The supply: holds its setpoint through a resistance that is small against the wire, up to its limit.
                  f"Bout{rail} 0 t{rail} i={live}*max(0, min({limit}, (v(set{rail})-v(t{rail}))*2e3))",
                  f"Cout{rail} t{rail} 0 1e-7", f"Vm{rail} t{rail} w{rail} 0", f"Rw{rail} w{rail} p{rail} {wire}"]
        lines += plant.elements[rail](k)
    prints = " ".join(f"v(t{rail}) i(Vm{rail})" for rail in plant.rails)
    lines += [f".tran {plant.step} {plant.seconds} 0 {plant.step} uic", ".control", "set width=250", "run",
              f"wrdata out.txt {prints}", "quit", ".endc", ".end"]
    return "\n".join(lines) + "\n"


def solve(plant, off=Off()):
    """Of each rail: times, volts, amps."""
    with tempfile.TemporaryDirectory() as folder:
        (pathlib.Path(folder) / "plant.cir").write_text(netlist(plant, off))
        done = subprocess.run(["ngspice", "-b", "plant.cir"], cwd=folder, capture_output=True, text=True, timeout=300)
        out = pathlib.Path(folder) / "out.txt"
        if not out.exists():
            raise RuntimeError(done.stdout + done.stderr)
        rows = [[float(word) for word in line.split()] for line in out.read_text().splitlines()]
    times = [row[0] for row in rows]
    return {rail: (times, [row[4 * i + 1] for row in rows], [row[4 * i + 3] for row in rows])
            for i, rail in enumerate(plant.rails)}


class Mean:
    """The mean of a sampled course over a window; before it begins 0, after its end its last value."""

    def __init__(self, times, values):
        self.times, self.values, self.sums = times, values, [0.0]
        for i in range(1, len(times)):
            self.sums.append(self.sums[-1] + (times[i] - times[i - 1]) * (values[i] + values[i - 1]) / 2)

    def integral(self, time):
        if time <= self.times[0]:
            return 0.0
        if time >= self.times[-1]:
            return self.sums[-1] + (time - self.times[-1]) * self.values[-1]
        i = bisect.bisect_right(self.times, time) - 1
        t0, t1, v0, v1 = self.times[i], self.times[i + 1], self.values[i], self.values[i + 1]
        v = v0 + (v1 - v0) * (time - t0) / (t1 - t0)
        return self.sums[i] + (time - t0) * (v0 + v) / 2

    def over(self, end, window):
        return (self.integral(end) - self.integral(end - window)) / window


@dataclasses.dataclass(frozen=True)
class Logger:
    interval: float = 0.025
    shift: float = 1.25
    clock: float = 120e-6
    volts_gain: float = 1
    seed: int = 1
    before: float = 1.0
    after: float = 0.5


def log_rows(plant, solved, logger=Logger()):
    """(time of the log, {rail: (volts, amps)}), with an error of the meter within its accuracy, noise and steps."""
    dice = random.Random(logger.seed)
    errors = {rail: (dice.uniform(-0.7, 0.7), dice.uniform(-0.7, 0.7)) for rail in plant.rails}
    means = {rail: (Mean(times, volts), Mean(times, amps)) for rail, (times, volts, amps) in solved.items()}
    rows, time = [], -logger.before
    while time < plant.seconds + logger.after:
        row = {}
        for rail in plant.rails:
            volts, amps = (mean.over(time - dice.uniform(0, 1e-3), WINDOW) for mean in means[rail])
            volts *= logger.volts_gain if rail == "a" else 1
            volts += errors[rail][0] * (VOLTS_ERROR[0] * abs(volts) + VOLTS_ERROR[1]) + dice.uniform(-0.8e-3, 0.8e-3)
            amps += errors[rail][1] * (AMPS_ERROR[0] * abs(amps) + AMPS_ERROR[1]) + dice.uniform(-0.8e-3, 0.8e-3)
            row[rail] = (round(volts * plant.signs.get(rail, 1), 4), round(amps, 4))
        rows.append((logger.shift + logger.before + time * (1 + logger.clock), row))
        time += logger.interval
    return rows


def wide_csv(plant, rows, separator=",", comma=False, time_text=lambda time: f"{time:.6f}"):
    def number(text):
        return text.replace(".", ",") if comma else text
    lines = [separator.join(["time_s"] + [f"{rail}_measured_{unit}" for rail in plant.rails for unit in "VA"])]
    for time, row in rows:
        values = [number(f"{value:.4f}") for rail in plant.rails for value in row[rail]]
        lines.append(separator.join([number(time_text(time))] + values))
    return "\n".join(lines) + "\n"


def long_csv(plant, rows, channels):
    lines = ["time_s,channel,measured_V,measured_A"]
    for time, row in rows:
        lines += [f"{time:.6f},{channels[rail]},{row[rail][0]:.4f},{row[rail][1]:.4f}" for rail in plant.rails]
    return "\n".join(lines) + "\n"


TWO_RAILS = """profile "Two rails"
bench "test.bench.yaml"
load "test.load.yaml"
rail a on held.ch1
rail b on held.ch2
run {{
  limit a to 4 A, b to 4 A
  on a, b
  dwell 100 ms
  ramp a to {a} V over 1 s
  dwell 500 ms
  ramp b to {b} V over 500 ms
  dwell 2 s
  ramp b to 0 V over 500 ms
  dwell 500 ms
  ramp a to 0 V over 1 s
  dwell 500 ms
}}
"""


def two_corners(a, b):
    return {"a": ((0, 0), (0.1, 0), (1.1, a), (5.1, a), (6.1, 0), (6.6, 0)),
            "b": ((0, 0), (1.6, 0), (2.1, b), (4.1, b), (4.6, 0), (6.6, 0))}


RESISTORS = Plant(
    "resistors", TWO_RAILS.format(a=5, b=12),
    """load: R
rails:
  a: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}]}
  b: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 24 Ohm}]}
""",
    ("a", "b"), {"a": lambda k: [f"Ra pa 0 {10 / k}"], "b": lambda k: ["Rb pb 0 24"]}, two_corners(5, 12), 6.6, second=5.1)

CAPACITORS = Plant(
    "capacitors behind resistances", TWO_RAILS.format(a="3.3", b=12),
    """load: RC
rails:
  a: {wire: 50 mOhm, elements: [{kind: capacitor, capacitance: 470 uF, esr: 50 mOhm}, {kind: resistor, resistance: 6 Ohm}]}
  b: {wire: 50 mOhm, elements: [{kind: capacitor, capacitance: 220 uF, esr: 80 mOhm}, {kind: resistor, resistance: 40 Ohm}]}
""",
    ("a", "b"),
    {"a": lambda k: ["Ca pa ca 470u", "Rca ca 0 0.05", f"Ra pa 0 {6 / k}"],
     "b": lambda k: ["Cb pb cb 220u", "Rcb cb 0 0.08", "Rb pb 0 40"]},
    two_corners(3.3, 12), 6.6, second=5.1)

ONE_RAIL = """profile "One rail"
bench "test.bench.yaml"
load "test.load.yaml"
rail a on {channel}
{protect}
run {{
  limit a to {limit} A
  on a
  dwell 100 ms
  {steps}
}}
"""

# Two diodes of 1e-12 A in series with 1 Ohm, at 300 K: as ngspice has them at 26.85 degC.
DIODES = Plant(
    "two diodes in series",
    ONE_RAIL.format(channel="held.ch1", protect="", limit=4,
                    steps="ramp a to 2 V over 1 s\n  dwell 1 s\n  ramp a to 0 V over 1 s\n  dwell 200 ms"),
    """load: D
rails:
  a:
    wire: 50 mOhm
    elements:
      - {kind: diode, saturation_current: 0.000001 uA, ideality: 1, in_series: 2, series_resistance: 1 Ohm}
      - {kind: resistor, resistance: 10 kOhm}
""",
    ("a",), {"a": lambda k: ["Da pa da dio", "Db da db dio", f"Rd db 0 {1 / k}", ".model dio d(is=1e-12 n=1)",
                             ".options temp=26.85 tnom=26.85", "Rb pa 0 10k"]},
    {"a": ((0, 0), (0.1, 0), (1.1, 2), (2.1, 2), (3.1, 0), (3.3, 0))}, 3.3, second=2.1)

# An electronic load of straight parts: nothing to 2 V, 0.5 A at 4 V, 0.6 A at 8 V.
CURVE = Plant(
    "a curve of straight parts",
    ONE_RAIL.format(channel="straight.ch1", protect="", limit=4,
                    steps="ramp a to 6 V over 2 s\n  dwell 1 s\n  ramp a to 0 V over 1 s\n  dwell 200 ms"),
    """load: curve
rails:
  a:
    wire: 50 mOhm
    elements:
      - {kind: iv_curve, points: [[0 V, 0 A], [2 V, 0 A], [4 V, 0.5 A], [8 V, 0.6 A]]}
      - {kind: resistor, resistance: 10 kOhm}
""",
    ("a",), {"a": lambda k: [f"Bl pa 0 i={k}*pwl(v(pa), 0, 0, 2, 0, 4, 0.5, 8, 0.6)", "Rb pa 0 10k"]},
    {"a": ((0, 0), (0.1, 0), (2.1, 6), (3.1, 6), (4.1, 0), (4.3, 0))}, 4.3, held=False, second=3.1)

STRAIGHT = Plant(
    "a supply that moves straight, into a capacitor",
    ONE_RAIL.format(channel="straight.ch1", protect="", limit=4,
                    steps="ramp a to 10 V over 500 ms\n  dwell 1 s\n  ramp a to 4 V over 500 ms\n  dwell 1 s"),
    """load: RC
rails:
  a: {wire: 50 mOhm, elements: [{kind: capacitor, capacitance: 2.2 mF, esr: 20 mOhm}, {kind: resistor, resistance: 20 Ohm}]}
""",
    ("a",), {"a": lambda k: ["Ca pa ca 2.2m", "Rca ca 0 0.02", f"Ra pa 0 {20 / k}"]},
    {"a": ((0, 0), (0.1, 0), (0.6, 10), (1.6, 10), (2.1, 4), (3.1, 4))}, 3.1, held=False, second=1.6)

# 10 mF from 0 V to 5 V at the limit of 0.5 A: C V / I = 0.1 s, less what the resistor takes.
LIMITED = Plant(
    "a capacitor at the current limit",
    ONE_RAIL.format(channel="held.ch1", protect="", limit="0.5",
                    steps="step a to 5 V\n  dwell 1.5 s\n  ramp a to 0 V over 1 s\n  dwell 500 ms"),
    """load: C
rails:
  a: {wire: 50 mOhm, elements: [{kind: capacitor, capacitance: 50 mF, esr: 20 mOhm}, {kind: resistor, resistance: 100 Ohm}]}
""",
    ("a",), {"a": lambda k: ["Ca pa ca 50m", "Rca ca 0 0.02", f"Ra pa 0 {100 / k}"]},
    {"a": ((0, 0), (0.1, 0), (0.1, 5), (1.6, 5), (2.6, 0), (3.1, 0))}, 3.1, limits={"a": 0.5}, second=1.6)

# The operator takes 2.7 s where the profile assumes 1 s; an await ends a segment, and the next begins with full rows.
WAIT_S = 2.7
WAITS = Plant(
    "an operator who takes longer than assumed",
    ONE_RAIL.format(channel="held.ch1", protect="", limit=4,
                    steps="ramp a to 5 V over 1 s\n  dwell 500 ms\n  await operator \"connect J3\" within 1 min assume 1 s\n"
                          "  dwell 100 ms\n  ramp a to 8 V over 500 ms\n  dwell 1 s\n  ramp a to 0 V over 1 s\n  dwell 200 ms"),
    """load: R
rails:
  a: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}]}
""",
    ("a",), {"a": lambda k: [f"Ra pa 0 {10 / k}"]},
    {"a": ((0, 0), (0.1, 0), (1.1, 5), (1.6, 5), (1.6 + WAIT_S, 5), (1.7 + WAIT_S, 5), (2.2 + WAIT_S, 8), (3.2 + WAIT_S, 8),
           (4.2 + WAIT_S, 0), (4.4 + WAIT_S, 0))}, 4.4 + WAIT_S, second=3.2 + WAIT_S)

# 2 Ohm and 50 mOhm draw 1 A at 2.05 V. Of the ramp of 5 V/s from 0.1 s the first stair above that begins at 0.52 s
# (2.1 V), and the fuse acts 200 ms later.
TRIP = Plant(
    "a fuse that acts",
    ONE_RAIL.format(channel="held.ch1", protect="protect a { fuse after 200 ms }", limit=1,
                    steps="ramp a to 5 V over 1 s\n  dwell 500 ms").replace(
                        "run {", "expect trip a by fuse\nrun {"),
    """load: R
rails:
  a: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 2 Ohm}]}
""",
    ("a",), {"a": lambda k: [f"Ra pa 0 {2 / k}"]},
    {"a": ((0, 0), (0.1, 0), (1.1, 5), (1.6, 5))}, 1.6, limits={"a": 1}, off_at={"a": 0.72}, second=0.1)

ALL = (RESISTORS, CAPACITORS, DIODES, CURVE, STRAIGHT, LIMITED, WAITS, TRIP)
