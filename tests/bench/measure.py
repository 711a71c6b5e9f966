#!/usr/bin/env python3
"""What the program costs, against other programs in the same run. usage: measure.py PROGRAM [PASSES]

A line is the least processor time of a few tries, in which the compared programs take turns. PASSES of 2,000 rows make
the long table: 10000 for 20 million rows. What lacks its peer is left out and said so."""
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

import workloads

TRIES = 5
MEMORY = "/dev/shm"  # files there never go to a disk


def has_room(megabytes):
    return os.path.isdir(MEMORY) and shutil.disk_usage(MEMORY).free > 3e6 * megabytes


class Run:
    """What one call took: wall and processor time in s."""

    def __init__(self, wall, cpu):
        self.wall, self.cpu = wall, cpu


def run(command, folder):
    begin = time.perf_counter()
    with open(os.devnull, "wb") as nothing:
        child = subprocess.Popen(command, cwd=folder, stdout=nothing, stderr=nothing)
        _, status, used = os.wait4(child.pid, 0)
    wall = time.perf_counter() - begin
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        sys.exit("%s: exit code %d" % (" ".join(command), child.returncode))
    return Run(wall, used.ru_utime + used.ru_stime)


def peak(command, folder):
    """The largest memory of a call in MB, as text. What the system tells of a child counts this script's own too, so a
    small program starts it."""
    if shutil.which("time") is None:
        return "`time` is not there"
    done = subprocess.run(["time", "-f", "%M", *command], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                          text=True, check=True)
    return "%.0f MB at most" % (int(done.stderr.split()[-1]) / 1024)


def least(commands, folder, tries=TRIES):
    """The least of each figure, by name of the command."""
    runs = {name: [] for name in commands}
    for _ in range(tries):
        for name, command in commands.items():
            runs[name].append(run(command, folder))
    return {name: Run(min(r.wall for r in of), min(r.cpu for r in of)) for name, of in runs.items()}


def heading(text):
    print("\n%-52s %9s %9s  %s" % (text, "wall/ms", "CPU/ms", "wall and CPU against"))


def line(name, what, peer_name=None, peer=None, note=""):
    ratio = "" if peer is None else "%.2f  %.2f  %s" % (what.wall / peer.wall, what.cpu / peer.cpu, peer_name)
    print("%-52s %9.2f %9.2f  %s %s" % (name, what.wall * 1e3, what.cpu * 1e3, ratio, note))


def start(program, folder):
    heading("start")
    got = least({"true": ["true"], "ours": [program, "--version"]}, folder, 200)
    line("true", got["true"])
    line("rampart --version", got["ours"], "true", got["true"])


def checks(program, folder):
    heading("check, 1,000 lines")
    got = least({
        "cat": ["cat", "steps.ramp"],
        "hold": [program, "check", "steps.ramp", "--bench", "hold.bench.yaml"],
        "straight": [program, "check", "steps.ramp", "--bench", "straight.bench.yaml"],
        "loaded": [program, "check", "steps.ramp", "--bench", "hold.bench.yaml", "--load", "board.load.yaml"],
        "straight, loaded": [program, "check", "steps.ramp", "--bench", "straight.bench.yaml", "--load",
                             "board.load.yaml"]}, folder, 40)
    line("cat", got["cat"])
    line("a supply that holds", got["hold"], "cat", got["cat"])
    line("a supply that runs straight", got["straight"], "cat", got["cat"])
    line("a supply that holds, linear load", got["loaded"], "cat", got["cat"])
    line("a supply that runs straight, linear load", got["straight, loaded"], "cat", got["cat"])


def parsing(program, folder):
    size = (folder / "large.ramp").stat().st_size / 1e6
    heading("format --check, %.1f MB" % size)
    command = [program, "format", "--check", "large.ramp"]
    got = least({"cat": ["cat", "large.ramp"], "ours": command}, folder)
    line("rampart format --check", got["ours"], "cat", got["cat"],
         "%.0f MB/s, %s" % (size / got["ours"].cpu, peak(command, folder)))


