"""Load elements, each as an entry of a load file and as lines of a netlist between the port `{p}` and ground.

`{n}` is a number of the element's own. What ngspice has by itself (R, L, C, D, switches, PULSE) is used as it is; the
rest are behavioural sources, written from the equations of the handbooks."""
import dataclasses
from decimal import Decimal


def decimal(value):
    return format(Decimal(repr(float(value))), "f")


@dataclasses.dataclass(frozen=True)
class Element:
    entry: str
    netlist: str


def resistor(ohms):
    return Element(f"{{kind: resistor, resistance: {decimal(ohms)} Ohm}}", f"R{{n}} {{p}} 0 {ohms}")


def capacitor(farads, esr=0, leakage=None, volts=0):
    entry = f"kind: capacitor, capacitance: {decimal(farads)} F, esr: {decimal(esr)} Ohm, initial_voltage: {decimal(volts)} V"
    inner = "c{n}" if esr else "{p}"
    lines = [f"C{{n}} {inner} 0 {farads} ic={volts}"]
    if esr:
        lines.append(f"Resr{{n}} {{p}} c{{n}} {esr}")
    if leakage:
        entry += f", leakage: {decimal(leakage)} Ohm"
        lines.append(f"Rleak{{n}} {inner} 0 {leakage}")
    return Element("{" + entry + "}", "\n".join(lines))


def inductor(henries, ohms):
    return Element(f"{{kind: inductor, inductance: {decimal(henries)} H, resistance: {decimal(ohms)} Ohm}}",
                   f"L{{n}} {{p}} l{{n}} {henries} ic=0\nRl{{n}} l{{n}} 0 {ohms}")


def source(volts, ohms):
    return Element(f"{{kind: source, voltage: {decimal(volts)} V, resistance: {decimal(ohms)} Ohm}}",
                   f"V{{n}} s{{n}} 0 {volts}\nRs{{n}} {{p}} s{{n}} {ohms}")


def knee(amps, volts):
    """A current from its voltage on, over the millivolt that docs/simulation.md states."""
    return f"({amps})*min(1, max(0, (v({{p}})-{volts})/1m))"


def constant_current(amps, volts):
    return Element(f"{{kind: constant_current, current: {decimal(amps)} A, from: {decimal(volts)} V}}",
                   f"B{{n}} {{p}} 0 i={knee(amps, volts)}")


def converter(watts, starts_at, stops_at, farads):
    """Lockout by a switch with hysteresis."""
    middle, half = (starts_at + stops_at) / 2, (starts_at - stops_at) / 2
    return Element(
        f"{{kind: constant_power, power: {decimal(watts)} W, starts_at: {decimal(starts_at)} V, "
        f"stops_at: {decimal(stops_at)} V, input_capacitance: {decimal(farads)} F}}",
        f"Ci{{n}} {{p}} 0 {farads} ic=0\n"
        f".model lockout{{n}} sw(vt={middle} vh={half} ron=1 roff=1e9)\n"
        f"Vone{{n}} one{{n}} 0 1\nS{{n}} one{{n}} run{{n}} {{p}} 0 lockout{{n}} off\nRrun{{n}} run{{n}} 0 1k\n"
        f"B{{n}} {{p}} 0 i=v(run{{n}})*1.001*{watts}/max(v({{p}}), {stops_at / 2})")


def diodes(saturation, ideality, ohms, count):
    """A string of ngspice's own diodes at 300 K; each has its share of the resistance."""
    nodes = ["{p}"] + [f"d{{n}}_{k}" for k in range(1, count)] + ["0"]
    lines = [f".model junction{{n}} d(is={saturation} n={ideality} rs={ohms / count} cjo=1p)"]
    lines += [f"D{{n}}_{k} {nodes[k]} {nodes[k + 1]} junction{{n}}" for k in range(count)]
    return Element(f"{{kind: diode, saturation_current: {decimal(saturation)} A, ideality: {decimal(ideality)}, "
                   f"series_resistance: {decimal(ohms)} Ohm, in_series: {count}}}", "\n".join(lines))


def lamp(heat_capacity):
    """12 V and 30 W, 0.35 Ohm cold (OpenStax, College Physics 2e); the filament's temperature is a node's voltage."""
    hot = 300 * (4.8 / 0.35) ** (1 / 1.2)
    radiation = 30 / (hot ** 4 - 300 ** 4)
    return Element(
        f"{{kind: lamp, rated_voltage: 12 V, rated_power: 30 W, cold_resistance: 0.35 Ohm, heat_capacity: {decimal(heat_capacity)} J/K}}",
        f"B{{n}} {{p}} 0 i=v({{p}})/(0.35*pwr(max(1, v(t{{n}})/300), 1.2))\n"
        f"Ct{{n}} t{{n}} 0 {heat_capacity} ic=300\n"
        f"Bt{{n}} 0 t{{n}} i=v({{p}})^2/(0.35*pwr(max(1, v(t{{n}})/300), 1.2))-{radiation}*(v(t{{n}})^4-300^4)")


def curve(points):
    """ngspice's pwl() holds its first and last value; one more point on each side makes the pieces go on straight."""
    (v0, i0), (v1, i1) = points[:2]
    (v2, i2), (v3, i3) = points[-2:]
    longer = [(v0 - 100, i0 - 100 * (i1 - i0) / (v1 - v0)), *points, (v3 + 100, i3 + 100 * (i3 - i2) / (v3 - v2))]
    pairs = ", ".join(f"{v}, {i}" for v, i in longer)
    entry = ", ".join(f"[{decimal(v)} V, {decimal(i)} A]" for v, i in points)
    return Element(f"{{kind: iv_curve, points: [{entry}]}}", f"B{{n}} {{p}} 0 i=pwl(v({{p}}), {pairs})")


def clamp(breakdown, ohms):
    return Element(f"{{kind: clamp, breakdown_voltage: {decimal(breakdown)} V, dynamic_resistance: {decimal(ohms)} Ohm}}",
                   f"B{{n}} {{p}} 0 i=(max(v({{p}})-{breakdown}, 0)+min(v({{p}})+{breakdown}, 0))/{ohms}")


def pulses(amps, on, period, rest):
    return Element(f"{{kind: pulsed_current, current: {decimal(amps)} A, on: {decimal(on)} s, period: {decimal(period)} s, rest: {decimal(rest)} A}}",
                   f"Vp{{n}} pulse{{n}} 0 pulse({rest} {amps} 0 1n 1n {on} {period})\n"
                   f"B{{n}} {{p}} 0 i={knee('v(pulse{n})', 0)}")


def load_profile(power_good, first, later, after):
    """Two currents, the second `after` s after power-good; a switch with hysteresis tells it, a capacitor counts."""
    return Element(
        f"{{kind: load_profile, power_good: {decimal(power_good)} V, draws: [[0 s, {decimal(first)} A], [{decimal(after)} s, {decimal(later)} A]]}}",
        f".model good{{n}} sw(vt={0.95 * power_good} vh={0.05 * power_good} ron=1 roff=1e9)\n"
        f"Vone{{n}} one{{n}} 0 1\nS{{n}} one{{n}} run{{n}} {{p}} 0 good{{n}} off\nRrun{{n}} run{{n}} 0 1k\n"
        f"Bt{{n}} 0 t{{n}} i=v(run{{n}})>0.5 ? 1 : -1e6*v(t{{n}})\nCt{{n}} t{{n}} 0 1 ic=0\n"
        f"B{{n}} {{p}} 0 i=v(run{{n}})>0.5 ? (v(t{{n}})<{after} ? {first} : {later}) : 0")
