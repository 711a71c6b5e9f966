"""One plant twice: as profile, bench and load for `rampart`, and as a netlist for ngspice.

The netlist's supply is a current source that follows the setpoint through the resistance of the wire, between nothing
(or the sink current) and its limit: constant voltage, constant current and holding in one. Energies, charges and times
are integrals on capacitors of 1 F. No equation is shared with the program."""
import dataclasses
import json
import pathlib
import re
import subprocess
import tempfile

from elements import decimal

EDGE = 1e-7  # s; a step of the netlist's setpoint takes so long
BARE = 1e-4  # Ohm; where there is no wire, and the two could not be solved without
START = 1e-3  # s; the outputs are on so long before the first leg


@dataclasses.dataclass(frozen=True)
class Leg:
    """To these voltages (one a rail) over so long, then a dwell; 0 s is a step. `on`: whether the outputs are on."""
    volts: tuple
    over: float
    dwell: float
    on: bool = True


@dataclasses.dataclass(frozen=True)
class Rail:
    load: tuple
    limit: float
    wire: float = 0
    fuse: float | None = None
    linked: bool = False  # this rail's fuse switches off every rail
    overpower: float | None = None


@dataclasses.dataclass(frozen=True)
class Case:
    name: str
    rails: tuple
    legs: tuple
    step: float  # s, the longest of ngspice
    within: float  # relative; asserted for every quantity
    because: str  # what the tolerance comes from
    steps_of_time: int = 1  # times agree within so many steps
    slew: tuple | None = None  # V/s up, down
    output_capacitance: float = 0
    sink: float = 0
    headroom: float | None = None  # V; remote sense, whose leads drop so much at the most
    off_resistance: float | None = None
    combine: str | None = None  # "series" or "parallel": of two channels

    @property
    def seconds(self):
        return START + sum(leg.over + leg.dwell for leg in self.legs)


def bench_text(case):
    interpolation = "hold" if all(leg.over == 0 for leg in case.legs) else "linear"
    channel = ["voltage: {range: 0 V .. 1000 V, resolution: 1 uV}", "current: {range: 0 A .. 1000 A, resolution: 1 uA}",
               f"output_capacitance: {decimal(case.output_capacitance)} F", f"sink: {decimal(case.sink)} A",
               "protection: {fuse_by: current_limit, fuse_delay: 0 s .. 1000 s, overpower: 1 W .. 1000000 W}"]
    if case.slew:
        channel.append(f"slew: {{up: {decimal(case.slew[0])} V/s, down: {decimal(case.slew[1])} V/s}}")
    if case.headroom is not None:
        channel.append(f"sense: {{remote: yes, headroom: {decimal(case.headroom)} V}}")
    if case.off_resistance:
        channel.append(f"off_resistance: {decimal(case.off_resistance)} Ohm")
    lines = ["bench: Fine", "supplies:", "  fine:",
             f"    timing: {{minimum_step: 1 us, resolution: 1 us, interpolation: {interpolation}}}", "    channels:",
             "      ch1:", *(f"        {line}" for line in channel), "      ch2: {like: ch1}", "      ch3: {like: ch1}"]
    if case.combine:
        lines += ["outputs:", f"  both: {{{case.combine}: [fine.ch1, fine.ch2]}}"]
    return "\n".join(lines) + "\n"


def load_text(case):
    lines = ["load: Plant", "rails:"]
    for k, rail in enumerate(case.rails, 1):
        lines += [f"  r{k}:", f"    wire: {decimal(rail.wire)} Ohm", "    elements:"]
        lines += [f"      - {element.entry}" for element in rail.load]
    return "\n".join(lines) + "\n"


