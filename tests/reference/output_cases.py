"""What bench and protection add: combined channels, links, slew, capacitance, sink, sense, off resistance."""
from elements import capacitor, resistor
from plant import Case, Leg, Rail

STEPS = "error of ngspice's steps, second order in their length"
BARE_WIRE = "the netlist's regulator has 0.1 mOhm before the capacitance"

CASES = (
    Case("linked fuses: three rails off at one instant",
         (Rail((capacitor(4700e-6, 0.03), resistor(50)), 1, 0.03, fuse=0.02, linked=True), Rail((resistor(10),), 2, 0.1),
          Rail((capacitor(470e-6, 0.05), resistor(100)), 1, 0.05)),
         (Leg((12, 5, 9), 0.01, 0.1),), step=2e-6, within=2e-4, because="the trip comes at the end of a step: one in 20 ms"),
    Case("overpower trips on a ramp", (Rail((resistor(10),), 2, 0.1, overpower=2.5),), (Leg((10,), 0.1, 0.05),), step=5e-6,
         within=5e-4, because="the trip comes at the end of a step; all quantities grow until then"),
    Case("two channels in series", (Rail((capacitor(470e-6, 0.1), resistor(30)), 0.8, 0.2),),
         (Leg((24,), 0.01, 0.05), Leg((10,), 0.01, 0.05)), step=5e-6, within=2e-6, combine="series",
         because="1 GOhm across each channel in the netlist, or nothing would share the voltage"),
    Case("two channels in parallel", (Rail((capacitor(2200e-6, 0.1), resistor(8)), 3, 0.2),),
         (Leg((12,), 0.01, 0.05), Leg((6,), 0.01, 0.05)), step=5e-6, within=5e-7, combine="parallel", because=STEPS),
    Case("slew of the output", (Rail((capacitor(470e-6, 0.1), resistor(20)), 1.2, 0.1),),
         (Leg((10,), 0, 0.05), Leg((2,), 0, 0.08)), step=5e-6, within=3e-4, slew=(1000, 200),
         because="the peak stands on the corner of the setpoint, which the netlist rounds over a step"),
    Case("output capacitance", (Rail((resistor(20), capacitor(100e-6, 0.5)), 0.9, 0.5),),
         (Leg((10,), 0, 0.03), Leg((4,), 0, 0.03)), step=2e-6, within=5e-5, output_capacitance=100e-6, because=BARE_WIRE),
    Case("sink takes the charge back", (Rail((capacitor(1e-3, 0.02), resistor(200)), 1, 0.1),),
         (Leg((12,), 0, 0.05), Leg((3,), 0, 0.2)), step=1e-5, within=2e-6, sink=0.1, because=STEPS),
    Case("remote sense and its headroom", (Rail((resistor(5), capacitor(220e-6, 0.1)), 3, 0.5),),
         (Leg((8,), 0.01, 0.03), Leg((12,), 0.01, 0.03), Leg((6,), 0.02, 0.02)), step=2e-6, within=5e-5, headroom=1,
         because="the netlist's sense is short of the setpoint by 0.1 mOhm times the current"),
    Case("off resistance and output capacitance drain the load", (Rail((capacitor(100e-6, 1), resistor(1e5)), 1, 0.1),),
         (Leg((10,), 0, 0.05), Leg((10,), 0, 0.5, on=False)), step=2e-5, within=2e-4, off_resistance=1e4,
         output_capacitance=10e-6, because=BARE_WIRE),
)
