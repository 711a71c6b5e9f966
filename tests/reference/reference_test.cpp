#include <doctest/doctest.h>

#include "tests/support/reference_case.h"

using namespace rampart;
using namespace rampart::test;

// The same circuits by SUNDIALS CVODE with root finding, written down independently: agreement to 1e-6 in energy,
// charge, time in constant current and time of trip.

TEST_CASE("linear circuits agree with CVODE") {
  const std::vector<ReferenceCase> cases = {
      {"inrush of a bulk capacitor in constant current",
       {capacitor(470e-6, 60e-3), resistor(24)},
       {reference_capacitor(470e-6, 60e-3), reference_resistor(24)},
       40e-3,
       "700 mA",
       {{"5 V", "0 s", "100 ms"}}},
      {"power cycle with holding on the way down",
       {capacitor(1e-3, 50e-3), resistor(24)},
       {reference_capacitor(1e-3, 50e-3), reference_resistor(24)},
       10e-3,
       "600 mA",
       {{"12 V", "50 ms", "200 ms"}, {"0 V", "50 ms", "100 ms"}}},
      {"two capacitors of unlike speed",
       {capacitor(2200e-6, 0.2), capacitor(10e-6, 5e-3), resistor(10)},
       {reference_capacitor(2200e-6, 0.2), reference_capacitor(10e-6, 5e-3), reference_resistor(10)},
       50e-3,
       "2 A",
       {{"9 V", "5 ms", "50 ms"}, {"3 V", "5 ms", "100 ms"}}},
      {"capacitor at the port behind a long wire",
       {capacitor(100e-6), resistor(47)},
       {reference_capacitor(100e-6, 0), reference_resistor(47)},
       0.5,
       "1 A",
       {{"24 V", "0 s", "10 ms"}, {"12 V", "0 s", "10 ms"}}},
      {"relay coil",
       {inductor(0.2, 60), resistor(1000)},
       {reference_inductor(0.2, 60), reference_resistor(1000)},
       0.1,
       "300 mA",
       {{"12 V", "2 ms", "50 ms"}}},
      {"coil into a limit",
       {inductor(50e-3, 4), resistor(100)},
       {reference_inductor(50e-3, 4), reference_resistor(100)},
       0.1,
       "1.5 A",
       {{"10 V", "0 s", "100 ms"}}},
      {"coil and capacitor ring",
       {inductor(1e-3, 0.5), capacitor(100e-6, 20e-3), resistor(20)},
       {reference_inductor(1e-3, 0.5), reference_capacitor(100e-6, 20e-3), reference_resistor(20)},
       0.3,
       "30 A",
       {{"5 V", "1 ms", "10 ms"}}},
      {"battery on charge in constant current",
       {source(11.5, 0.3)},
       {reference_source(11.5, 0.3)},
       0.05,
       "2 A",
       {{"12.8 V", "500 ms", "1 s"}, {"11 V", "100 ms", "100 ms"}}},
      {"fuse that trips in the inrush",
       {capacitor(4700e-6, 30e-3), resistor(50)},
       {reference_capacitor(4700e-6, 30e-3), reference_resistor(50)},
       30e-3,
       "1 A",
       {{"12 V", "10 ms", "200 ms"}},
       "20 ms"},
      {"fuse that just outlasts the inrush",
       {capacitor(470e-6, 30e-3), resistor(50)},
       {reference_capacitor(470e-6, 30e-3), reference_resistor(50)},
       30e-3,
       "1 A",
       {{"12 V", "1 ms", "200 ms"}},
       "20 ms"},
      {"holding on ramp-down with a large capacitor",
       {capacitor(22e-3, 30e-3), resistor(10)},
       {reference_capacitor(22e-3, 30e-3), reference_resistor(10)},
       20e-3,
       "4 A",
       {{"12 V", "200 ms", "300 ms"}, {"2 V", "50 ms", "500 ms"}}},
      {"wire drop: two loads at the end of 2 Ohm",
       {resistor(15), capacitor(330e-6, 0.2), inductor(10e-3, 30)},
       {reference_resistor(15), reference_capacitor(330e-6, 0.2), reference_inductor(10e-3, 30)},
       2,
       "1.5 A",
       {{"18 V", "0 s", "50 ms"}, {"9 V", "0 s", "50 ms"}}},
  };
  for (const ReferenceCase& example : cases) compare(example);
}

TEST_CASE("linked fuses agree with CVODE") {
  SupplySpec supply = fine_supply();
  supply.channels.push_back(supply.channels[0]);
  SimulationCase plant({supply});
  plant.rail({capacitor(4700e-6, 30e-3), resistor(50)}, 30e-3).rail({capacitor(470e-6, 50e-3), resistor(100)}, 50e-3);
  plant.fuse("20 ms", 0, {RailId{1}});
  const Simulation simulation = plant.run({limit(0, "1 A"), limit(1, "1 A"), on(0), on(1), dwell("1 ms"),
                                           ramp(0, "12 V", "10 ms"), ramp(1, "9 V", "10 ms"), dwell("200 ms")});
  ReferenceCircuit first;
  first.wire = 30e-3;
  first.elements = {reference_capacitor(4700e-6, 30e-3), reference_resistor(50)};
  first.fuse_delay = 20e-3;
  const ReferenceAnswer tripped =
      first.play({{1e-3, 0, 0, 1, true}, {10e-3, 0, 12, 1, true}, {210e-3, 12, 12, 1, true}});
  REQUIRE(tripped.fuse_time);
  // The other rail goes the same way up to that instant, and is off from then on.
  ReferenceCircuit second;
  second.wire = 50e-3;
  second.elements = {reference_capacitor(470e-6, 50e-3), reference_resistor(100)};
  const double trip = *tripped.fuse_time;
  const ReferenceAnswer linked = second.play({{11e-3, 0, 0, 1, true},
                                              {10e-3, 0, 9, 1, true},
                                              {trip - 21e-3, 9, 9, 1, true},
                                              {simulation.duration_s - trip, 9, 9, 1, false}});
  Agreement agreement("SUNDIALS CVODE", "linked fuses: two rails off at one instant");
  compare(simulation.rails[0], tripped, agreement);
  REQUIRE(simulation.rails[1].trip);
  CHECK(agreement.add(simulation.rails[1].trip->time_s, trip) < 1e-6);
  CHECK(agreement.add(simulation.rails[1].energy_J, linked.energy) < 1e-6);
  CHECK(agreement.add(simulation.rails[1].charge_C, linked.charge) < 1e-6);
  CHECK(agreement.add(simulation.rails[1].final_voltage_V, linked.port_voltage, 1e-3) < 1e-6);
}