def profile_text(case):
    lines = ['profile "Plant"', 'bench "plant.bench.yaml"', 'load "plant.load.yaml"']
    names = [f"r{k}" for k in range(1, len(case.rails) + 1)]
    sense = " sense remote" if case.headroom is not None else ""
    for k, name in enumerate(names, 1):
        lines.append(f"rail {name} on " + ("both" if case.combine else f"fine.ch{k}") + sense)
    for name, rail in zip(names, case.rails):
        if rail.fuse is not None:
            others = [other for other in names if other != name]
            linked = " linked with " + ", ".join(others) if rail.linked else ""
            lines.append(f"protect {name} {{ fuse after {decimal(rail.fuse)} s{linked} }}")
        if rail.overpower is not None:
            lines.append(f"protect {name} {{ overpower {decimal(rail.overpower)} W }}")
    lines.append("run {")
    lines += [f"  limit {name} to {decimal(rail.limit)} A" for name, rail in zip(names, case.rails)]
    lines += [f"  on {', '.join(names)}", f"  dwell {decimal(START)} s"]
    on = True
    for leg in case.legs:
        if leg.on != on:
            on = leg.on
            lines.append(f"  {'on' if on else 'off'} {', '.join(names)}")
        targets = [f"{name} to {decimal(volts)} V" for name, volts in zip(names, leg.volts)]
        if leg.over:
            lines.append(f"  ramp {', '.join(targets)} over {decimal(leg.over)} s")
        else:
            lines += [f"  step {target}" for target in targets]
        lines.append(f"  dwell {decimal(leg.dwell)} s")
    return "\n".join(lines + ["}"]) + "\n"


def held(event, simulation, rail):
    """Seconds that a rail spent between two kinds of event."""
    total, since = 0.0, None
    for entry in simulation["events"]:
        if entry["rail"] != rail:
            continue
        if entry["kind"] == f"{event}-enter":
            since = entry["time_s"]
        elif since is not None and entry["kind"] in (f"{event}-exit", "off", "trip"):
            total += entry["time_s"] - since
            since = None
    return total + (simulation["duration_s"] - since if since is not None else 0)


