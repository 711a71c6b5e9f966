"""More runs on a bench as ngspice sees them: lamps, converters, coils, clamps, reversed rails, loops, waits and trips. See
as_run_plants.py: setpoints are corner points worked out here, by hand."""
from as_run_plants import ALL, ONE_RAIL, Plant

RAMP_UP_AND_DOWN = "ramp a to {volts} V over 1 s\n  dwell 1 s\n  ramp a to 0 V over 1 s\n  dwell 500 ms"


def up_and_down(volts):
    return {"a": ((0, 0), (0.1, 0), (1.1, volts), (2.1, volts), (3.1, 0), (3.6, 0))}


def one(name, load, elements, channel="held.ch1", steps=None, corners=None, seconds=3.6, volts=5, second=2.1, limit=4, protect="",
        **more):
    """A plant of one rail; `load` are the lines of its elements."""
    profile = ONE_RAIL.format(channel=channel, protect=protect, limit=limit,
                              steps=steps or RAMP_UP_AND_DOWN.format(volts=volts))
    text = "load: %s\nrails:\n  a:\n    wire: 50 mOhm\n    elements:\n" % name.replace(",", "")
    text += "".join("      - {%s}\n" % element for element in load)
    return Plant(name, profile, text, ("a",), {"a": elements}, corners or up_and_down(volts), seconds,
                 held=not channel.startswith("straight"), limits={"a": limit}, second=second, **more)


def filament(k):
    """Node `th` is the temperature, on 0.02 J/K: R = 1 Ohm (T / 300)^1.2 cold; 12 V and 12 W lit, so R = 12 Ohm at
    T = 300 * 12^(1/1.2), where the heat that leaves is 12 W."""
    lit = 300 * 12 ** (1 / 1.2)
    loss = 12 / (lit ** 4 - 300 ** 4)
    return [f"Bla pa 0 i={k}*v(pa)/(1*pow(v(th)/300, 1.2))", "Cth th 0 0.02 ic=300",
            f"Bth 0 th i=v(pa)*v(pa)/(1*pow(v(th)/300, 1.2))-{loss:.12g}*(pow(v(th), 4)-pow(300, 4))"]


LAMP_LOAD = ["kind: lamp, rated_voltage: 12 V, rated_power: 12 W, cold_resistance: 1 Ohm, heat_capacity: 0.02 J/K"]
LAMP = one("a lamp", LAMP_LOAD, filament, volts=12)
LAMP_STRAIGHT = one("a lamp on a supply that moves straight", LAMP_LOAD, filament, channel="straight.ch1", volts=12)


def converter(k):
    """6 W above 8 V on the way up, down to 6 V on the way down; 100 uF at its input, and 1 kOhm."""
    return ["Ca pa 0 100u", "Ra pa 0 1k", "Vone one 0 1", "Sen one en pa 0 hyst", "Ren en 0 1k",
            ".model hyst sw(vt=7 vh=1 ron=1 roff=1e9)",
            f"Bcv pa 0 i=v(en) > 0.5 ? {6 * k}/max(v(pa), 1) : 0"]


CONVERTER_LOAD = ["kind: constant_power, power: 6 W, starts_at: 8 V, stops_at: 6 V, input_capacitance: 100 uF",
                  "kind: resistor, resistance: 1 kOhm"]
CONVERTER = one("a converter", CONVERTER_LOAD, converter, volts=12)
CONVERTER_STRAIGHT = one("a converter on a supply that moves straight", CONVERTER_LOAD, converter, channel="straight.ch1",
                         volts=12)

COIL = one("a coil beside a resistor", ["kind: inductor, inductance: 20 mH, resistance: 8 Ohm", "kind: resistor, resistance: 50 Ohm"],
           lambda k: ["La pa la 20m", f"Rla la 0 {8 / k}", f"Ra pa 0 {50 / k}"], volts=6)

