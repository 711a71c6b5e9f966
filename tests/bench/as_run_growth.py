#!/usr/bin/env python3
"""Prints what `rampart evaluate` costs for logs of more and more readings. usage: as_run_growth.py RAMPART [READINGS...]

Passes of 10 s between 5 V and 4 V into 10 Ohm, a reading of voltage and current every millisecond. The log is written
here, one line a reading, with nothing of the program; 10^8 readings take 2.6 GB of the disk."""
import os
import pathlib
import subprocess
import sys
import tempfile
import time

BENCH = """bench: B
supplies:
  s:
    timing: {minimum_step: 10 ms, resolution: 10 ms, interpolation: hold}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV, accuracy: 0.1 % + 5 mV}
        current: {range: 0 A .. 2.5 A, resolution: 1 mA, accuracy: 0.2 % + 5 mA}
        readback: {voltage: {accuracy: 0.1 % + 10 mV}, current: {accuracy: 0.3 % + 5 mA}}
"""
LOAD = "load: L\nrails: {core: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}]}}\n"
PROFILE = """profile "P"
bench "b.bench.yaml"
load "l.load.yaml"
rail core on s.ch1
run {
  limit core to 1 A
  on core
  ramp core to 5 V over 1 s
  repeat %d { dwell 4 s; ramp core to 4 V over 500 ms; dwell 5 s; ramp core to 5 V over 500 ms }
  ramp core to 0 V over 1 s
  dwell 100 ms
}
"""


def stair(low, high, since, length):
    """A held ramp: each stair has the value of its start."""
    return low + (high - low) * int(since / 0.01 + 1e-9) * 0.01 / length


def fields(volts):
    volts = round(volts, 2)
    return ",%.4f,%.5f\n" % (volts, volts / 10.05)


def lines_of_pass():
    lines = []
    for i in range(10_000):
        t = i / 1000 + 0.0005
        lines.append(fields(5.0 if t < 4 else stair(5, 4, t - 4, 0.5) if t < 4.5 else 4.0 if t < 9.5 else
                            stair(4, 5, t - 9.5, 0.5)))
    return lines


def chunks_of(tails, at):
    """(seconds after the first, lines without their whole seconds) of lines that begin at `at` ms."""
    chunks, begin = [], at // 1000
    for i, tail in enumerate(tails):
        second = (at + i) // 1000 - begin
        if not chunks or chunks[-1][0] != second:
            chunks.append((second, []))
        chunks[-1][1].append(".%03d5%s" % ((at + i) % 1000, tail))
    return chunks


def write_log(path, passes):
    first = [fields(0.0)] * 500 + [fields(stair(0, 5, (i + 0.5) / 1000, 1)) for i in range(1000)]
    one = lines_of_pass()
    last = [fields(stair(5, 0, (i + 0.5) / 1000, 1)) for i in range(1000)] + [fields(0.0)] * 600
    with open(path, "w", encoding="ascii", buffering=1 << 20) as file:
        file.write("time_s,core_measured_V,core_measured_A\n")

        def put(chunks, begin):
            for second, lines in chunks:
                whole = "%d" % (begin + second)
                file.write(whole + whole.join(lines))

        put(chunks_of(first, 0), 0)
        body, at = chunks_of(one, len(first)), len(first)
        for _ in range(passes):
            put(body, at // 1000)
            at += len(one)
        put(chunks_of(last, at), at // 1000)
    return at + len(last)


def main():
    program = os.path.abspath(sys.argv[1])
    print("readings    bytes of log   seconds of the processor   largest memory, MB   answer")
    for wanted in [int(float(word)) for word in sys.argv[2:]] or [100_000, 1_000_000, 10_000_000]:
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            passes = max(1, wanted // 10_000)
            count = write_log(folder / "log.csv", passes)
            for path, text in (("b.bench.yaml", BENCH), ("l.load.yaml", LOAD), ("p.ramp", PROFILE % passes)):
                (folder / path).write_text(text)
            began = time.monotonic()
            child = subprocess.Popen([program, "evaluate", "p.ramp", "--log", "log.csv", "--shift", "0.5s"], cwd=name,
                                     stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
            answer = child.stdout.readline().strip()
            child.stdout.read()
            _, _, used = os.wait4(child.pid, 0)
            print("%10d %14d %12.2f (%.0f s) %20.1f          %s" % (
                count, (folder / "log.csv").stat().st_size, used.ru_utime + used.ru_stime,
                time.monotonic() - began, used.ru_maxrss / 1024, answer[:80]))
            sys.stdout.flush()


main()
