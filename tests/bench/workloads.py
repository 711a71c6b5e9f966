"""The files that measure.py runs the programs on; by itself, writes them into the folder that is named."""

import math
import pathlib
import sys

CYCLES = 4000
# Of ngspice, by the half of a cycle in ms and its longest step in us: fewer where they take longer.
NGSPICE_CYCLES = {(10, 100): 200, (200, 100): 10, (10, 0.5): 5}
BENCH = """bench: One supply
supplies:
  bench:
    timing: {minimum_step: 10 ms, resolution: 1 ms%s}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 1 mV}
        current: {range: 0 A .. 2.5 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 45 W}
"""
LOAD = """load: A board
rails:
  core:
    wire: 50 mOhm
    elements:
      - {kind: capacitor, capacitance: 100 uF, esr: 50 mOhm}
      - {kind: resistor, resistance: 20 Ohm}
"""
# Its capacitor takes less than the current limit, so the same circuit needs no limit in ngspice.
CYCLE_LOAD = """load: A board on a long wire
rails:
  core:
    wire: 5 Ohm
    elements:
      - {kind: capacitor, capacitance: 100 uF, esr: 50 mOhm}
      - {kind: resistor, resistance: 20 Ohm}
"""
HEAD = """profile "Measured"
rail core on bench.ch1
protect core { overvoltage 8 V; fuse after 20 ms; overpower 6 W }
accept overpower-never-acts on core because "the current limit comes first"
run {
  limit core to 1 A
  on core
"""
TAIL = """  ramp core to 0 V over 1 s
  off core
}
"""
STAIRS = """  repeat %d {
    ramp core to 5 V over 10 s
    dwell 1 s
    ramp core to 0.1 V over 10 s
    dwell 1 s
  }
"""
SAWTOOTH = """  repeat %d {
    ramp core to 5 V over 20 ms
    ramp core to 0.1 V over 20 ms
  }
"""
LOOP = """  repeat %d {
    ramp core to 5 V over 1 s
    dwell 10 s
    ramp core to 0 V over 1 s
    dwell 5 s
  }
"""
NETLIST = """cycles
v1 s 0 pwl(%s)
r1 s l 5
r2 l c 50m
c1 c 0 100u
r3 l 0 20
.options reltol=1e-6
%s
.tran %gu %g 0 %gu
.control
run
quit 0
.endc
.end
"""
# The plain way to write a table: a loop and a format.
PLAIN_WRITER = """import sys
with open(sys.argv[1], "w") as table:
    table.write("time_s,channel,voltage_V,current_A,output\\n")
    for row in range(int(sys.argv[2])):
        table.write(f"{row * 0.01:.9f},bench.ch1,{row % 5000 / 1000:.3f},{1:.3f},1\\n")
"""