CLAMP = one("a clamp above its breakdown voltage",
            ["kind: clamp, breakdown_voltage: 5 V, dynamic_resistance: 2 Ohm", "kind: resistor, resistance: 100 Ohm"],
            lambda k: [f"Bcl pa 0 i={k}*max(0, (v(pa)-5)/2)", f"Ra pa 0 {100 / k}"], volts=7)

LEAKING = one("a capacitor that leaks", ["kind: capacitor, capacitance: 1 mF, esr: 200 mOhm, leakage: 500 Ohm",
                                         "kind: resistor, resistance: 30 Ohm"],
              lambda k: ["Ca ca 0 1m", "Rl ca 0 500", "Rca pa ca 0.2", f"Ra pa 0 {30 / k}"], channel="straight.ch1", volts=9)

def dips():
    """Five times from 5 V to 4 V for 200 ms, and back for 300 ms."""
    points, time = [(0, 0), (0.1, 0), (0.1, 5), (0.6, 5)], 0.6
    for _ in range(5):
        points += [(time, 5), (time, 4), (time + 0.2, 4), (time + 0.2, 5), (time + 0.5, 5)]
        time += 0.5
    return points + [(time, 5), (time + 0.5, 0), (time + 0.8, 0)]


DIPS = one("dips in a loop", ["kind: resistor, resistance: 10 Ohm"], lambda k: [f"Ra pa 0 {10 / k}"],
           steps="step a to 5 V\n  dwell 500 ms\n  repeat 5 { step a to 4 V; dwell 200 ms; step a to 5 V; dwell 300 ms }\n"
                 "  ramp a to 0 V over 500 ms\n  dwell 300 ms",
           corners={"a": tuple(dips())}, seconds=3.9, second=3.1)

# Two waits, 1.4 s and 0.6 s; an await ends a segment, and the next begins with full rows.
TWO_WAITS = one("two operators", ["kind: capacitor, capacitance: 470 uF, esr: 100 mOhm", "kind: resistor, resistance: 20 Ohm"],
                lambda k: ["Ca pa ca 470u", "Rca ca 0 0.1", f"Ra pa 0 {20 / k}"],
                steps="ramp a to 3 V over 500 ms\n  dwell 300 ms\n  await operator \"one\" within 1 min assume 1 s\n"
                      "  ramp a to 6 V over 500 ms\n  dwell 300 ms\n  await operator \"two\" within 1 min assume 1 s\n"
                      "  ramp a to 0 V over 1 s\n  dwell 400 ms",
                corners={"a": ((0, 0), (0.1, 0), (0.6, 3), (0.9, 3), (2.3, 3), (2.8, 6), (3.1, 6), (3.7, 6), (4.7, 0), (5.1, 0))},
                seconds=5.1, second=3.7)

WAIT_STRAIGHT = one("a wait on a supply that moves straight", ["kind: resistor, resistance: 12 Ohm"], lambda k: [f"Ra pa 0 {12 / k}"],
                    channel="straight.ch1",
                    steps="ramp a to 4 V over 1 s\n  dwell 400 ms\n  await operator \"go\" within 1 min assume 5 s\n"
                          "  ramp a to 0 V over 1 s\n  dwell 400 ms",
                    corners={"a": ((0, 0), (0.1, 0), (1.1, 4), (1.5, 4), (2.35, 4), (3.35, 0), (3.75, 0))}, seconds=3.75, second=2.35)

# 6 W above 5.9 V into 6 Ohm and 50 mOhm; of the ramp of 8 V/s from 0.1 s the first stair above sqrt(6 W * 6.05 Ohm) = 6.025 V
# begins at 0.86 s (6.08 V), and the protection acts 100 ms later.
OVERPOWER = one("an overpower protection that acts", ["kind: resistor, resistance: 6 Ohm"], lambda k: [f"Ra pa 0 {6 / k}"],
                channel="powered.ch1", protect="protect a { overpower 6 W after 100 ms }\nexpect trip a by overpower",
                steps="ramp a to 8 V over 1 s\n  dwell 500 ms", corners={"a": ((0, 0), (0.1, 0), (1.1, 8), (1.6, 8))}, seconds=1.6,
                second=0.1, off_at={"a": 0.96})

