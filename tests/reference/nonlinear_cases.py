"""Loads that are not linear. Where ngspice has the element (diodes, switches, pulses) it is ngspice's own."""
from elements import (capacitor, clamp, constant_current, converter, curve, diodes, lamp, load_profile, pulses, resistor)
from plant import Case, Leg, Rail

OWN_DIODE = "ngspice's diode adds 1 pS and 1 pF, and its constants of nature are a revision older"
STEPS = "error of ngspice's steps, second order in their length"
SWITCH = "ngspice's switch closes at the end of a step, not within it"

CASES = (
    Case("string of three light-emitting diodes", (Rail((diodes(1e-18, 2, 3, 3), capacitor(100e-6, 0.1)), 0.4, 0.05),),
         (Leg((9,), 0.01, 0.05), Leg((5,), 0.01, 0.05)), step=1e-5, within=5e-6, because=OWN_DIODE),
    Case("diode string alone, in and out of the limit", (Rail((diodes(76.9e-9, 1.45, 42.2e-3, 2),), 1, 0.2),),
         (Leg((3,), 0.02, 0.01), Leg((0,), 0.02, 0.01)), step=5e-6, within=5e-6, because=OWN_DIODE),
    Case("lamp into the limit", (Rail((lamp(2e-3),), 10, 0.02),), (Leg((12,), 0, 0.5),), step=5e-5, within=5e-6,
         because=STEPS),
    Case("cold lamp trips the fuse", (Rail((lamp(20e-3),), 8, 0.02, fuse=0.03),), (Leg((12,), 0, 0.1),), step=5e-6,
         within=2e-4, because="the trip comes at the end of a step: one step in 30 ms"),
    Case("constant current beside a capacitor", (Rail((constant_current(0.4, 2), capacitor(2200e-6, 0.03)), 1, 0.04),),
         (Leg((10,), 0.01, 0.05), Leg((1,), 0.01, 0.2)), step=1e-5, within=5e-5,
         because="ngspice passes the 1 mV in which the current begins in a few steps"),
    Case("converter starts on a ramp", (Rail((converter(6, 9, 7.5, 220e-6), resistor(2200)), 1.5, 0.1),),
         (Leg((12,), 0.03, 0.05), Leg((0,), 0.03, 0.05)), step=2e-6, within=2e-4, because=SWITCH),
    Case("start-up hiccup under the limit", (Rail((converter(6, 9, 7.5, 220e-6),), 0.3, 0.1),), (Leg((12,), 0, 0.04),),
         step=5e-7, within=2e-3, because=SWITCH + "; the voltage at the end is on a slope of the hunting"),
    Case("pulsed current from a bulk capacitor", (Rail((pulses(1.5, 2e-3, 5e-3, 0.05), capacitor(1e-3, 0.02)), 1, 0.1),),
         (Leg((5,), 0.02, 0.08),), step=5e-6, within=5e-5, steps_of_time=5,
         because="the current of a pulse rises within 1 mV; a time is the sum of seventeen pulses"),
    Case("curve of straight pieces",
         (Rail((curve(((0, 0), (2, 0.01), (4, 0.3), (10, 0.4))), capacitor(470e-6, 0.06)), 0.35, 0.5),),
         (Leg((8,), 0, 0.05), Leg((3,), 0, 0.05)), step=5e-6, within=5e-6,
         because="the netlist's steps of the setpoint take 0.1 us"),
    Case("clamp above its breakdown voltage, into the limit",
         (Rail((clamp(6.8, 0.4), capacitor(220e-6, 0.05), resistor(47)), 2, 0.1),),
         (Leg((9,), 0.01, 0.03), Leg((7.5,), 0.01, 0.01), Leg((5,), 0.01, 0.03)), step=5e-6, within=5e-6, because=STEPS),
    Case("load that wakes up at power-good", (Rail((load_profile(4, 0.02, 0.4, 0.05), capacitor(100e-6, 0.05)), 1, 0.1),),
         (Leg((5,), 0.1, 0.1),), step=1e-5, within=5e-4, because=SWITCH + "; the current then jumps within one"),
)