def statements(count):
    """So many statements, of which no two ramps in a row are alike."""
    lines = []
    for turn in range(count // 4):
        lines.append("  ramp core to 3.3 V + %d * 10 mV over 200 ms\n" % (turn % 90 + 1))
        lines.append("  dwell 50 ms  # at the upper level\n  step core to 3.3 V\n  dwell 1.5 s\n")
    return "".join(lines)


def many_rails(count):
    """Bench, load and profile of so many rails, each on stairs at other times than the others."""
    rails = range(1, count + 1)
    bench = "bench: Many channels\nsupplies:\n"
    for rail in rails:
        if rail % 60 == 1:
            bench += "  s%d:\n    timing: {minimum_step: 10 ms, resolution: 1 ms}\n    channels:\n" % (rail // 60)
        bench += ("      ch%d: {voltage: {range: 0 V .. 24 V, resolution: 1 mV}, "
                  "current: {range: 0 A .. 2.5 A, resolution: 1 mA}}\n" % rail)
    load = "load: Many boards\nrails:\n" + "".join(LOAD[LOAD.index("  core"):].replace("core", "r%d" % rail)
                                                  for rail in rails)
    names = ", ".join("r%d" % rail for rail in rails)
    profile = 'profile "Many"\n' + "".join("rail r%d on s%d.ch%d\n" % (rail, (rail - 1) // 60, rail) for rail in rails)
    profile += "run {\n  limit " + ", ".join("r%d to 1 A" % rail for rail in rails) + "\n  on " + names + "\n  together {\n"
    profile += "".join("    { dwell %d ms; ramp r%d to 5 V over %d ms; dwell 100 ms; ramp r%d to 0 V over 500 ms }\n"
                       % (10 + rail % 10, rail, 1000 + rail, rail) for rail in rails)
    profile += "  }\n  dwell 50 ms\n  off " + names + "\n}\n"
    return bench, load, profile


def levels():
    """The upper level of each cycle, in mV: no two alike."""
    return [1000 + 7919 * i % 4000 for i in range(CYCLES)]


def cycles(half):
    """Cycles of two steps, `half` ms after each."""
    return "".join("  step core to %d mV\n  dwell %d ms\n  step core to 500 mV\n  dwell %d ms\n" % (level, half, half)
                   for level in levels())


def supply(half, cycles):
    """The first of these cycles as an output gives them: (from s, V, to s, V) of each step. Steps take 1 us."""
    time, before, steps = 0.0, 0.5, []
    for level in levels()[:cycles]:
        for after in (level / 1000, 0.5):
            steps.append((time + 1e-6, before, time + 2e-6, after))
            time, before = time + half / 1000, after
    return steps, time


def read_at(half, cycles):
    """Instants after steps, while the capacitor charges, s."""
    return [half / 1000 * i + 5e-4 for i in range(1, 2 * cycles, max(1, cycles // 5))]


def netlist(half, step):
    """The first of these cycles with wire and load for ngspice. `step`: its longest step, us."""
    cycles = NGSPICE_CYCLES[half, step]
    steps, end = supply(half, cycles)
    points = ["0 0.5"] + ["%.6f %g %.6f %g" % one for one in steps]
    readings = [".meas tran r%d find v(c) at=%.6f" % (i, at) for i, at in enumerate(read_at(half, cycles))]
    return NETLIST % ("\n+ ".join(points), "\n".join(readings), step, end, step)


def solution(half, cycles):
    """What ngspice is asked for, in closed form: a low-pass of one time constant, by steps and ramps."""
    share, tau = 20 / (5 + 20), (5 * 20 / (5 + 20) + 0.05) * 100e-6
    steps, _ = supply(half, cycles)
    result = []
    for at in read_at(half, cycles):
        now, held, volts = 0.0, 0.5, 0.5 * share
        for begin, before, end, after in steps:
            if begin >= at:
                break
            volts = held * share + (volts - held * share) * math.exp((now - begin) / tau)
            lag = share * (after - before) / (end - begin) * tau
            volts = after * share - lag + (volts - before * share + lag) * math.exp((begin - end) / tau)
            now, held = end, after
        result.append(held * share + (volts - held * share) * math.exp((now - at) / tau))
    return result


def write(folder, passes):
    files = {
        "hold.bench.yaml": BENCH % "",
        "straight.bench.yaml": BENCH % ", interpolation: linear",
        "board.load.yaml": LOAD,
        "cycles.load.yaml": CYCLE_LOAD,
        "writer.py": PLAIN_WRITER,
        "cycles.cir": netlist(10, 100),
        "fine_cycles.cir": netlist(10, 0.5),
        "long_cycles.cir": netlist(200, 100),
        "steps.ramp": HEAD + statements(992) + TAIL,
        "large.ramp": HEAD + statements(370000) + TAIL,
        "text4.ramp": HEAD + statements(10000) + TAIL,
        "text5.ramp": HEAD + statements(100000) + TAIL,
        "long.ramp": HEAD + STAIRS % passes + TAIL,
        "tenth.ramp": HEAD + STAIRS % max(passes // 10, 1) + TAIL,
        "sawtooth.ramp": HEAD + SAWTOOTH % (passes * 100) + TAIL,
        "cycles.ramp": HEAD + cycles(10) + TAIL,
        "long_cycles.ramp": HEAD + cycles(200) + TAIL,
        "ten.ramp": HEAD + LOOP % 10 + TAIL,
        "million.ramp": HEAD + LOOP % 1000000 + TAIL,
        "hour.ramp": HEAD + LOOP % 212 + TAIL,
        "hours.ramp": HEAD + LOOP % 2117647 + TAIL,
    }
    for rails in (60, 240):
        files["rails%d.bench.yaml" % rails], files["rails%d.load.yaml" % rails], files["rails%d.ramp" % rails] = \
            many_rails(rails)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write(pathlib.Path(sys.argv[1]), 1)
