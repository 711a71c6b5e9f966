#!/usr/bin/env python3
"""Writes the logs of this folder, as a bench of the example could have written them. usage: bench_logs.py [FOLDER]

Nothing is measured, and nothing of the program is used: each rail is worked out here from power-up.ramp by hand. The
logger takes a reading of both rails every 50 ms, each the mean over 20 ms. Its clock is 80 ppm fast, and it starts
1.25 s before the run.

as-run.csv     what was reviewed: both rails as they are set, each to within the accuracy of its supply, and loads within
               their tolerances (logic draws 1 % less, radio 2 % more)
as-run-2.csv   the same bench a week later, with two deviations: the output of radio is 60 mV low while it is on, and
               logic begins to fall 80 ms late
"""
import datetime
import pathlib
import random
import sys

INTERVAL, WINDOW, SHIFT, CLOCK = 0.05, 0.02, 1.25, 80e-6
START = datetime.datetime(2027, 3, 1, 9, 30, 0, tzinfo=datetime.timezone.utc)
FINE = 1e-3  # s, the steps of this model

LOGIC = [(0, 0), (0.02, 0), (1.02, 3.3), (12.97, 3.3), (13.97, 0), (14.07, 0)]
RADIO = [(0, 0), (1.07, 0), (1.67, 12), (11.87, 12), (12.87, 0), (14.07, 0)]


def straight(corners, time):
    for (t0, v0), (t1, v1) in zip(corners, corners[1:]):
        if t0 <= time < t1:
            return v0 + (v1 - v0) * (time - t0) / (t1 - t0)
    return 0.0  # off


def stairs(corners, time):
    """The left supply holds each setpoint for 10 ms, at the value of its start, in steps of 5 mV."""
    for (t0, v0), (t1, v1) in zip(corners, corners[1:]):
        if t0 <= time < t1:
            held = int((time - t0) / 0.01 + 1e-9) * 0.01
            return round((v0 + (v1 - v0) * held / (t1 - t0)) / 0.005) * 0.005
    return 0.0


def rail(volts_at, wire, ohms, farads, esr, error, until):
    """Times, volts and amps at the terminals; the load is a capacitor with its ESR, and a resistor, behind the wire."""
    times, volts, amps, charged = [], [], [], 0.0
    time = -2.0
    while time < 16:
        set_to = volts_at(time)
        set_to += error(set_to) if set_to > 0.05 else 0
        # The port divides between wire, resistor and ESR; the capacitor is stepped implicitly.
        on = 0 <= time < until
        feed, leak, store = (1 / wire if on else 0), 1 / ohms, 1 / (esr + FINE / farads)
        port = (set_to * feed + charged * store) / (feed + leak + store)
        charged += (port - charged) * store * FINE / farads
        current = (set_to - port) / wire if on else 0.0
        times.append(time)
        volts.append(set_to if on else port)
        amps.append(max(0.0, current))
        time += FINE
    return times, volts, amps


def mean(times, values, end):
    last = round((end - times[0]) / FINE)
    first = last - round(WINDOW / FINE)
    return sum(values[first:last]) / (last - first)


def write(path, seed, logic, radio):
    dice = random.Random(seed)
    lines = ["time,logic_measured_V,logic_measured_A,radio_measured_V,radio_measured_A"]
    count = int(16.5 / INTERVAL)
    for i in range(count):
        run = i * INTERVAL - SHIFT
        stamp = START + datetime.timedelta(seconds=i * INTERVAL * (1 + CLOCK))
        fields = [stamp.strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z"]
        for times, volts, amps in (logic, radio):
            fields.append("%.4f" % (mean(times, volts, run) * 1.0001 + 0.4e-3 + dice.gauss(0, 0.3e-3)))
            fields.append("%.5f" % (mean(times, amps, run) * 1.0002 + dice.gauss(0, 0.1e-3)))
        lines.append(",".join(fields))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main():
    folder = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).parent)
    logic = rail(lambda t: stairs(LOGIC, t), 0.06, 12 * 1.01, 330e-6, 0.05, lambda v: 2e-3, 14.07)
    radio = rail(lambda t: straight(RADIO, t), 0.08, 48 / 1.02, 220e-6, 0.08, lambda v: -4e-3, 14.07)
    write(folder / "as-run.csv", 1, logic, radio)
    late = [(t + 0.08 if t > 12 else t, v) for t, v in LOGIC[:-1]] + [(14.07, 0)]
    logic = rail(lambda t: stairs(late, t), 0.06, 12 * 1.01, 330e-6, 0.05, lambda v: 2e-3, 14.07)
    radio = rail(lambda t: straight(RADIO, t), 0.08, 48 / 1.02, 220e-6, 0.08, lambda v: -64e-3, 14.07)
    write(folder / "as-run-2.csv", 2, logic, radio)


main()
