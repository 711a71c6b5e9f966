"""Linear loads. ngspice integrates by steps, so energy and charge carry its error of the second order; a time is
found within a step."""
from elements import capacitor, inductor, resistor, source
from plant import Case, Leg, Rail

SMOOTH = "error of ngspice's steps, second order in their length"
TINY_END = "as above, seen against the small voltage that is left"

CASES = (
    Case("resistor and capacitor, up and down", (Rail((capacitor(1e-3, 0.05), resistor(24)), 1, 0.01),),
         (Leg((12,), 0.05, 0.2), Leg((0,), 0.05, 0.1)), step=2e-5, within=1e-5, because=TINY_END),
    Case("relay coil on a ramp", (Rail((inductor(0.2, 60), resistor(1000)), 0.3, 0.1),), (Leg((12,), 2e-3, 0.05),),
         step=2e-6, within=1e-7, because=SMOOTH),
    Case("coil and capacitor ring: complex poles",
         (Rail((inductor(1e-3, 0.5), capacitor(100e-6, 0.02), resistor(20)), 30, 0.3),), (Leg((5,), 1e-3, 0.01),),
         step=5e-7, within=1e-7, because=SMOOTH),
    Case("coil rises into the limit", (Rail((inductor(0.05, 4), resistor(100)), 1.5, 0.1),), (Leg((10,), 0, 0.1),),
         step=5e-6, within=5e-6, because="the netlist's step of the setpoint takes 0.1 us"),
    Case("capacitor with series resistance, leakage and a charge", (Rail((capacitor(2200e-6, 0.2, 50, 2),), 0.8, 0.05),),
         (Leg((9,), 0, 0.1), Leg((4,), 0, 0.1)), step=1e-5, within=5e-6,
         because="the netlist's steps of the setpoint take 0.1 us"),
    Case("wire drop: capacitor at the end of a long wire", (Rail((capacitor(100e-6), resistor(47)), 1, 0.5),),
         (Leg((24,), 0, 0.01), Leg((12,), 0, 0.01)), step=1e-6, within=5e-7, because=SMOOTH),
    Case("battery on charge behind its resistance", (Rail((source(11.5, 0.3),), 2, 0.05),),
         (Leg((12.8,), 0.5, 0.5), Leg((11,), 0.1, 0.1)), step=1e-4, within=5e-7, because=SMOOTH),
    Case("holding on ramp-down with a large capacitor", (Rail((capacitor(22e-3, 0.03), resistor(10)), 4, 0.02),),
         (Leg((12,), 0.2, 0.3), Leg((2,), 0.05, 0.5)), step=5e-5, within=5e-6, because=SMOOTH),
    Case("constant current to constant voltage", (Rail((capacitor(1e-3),), 1, 2),), (Leg((12,), 0, 0.02),), step=1e-6,
         within=5e-7, because=SMOOTH),
    Case("crossing with two capacitors of unlike speed",
         (Rail((capacitor(2200e-6, 0.2), capacitor(10e-6, 0.005), resistor(10)), 2, 0.05),),
         (Leg((9,), 0.005, 0.05), Leg((3,), 0.005, 0.1)), step=2e-6, within=1e-7, because=SMOOTH),
)