NEGATIVE = Plant(
    "a reversed rail", ONE_RAIL.format(channel="held.ch1 reversed", protect="", limit=4,
                                       steps="ramp a to -5 V over 1 s\n  dwell 1 s\n  ramp a to 0 V over 1 s\n  dwell 500 ms"),
    "load: reversed\nrails:\n  a: {wire: 50 mOhm, elements: [{kind: capacitor, capacitance: 330 uF, esr: 50 mOhm}, "
    "{kind: resistor, resistance: 8 Ohm}]}\n",
    ("a",), {"a": lambda k: ["Ca pa ca 330u", "Rca ca 0 0.05", f"Ra pa 0 {8 / k}"]}, up_and_down(5), 3.6, second=2.1, signs={"a": -1})

# It takes what there is as soon as the port has 1 V, up to 1.2 A; in ngspice over some 10 mV,
# and 1 uF that nobody sees calms it.
ELECTRONIC = one("an electronic load at a constant current",
                 ["kind: constant_current, current: 1.2 A, from: 1 V", "kind: resistor, resistance: 200 Ohm"],
                 lambda k: [f"Bl pa 0 i={0.6 * k}*(1+tanh((v(pa)-1)/5e-3))", f"Ra pa 0 {200 / k}", "Cp pa 0 1u"], volts=6)

ELECTRONIC_STRAIGHT = one("an electronic load on a supply that moves straight",
                          ["kind: constant_current, current: 1.2 A, from: 1 V", "kind: resistor, resistance: 200 Ohm"],
                          lambda k: [f"Bl pa 0 i={0.6 * k}*(1+tanh((v(pa)-1)/5e-3))", f"Ra pa 0 {200 / k}"],
                          channel="straight.ch1", volts=6)

# 3.6 V behind 1 Ohm: below that the output is held up and gives nothing, above it the battery takes up to 2.3 A.
BATTERY = one("a battery that is charged", ["kind: source, voltage: 3.6 V, resistance: 1 Ohm"],
              lambda k: ["Vb bat 0 3.6", f"Rb pa bat {1 / k}"], volts=6)

BATTERY_LIMITED = one("a battery that is charged at the current limit",
                      ["kind: source, voltage: 3.6 V, resistance: 1 Ohm", "kind: capacitor, capacitance: 470 uF, esr: 100 mOhm"],
                      lambda k: ["Vb bat 0 3.6", f"Rb pa bat {1 / k}", "Ca pa ca 470u ic=0", "Rca ca 0 0.1"], volts=6, limit=1.5)

# 0.2 A from 4 V on, and 0.7 A more 300 ms later; both end below 3.6 V.
def stages(k):
    return ["Sgood one good pa 0 hyst", "Vone one 0 1", "Rgood good 0 1k", ".model hyst sw(vt=3.8 vh=0.2 ron=1e-3 roff=1e9)",
            # A capacitor that 1 A charges while the power is good is its clock in seconds.
            "Bclock 0 since i=v(good) > 0.5 ? 1 : -v(since)*1e6", "Cclock since 0 1 ic=0",
            f"Bl pa 0 i=v(good) > 0.5 ? {k}*(0.2+(v(since) > 0.3 ? 0.5 : 0)) : 0", "Ca pa 0 47u ic=0", f"Ra pa 0 {100 / k}"]


STAGES = one("a device that starts in stages",
             ["kind: load_profile, power_good: 4 V, draws: [[0 s, 200 mA], [300 ms, 700 mA]], input_capacitance: 47 uF",
              "kind: resistor, resistance: 100 Ohm"], stages, volts=6)

MORE = (ELECTRONIC, ELECTRONIC_STRAIGHT, BATTERY, BATTERY_LIMITED, STAGES, LAMP, LAMP_STRAIGHT, CONVERTER, CONVERTER_STRAIGHT, COIL, CLAMP, LEAKING, DIPS, TWO_WAITS, WAIT_STRAIGHT,
        OVERPOWER, NEGATIVE)
EVERY = ALL + MORE