def by_rampart(program, case):
    """Quantities by rail, as the program predicts them."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "plant.bench.yaml").write_text(bench_text(case))
        (folder / "plant.load.yaml").write_text(load_text(case))
        (folder / "plant.ramp").write_text(profile_text(case))
        done = subprocess.run([program, "simulate", "plant.ramp", "--format", "json"], cwd=folder, capture_output=True,
                              text=True, timeout=120)
    if done.returncode > 1:
        raise RuntimeError(done.stderr + profile_text(case))
    simulation = json.loads(done.stdout)
    if "rails" not in simulation:
        raise RuntimeError(done.stdout)
    answers = []
    for k in range(1, len(case.rails) + 1):
        rail = simulation["rails"][f"r{k}"]
        answer = {"energy (J)": rail["energy_J"], "charge (C)": rail["charge_C"],
                  "constant current (s)": rail["cc_time_s"], "holding (s)": held("sink" if case.sink else "holding", simulation, f"r{k}"),
                  "final voltage (V)": rail["final_voltage_V"], "peak current (A)": rail["peak_current_A"]}
        if rail["trip"]:
            answer["trip (s)"] = rail["trip"]["time_s"]
        answers.append(answer)
    return answers


def waveform(points):
    return "pwl(" + " ".join(f"{time:.12g} {value:.12g}" for time, value in points) + ")"


def setpoint(case, rail):
    """The setpoint of a rail and the state of its output over time."""
    volts, outputs, time = [(0, 0)], [(0, 1)], START
    for leg in case.legs:
        volts += [(time, volts[-1][1]), (time + max(leg.over, EDGE), leg.volts[rail])]
        if leg.on != outputs[-1][1]:
            outputs += [(time, outputs[-1][1]), (time + EDGE, int(leg.on))]
        time += leg.over + leg.dwell
    return waveform(volts), waveform(outputs)


def regulator(case, top, bottom, volts, amps, wire):
    """A source between two nodes that keeps `volts` across itself and its wire, within its limits. With what it would give."""
    across = f"(v({top})-v({bottom}))" if bottom != "0" else f"v({top})"
    wanted = f"({volts}-{across})*{1 / wire}"
    if case.headroom is not None:
        # The amplifier closes in on the load; the terminals stand above it by the headroom at the most.
        wanted = f"min(({volts}-{across})*{1 / BARE}, {case.headroom / wire})"
    return f"i=min({amps}, max({-case.sink}, {wanted}))", wanted


def switched_by(case, k):
    """Rails whose protections switch off rail k."""
    return [j for j, other in enumerate(case.rails, 1)
            if (other.fuse is not None or other.overpower is not None) and (j == k or other.linked)]


def supply_netlist(case, k, rail):
    volts, outputs = setpoint(case, k - 1)
    lines = [f"Vset{k} ask{k} 0 {volts}", f"Von{k} on{k} 0 {outputs}"]
    if case.slew:
        up, down = case.slew
        lines += [f"Bslew{k} 0 set{k} i=min({up}, max({-down}, 1e6*(v(ask{k})-v(set{k}))))", f"Cslew{k} set{k} 0 1 ic=0"]
    else:
        lines.append(f"Rset{k} ask{k} set{k} 1")
    lines.append(f"Blive{k} live{k} 0 v=v(on{k})" + "".join(f"*(1-min(1, 1.00001*v(latch{j})))" for j in switched_by(case, k)))
    # The wire belongs to the source, unless something stands at the terminals.
    apart = case.output_capacitance > 0 or case.off_resistance
    wire, at = (BARE, f"reg{k}") if apart else (rail.wire or BARE, f"p{k}")
    if case.combine == "series":
        lines.append(f"Rlow{k} mid{k} 0 1e9\nRhigh{k} {at} mid{k} 1e9")
        members = [(at, f"mid{k}", f"v(set{k})/2", rail.limit, wire / 2), (f"mid{k}", "0", f"v(set{k})/2", rail.limit, wire / 2)]
    elif case.combine == "parallel":
        members = 2 * [(at, "0", f"v(set{k})", rail.limit / 2, 2 * wire)]
    else:
        members = [(at, "0", f"v(set{k})", rail.limit, wire)]
    for n, (top, bottom, asked, amps, ohms) in enumerate(members):
        given, wanted = regulator(case, top, bottom, asked, amps, ohms)
        lines += [f"Breg{k}_{n} {bottom} {top} {given.replace('i=', f'i=v(live{k})*')}"]
    # Straight over a ten thousandth of the limit: a jump would stop the solver.
    lines.append(f"Bcc{k} cc{k} 0 v=v(live{k})*min(1, max(0, 0.5+1e4*({wanted}/{amps}-1)))")
    lines.append(f"Bhold{k} hold{k} 0 v=v(live{k})*min(1, max(0, -0.5-1e4*({wanted}+{case.sink})/{amps}))")
    return lines + meter_netlist(case, k, rail, at)


def meter_netlist(case, k, rail, at):
    """Current and voltage at the terminals, as voltages `amps` and `volts`."""
    if at == f"p{k}":
        through = f"min({rail.limit}, max({-case.sink}, (v(set{k})-v(p{k}))*{1 / (rail.wire or BARE)}))*v(live{k})"
        if case.headroom is not None:
            most = min(rail.limit, case.headroom / rail.wire)
            through = f"min({most}, max(0, (v(set{k})-v(p{k}))*{1 / BARE}))*v(live{k})"
        return [f"Bamps{k} amps{k} 0 v={through}", f"Bvolts{k} volts{k} 0 v=v(p{k})+{rail.wire}*v(amps{k})"]
    lines = [f"Vm{k} reg{k} t{k} 0", f"Rwire{k} t{k} p{k} {rail.wire or BARE}", f"Bamps{k} amps{k} 0 v=i(Vm{k})",
             f"Bvolts{k} volts{k} 0 v=v(reg{k})"]
    if case.output_capacitance:
        lines.append(f"Cout{k} reg{k} 0 {case.output_capacitance} ic=0")
    if case.off_resistance:
        lines.append(f"Boff{k} reg{k} 0 i=(1-v(live{k}))*v(reg{k})/{case.off_resistance}")
    return lines


def protection_netlist(k, rail):
    lines = []
    if rail.fuse is not None:
        # A capacitor counts in constant current and is emptied outside it.
        lines += [f"Btimer{k} 0 timer{k} i=v(cc{k})-(1-v(cc{k}))*1e5*v(timer{k})", f"Ctimer{k} timer{k} 0 1 ic=0"]
    if rail.fuse is not None or rail.overpower is not None:
        excess = f"v(timer{k})/{rail.fuse}-1" if rail.fuse is not None else f"v(volts{k})*v(amps{k})/{rail.overpower}-1"
        # A switch that keeps itself closed.
        lines += [f"Bexcess{k} excess{k} 0 v={excess}+10*v(latch{k})", f".model trip{k} sw(vt=0 vh=0 ron=1 roff=1e12)",
                  f"Vtrip{k} one{k} 0 1", f"Strip{k} one{k} latch{k} excess{k} 0 trip{k} off", f"Rtrip{k} latch{k} 0 1e5"]
    return lines


def netlist(case):
    lines = [case.name, ".options reltol=1e-6 abstol=1e-12 vntol=1e-9 temp=26.85 tnom=26.85 method=gear itl4=100"]
    outputs = []
    for k, rail in enumerate(case.rails, 1):
        lines += supply_netlist(case, k, rail) + protection_netlist(k, rail)
        for n, element in enumerate(rail.load):
            lines += element.netlist.format(n=f"{k}_{n}", p=f"p{k}").splitlines()
        sums = {"energy": f"v(volts{k})*v(amps{k})", "charge": f"v(amps{k})", "limited": f"v(cc{k})", "held": f"v(hold{k})",
                "alive": f"v(live{k})"}
        for name, rate in sums.items():
            lines += [f"B{name}{k} 0 {name}{k} i={rate}", f"C{name}{k} {name}{k} 0 1 ic=0"]
        outputs += [f"print v({name}{k})[n]" for name in sums] + [f"print v(p{k})[n]", f"print vecmax(v(amps{k}))"]
    lines += [".control", "set numdgt=14", f"tran {case.step} {case.seconds:.9g} 0 {case.step} uic", "let n=length(time)-1",
              "print time[n]", *outputs, "quit", ".endc", ".end"]
    return "\n".join(lines) + "\n"


def by_ngspice(case):
    """The same quantities by ngspice, without those of a trip where none came."""
    with tempfile.TemporaryDirectory() as name:
        deck = pathlib.Path(name) / "plant.cir"
        deck.write_text(netlist(case))
        done = subprocess.run(["ngspice", "-b", deck.name], cwd=name, capture_output=True, text=True, timeout=300)
    values = [float(value) for value in re.findall(r"^\S+ = (\S+)$", done.stdout, re.MULTILINE)]
    if len(values) != 1 + 7 * len(case.rails) or abs(values[0] / case.seconds - 1) > 1e-6:
        raise RuntimeError(f"ngspice did not finish `{case.name}`:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    answers = []
    for k in range(len(case.rails)):
        energy, charge, limited, held_for, alive, final, peak = values[1 + 7 * k:8 + 7 * k]
        answer = {"energy (J)": energy, "charge (C)": charge, "constant current (s)": limited, "holding (s)": held_for,
                  "final voltage (V)": final, "peak current (A)": peak}
        if any(rail.fuse is not None or rail.overpower is not None for rail in case.rails) and alive < 0.9999999 * case.seconds:
            answer["trip (s)"] = alive
        answers.append(answer)
    return answers