def tables(program, folder, passes):
    rows = passes * 2000
    build = [program, "build", "long.ramp", "--bench", "hold.bench.yaml", "--as"]
    run(build + ["csv", "-o", "t.csv"], folder)
    run(build + ["json", "-o", "t.json"], folder)
    csv, json = ((folder / name).stat().st_size / 1e6 for name in ("t.csv", "t.json"))
    heading("%d rows, %.0f MB of CSV, %.0f of JSON" % (rows, csv, json))
    commands = {
        "digest": ["openssl", "dgst", "-sha256", "t.csv"],
        "cat": ["cat", "t.csv"],
        "cp": ["cp", "t.csv", "copy.csv"],
        "cp, sync": ["sh", "-c", "cp t.csv copy.csv && sync copy.csv"],
        "csv": build + ["csv", "-o", "t.csv"],
        "pipe": build + ["csv", "-o", "-"],
        "json": build + ["json", "-o", "t.json"],
        "audit": [program, "audit", "t.csv", "--bench", "hold.bench.yaml"],
        "report": [program, "report", "long.ramp", "--bench", "hold.bench.yaml", "-o", "t.html"]}
    with tempfile.TemporaryDirectory(dir=MEMORY if has_room(csv) else folder) as in_memory:
        if has_room(csv):
            commands["memory"] = build + ["csv", "-o", in_memory + "/t.csv"]
        got = least(commands, folder)
    digest = got["digest"]
    line("openssl dgst -sha256", digest)
    for name in ("cat", "cp", "cp, sync"):
        line(name, got[name], "openssl dgst", digest)
    line("build --as csv, with digest and set-up file", got["csv"], "openssl dgst", digest)
    if "memory" in got:
        line("the same to a file in memory", got["memory"], "openssl dgst", digest)
    else:
        print("%s has no room for a table: not measured without a disk" % MEMORY)
    line("build --as csv to a device", got["pipe"], "openssl dgst", digest)
    per_byte = (got["json"].cpu / json) / (got["csv"].cpu / csv)
    line("build --as json", got["json"], "openssl dgst", digest, "%.2f of the CSV's a byte" % per_byte)
    line("audit of the CSV", got["audit"], "openssl dgst", digest, "%.0f MB/s" % (csv / got["audit"].wall))
    line("report", got["report"], "openssl dgst", digest)
    tenth = max(rows // 10, 1)
    heading("%d rows" % tenth)
    got = least({"python": [sys.executable, "writer.py", "p.csv", str(tenth)],
                 "ours": [program, "build", "tenth.ramp", "--bench", "hold.bench.yaml", "--as", "csv", "-o", "t.csv"],
                 "straight": [program, "build", "sawtooth.ramp", "--bench", "straight.bench.yaml", "--as", "csv", "-o",
                              "t.csv"]}, folder, 2)
    line("a plain loop in Python", got["python"])
    line("build --as csv", got["ours"], "Python", got["python"])
    line("build --as csv, straight runs of two rows", got["straight"], "Python", got["python"])


def memory(program, folder, passes):
    print("\nmemory by rows")
    for form in ("csv", "json", "vcd", "spice"):
        for name, rows in (("tenth.ramp", passes * 200), ("long.ramp", passes * 2000)):
            command = [program, "build", name, "--bench", "hold.bench.yaml", "--as", form, "-o"]
            print("%-52s %s to a file, %s to a device" % ("%s, %d rows" % (form, rows), peak(command + ["t." + form], folder),
                                                          peak(command + ["/dev/null"], folder)))


def ngspice_error(netlist, half, cycles, folder):
    """How far its readings are off the solution in closed form, relatively."""
    told = subprocess.run(["ngspice", "-b", netlist], cwd=folder, capture_output=True, text=True, check=True).stdout
    read = [float(value) for value in re.findall(r"^r\d+ *= *(\S+)", told, re.MULTILINE)]
    expected = workloads.solution(half, cycles)
    if len(read) != len(expected):
        sys.exit("ngspice: %d readings of %d" % (len(read), len(expected)))
    return max(abs(a / b - 1) for a, b in zip(read, expected))


def simulation(program, folder):
    heading("unlike cycles of an RC load")
    if shutil.which("ngspice") is None:
        print("ngspice is not there: left out")
        return
    for name, peer_name, half, step in (("cycles", "cycles", 10, 100), ("cycles", "fine_cycles", 10, 0.5),
                                        ("long_cycles", "long_cycles", 200, 100)):
        count = workloads.NGSPICE_CYCLES[half, step]
        got = least({
            "ours": [program, "simulate", name + ".ramp", "--bench", "hold.bench.yaml", "--load", "cycles.load.yaml"],
            "ngspice": ["ngspice", "-b", peer_name + ".cir"]}, folder, 3)
        ours = workloads.CYCLES / got["ours"].cpu
        peer = count / got["ngspice"].cpu
        line("ngspice, steps of %g us, %d cycles of %d ms" % (step, count, 2 * half), got["ngspice"],
             note="%.1f cycles/s, off by %.0e" % (peer, ngspice_error(peer_name + ".cir", half, count, folder)))
        line("rampart simulate, %d cycles of %d ms" % (workloads.CYCLES, 2 * half), got["ours"],
             note="%.0f cycles/s, %.0f times ngspice" % (ours, ours / peer))


def growth(program, folder):
    heading("time described, text")
    simulate = [program, "simulate", "--bench", "hold.bench.yaml", "--load", "board.load.yaml"]
    got = least({name: simulate + [name] for name in ("ten.ramp", "million.ramp", "hour.ramp", "hours.ramp")}, folder)
    line("a loop of 10 passes", got["ten.ramp"])
    line("a loop of 1,000,000", got["million.ramp"], "10 passes", got["ten.ramp"])
    line("a pass of an hour", got["hour.ramp"])
    line("the same over 10,000 h", got["hours.ramp"], "an hour", got["hour.ramp"])
    got = least({rails: [program, "simulate", "rails%d.ramp" % rails, "--bench", "rails%d.bench.yaml" % rails,
                         "--load", "rails%d.load.yaml" % rails] for rails in (60, 240)}, folder)
    line("60 rails", got[60])
    line("240 rails", got[240], "60 rails", got[60])
    got = least({name: [program, "check", name, "--bench", "hold.bench.yaml"] for name in ("text4.ramp", "text5.ramp")},
                folder)
    line("check of 10,000 statements", got["text4.ramp"])
    line("check of 100,000 statements", got["text5.ramp"], "10,000", got["text4.ramp"])


def sweeps(program, folder):
    """Values of the tide gauge's power-up: on one core and on all, with ramps ten times as long, a longer dwell, no rules."""
    values = 1001
    heading("sweep, %d values" % values)
    example = pathlib.Path(__file__).resolve().parents[2] / "profiles" / "tide-gauge"
    shutil.copytree(example, folder / "tide-gauge")
    text = (example / "power-up.ramp").read_text().replace("let v_logic = 3.3 V", "param v_logic = 3.3 V in 3.2 V .. 3.5 V")
    no_rules = "".join(one for one in text.splitlines(True) if not one.startswith("rule "))
    forms = {"as it is": text, "no rules": no_rules, "10 h of dwell": text.replace("dwell 10 s", "dwell 10 h"),
             "ramps of 10 s": text.replace("over 1 s", "over 10 s").replace("within 1 s", "within 10 s")}
    commands = {}
    for i, (name, form) in enumerate(forms.items()):
        form = "".join(one for one in form.splitlines(True) if not one.startswith(("expect energy", "expect duration")))
        path = "tide-gauge/sweep%d.ramp" % i
        (folder / path).write_text(form)
        commands[name] = [program, "sweep", path, "--vary", "v_logic=3.2V..3.5V step 0.3mV"]
    commands["one core"] = ["taskset", "-c", "0", *commands["as it is"]]
    got = least(commands, folder, 3)
    for name, what in got.items():
        line("rampart sweep, " + name, what, "as it is", got["as it is"],
             "%.0f values/s, %.2f ms of CPU each" % (values / what.wall, what.cpu * 1e3 / values))


def main(program, passes):
    program = str(pathlib.Path(program).resolve())
    with tempfile.TemporaryDirectory(dir=os.environ.get("TMPDIR", "/tmp")) as name:
        folder = pathlib.Path(name)
        workloads.write(folder, passes)
        start(program, folder)
        checks(program, folder)
        parsing(program, folder)
        tables(program, folder, passes)
        memory(program, folder, passes)
        simulation(program, folder)
        growth(program, folder)
        sweeps(program, folder)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 1000)
