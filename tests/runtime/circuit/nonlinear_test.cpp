#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "runtime/predict/run_findings.h"
#include "tests/support/load_elements.h"
#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// A step to a voltage at a limit, held for a time.
RailFigures step_into(std::vector<LoadElement> load, std::string_view volts, std::string_view amps,
                      std::string_view time, double wire = 0) {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail(std::move(load), wire);
  const Simulation simulation = simulated.run({limit(0, amps), on(0), step(0, volts), dwell(time)});
  CHECK(simulation.rails[0].balance.relative_error < 1e-6);
  return simulation.rails[0];
}

}  // namespace

// Shockley's equation gives exactly nothing at 0 V.
TEST_CASE("a diode at 0 V feeds nothing back into the output") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.bench.channels[0].sink = Amps{number("100 mA")};
  plant.rail({diode(1e-18, 2, 3, 300, 3), capacitor(100e-6, 0.1)}, 50e-3);
  const Simulation simulation = plant.run({limit(0, "400 mA"), on(0), dwell("1 ms")});
  for (const Event& event : simulation.events) CHECK(event.kind != EventKind::SinkEnter);
  CHECK(simulation.rails[0].charge_C == 0.0);
}

// The step-by-step method against the closed form: the same loads with an element added that draws nothing and is not
// linear.
TEST_CASE("both methods agree on linear loads") {
  const std::vector<std::pair<std::vector<LoadElement>, double>> loads = {
      {{capacitor(470e-6, 60e-3), resistor(24)}, 40e-3},
      {{capacitor(100e-6), resistor(47)}, 0.5},
      {{capacitor(100e-6), resistor(47)}, 0},
      {{resistor(10)}, 0},
      {{capacitor(2200e-6, 0.2), capacitor(10e-6, 5e-3), resistor(10)}, 50e-3},
      {{inductor(0.2, 60), resistor(1000)}, 0.1},
      {{source(3, 0.5), capacitor(1e-3)}, 0.1},
  };
  for (std::size_t i = 0; i < loads.size(); ++i) {
    CAPTURE(i);
    const auto play = [&loads, i](bool stepwise) {
      SimulationCase simulated;
      std::vector<LoadElement> elements = loads[i].first;
      if (stepwise) elements.push_back(constant_current(0));
      simulated.rail(elements, loads[i].second).fuse("4 ms");
      return simulated.run({limit(0, "700 mA"), on(0), ramp(0, "5 V", "5 ms"), dwell("50 ms"), ramp(0, "2 V", "5 ms"),
                            dwell("20 ms"), off(0), dwell("10 ms")});
    };
    const Simulation exact = play(false);
    const Simulation stepwise = play(true);
    const RailFigures& a = exact.rails[0];
    const RailFigures& b = stepwise.rails[0];
    CHECK(b.energy_J == relative(a.energy_J, 1e-7));
    CHECK(b.charge_C == relative(a.charge_C, 1e-7));
    CHECK(b.cc_time_s == relative(a.cc_time_s, 1e-6));
    CHECK(b.current_A.value == relative(a.current_A.value, 1e-7));
    CHECK(b.power_W.value == relative(a.power_W.value, 1e-7));
    CHECK(b.final_voltage_V == relative(a.final_voltage_V, 1e-6));
    CHECK(b.trip.has_value() == a.trip.has_value());
    if (a.trip && b.trip) CHECK(b.trip->time_s == relative(a.trip->time_s, 1e-7));
    CHECK(b.balance.relative_error < 1e-7);
    CHECK(exact.events.size() == stepwise.events.size());
  }
}

// 1N4004 at 300.15 K by Shockley's equation; parameters from Kuphaldt, Lessons in Electric Circuits, Vol. III, SPICE
// tables; voltages computed.
TEST_CASE("diode points") {
  struct Point {
    double saturation, ideality, resistance;
    const char* current;
    double volts;
  };
  for (const Point& point :
       {Point{18.8e-9, 2, 0, "1 mA", 0.5629}, Point{18.8e-9, 2, 0, "100 mA", 0.8011},
        Point{18.8e-9, 2, 0, "1 A", 0.9202}, Point{76.9e-9, 1.45, 42.2e-3, "1 mA", 0.3553},
        Point{76.9e-9, 1.45, 42.2e-3, "100 mA", 0.5322}, Point{76.9e-9, 1.45, 42.2e-3, "1 A", 0.6565}}) {
    const auto figures =
        step_into({diode(point.saturation, point.ideality, point.resistance, 300.15)}, "5 V", point.current, "1 ms");
    CHECK(figures.final_voltage_V == relative(point.volts, 1e-4));
  }
}

// V = (V_s + sqrt(V_s^2 - 4 R P)) / 2 for 12 V behind 0.1 Ohm; computed.
TEST_CASE("constant power behind a wire") {
  const auto low = step_into({converter(100, 9, 5, 100e-6)}, "12 V", "100 A", "1 s", 0.1);
  CHECK(low.final_voltage_V == relative((12 + std::sqrt(144.0 - 40)) / 2, 1e-7));
  CHECK(low.final_voltage_V == relative(11.0990, 1e-5));
  const auto high = step_into({converter(300, 9, 5, 100e-6)}, "12 V", "100 A", "1 s", 0.1);
  CHECK(high.final_voltage_V == relative(8.4495, 1e-5));
}

// Above 360 W there is no solution (maximum power transfer, 12 V behind 0.1 Ohm): it hunts between its levels.
TEST_CASE("constant power above what the wire can carry hunts and ends") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({converter(400, 9, 5, 100e-6)}, 0.1);
  const Simulation simulation = simulated.run({limit(0, "100 A"), on(0), step(0, "12 V"), dwell("10 s")});
  REQUIRE(simulation.chatter.size() == 1);
  CHECK(simulation.chatter[0].kind == ChatterKind::Modes);
  CHECK(simulation.chatter[0].cycles > 100);
  CHECK(simulation.rails[0].balance.relative_error < 1e-6);
  FindingSink findings;
  report_predictions(simulated.profile, simulated.load, simulation, findings);
  CHECK(std::any_of(findings.findings().begin(), findings.findings().end(),
                    [](const Finding& finding) { return finding.name == "mode-chatter"; }));
  CHECK(simulation.duration_s == relative(10, 1e-9));
}

TEST_CASE("what goes on without end is told by its kind") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({resistor(10)});
  Simulation simulation = simulated.run({limit(0, "1 A"), on(0), step(0, "1 V"), dwell("1 s")});
  const std::pair<ChatterKind, const char*> kinds[] = {{ChatterKind::Modes, "keeps changing its mode"},
                                                       {ChatterKind::Course, "never settles"},
                                                       {ChatterKind::Clock, "never repeat exactly"}};
  for (const auto& one : kinds) {
    simulation.chatter = {{RailId{0}, 0.5, 1000, {}, {}, one.first}};
    FindingSink findings;
    report_predictions(simulated.profile, simulated.load, simulation, findings);
    CHECK(std::any_of(findings.findings().begin(), findings.findings().end(), [&](const Finding& finding) {
      return finding.name == "mode-chatter" && finding.message.find(one.second) != std::string::npos;
    }));
  }
}

// However near its two levels are to each other and to the setpoint: a regulator never lifts its output above that.
TEST_CASE("a converter that starts and stops at the setpoint stays below it") {
  for (const double stops_at : {9.0, 9.0 - 1e-9, 8.99}) {
    SimulationCase simulated({fine_supply(Interpolation::Hold)});
    simulated.rail({converter(30, 9, stops_at, 10e-6)});
    const Simulation simulation =
        simulated.run({limit(0, "2 A"), on(0), step(0, "9 V"), dwell("1 ms"), step(0, "12 V"), dwell("1 ms")});
    CHECK(simulation.rails[0].voltage_V.value <= 12 * (1 + 1e-9));
    CHECK(simulation.rails[0].current_A.value <= 2 * (1 + 1e-9));
  }
}

// 6 W from 9 V on, down to 7.5 V, at a limit of 0.3 A: C v v' = I v - P gives the time down,
// C/I [(V1 - V2) + P/I ln((P - I V2) / (P - I V1))]; the time up is C (V1 - V2) / I.
TEST_CASE("start-up hiccup under a current limit") {
  const double c = 220e-6;
  const double i = 0.3;
  const double p = 6;
  const double up = c * 1.5 / i;
  const double down = c / i * (p / i * std::log((p - i * 7.5) / (p - i * 9.0)) - 1.5);
  const double first = c * 9 / i;
  // Ten whole cycles after the first rise.
  const double whole = first + 10 * (up + down);
  const auto time = std::to_string(static_cast<long>(std::llround(whole * 1e6))) + " us";
  const auto figures = step_into({converter(p, 9, 7.5, c)}, "12 V", "300 mA", time);
  CHECK(figures.final_voltage_V == relative(9, 1e-3));
  CHECK(figures.cc_time_s == relative(whole, 1e-3));
  // What came in is in the capacitor or has been used: P for each time down.
  CHECK(figures.balance.dissipated_elements_J[0] == relative(10 * down * p, 2e-4));
}

TEST_CASE("soft start takes half of the power over its time") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({converter(12, 9, 5, 1e-6, 0.1)});
  const Simulation simulation = simulated.run({limit(0, "10 A"), on(0), step(0, "12 V"), dwell("300 ms")});
  const double stored = 1e-6 * 144 / 2;
  // P T / 2 while it rises, then P; the charge up to 12 V in constant current is 1.2 us long.
  CHECK(simulation.rails[0].energy_J == relative(12 * 0.05 + 12 * 0.2 + stored, 1e-5));
}

// OpenStax, College Physics 2e, "Ohm's Law" and "Electric Power and Energy": a 12 V headlight has 0.350 Ohm cold, so
// 34.3 A and 411 W, and 2.50 A, 30.0 W hot.
TEST_CASE("lamp inrush") {
  const auto free = step_into({lamp()}, "12 V", "40 A", "10 s");
  CHECK(free.current_A.value == relative(12 / 0.35, 1e-9));
  CHECK(free.power_W.value == relative(411, 2e-3));
  const auto limited = step_into({lamp()}, "12 V", "10 A", "10 s");
  CHECK(limited.current_A.value == relative(10, 1e-9));
  CHECK(limited.cc_time_s > 0);
  SimulationCase hot({fine_supply(Interpolation::Hold)});
  hot.rail({lamp()});
  const Simulation simulation =
      hot.run({limit(0, "40 A"), on(0), step(0, "12 V"), dwell("10 s"), statement(Mark{"hot"}), dwell("1 ms")});
  REQUIRE(simulation.rails[0].marks.size() == 1);
  CHECK(simulation.rails[0].marks[0].high_current_A == relative(2.5, 1e-6));
}

TEST_CASE("an overpower protection between hot and cold trips on the cold lamp") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({lamp()}).overpower("300 W", "0 s");
  const Simulation simulation = simulated.run({limit(0, "40 A"), on(0), step(0, "12 V"), dwell("1 s")});
  REQUIRE(simulation.rails[0].trip);
  CHECK(simulation.rails[0].trip->cause == TripCause::Overpower);
}

// C dV/dt = -I: the time from one voltage to another is C (V1 - V2) / I.
TEST_CASE("constant current empties a capacitor") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({capacitor(1e-3), constant_current(0.5, 1)});
  // 12 V down to 2 V at 0.5 A: 20 ms.
  const Simulation simulation =
      simulated.run({limit(0, "100 A"), on(0), step(0, "12 V"), dwell("1 s"), off(0), dwell("20 ms")});
  CHECK(simulation.rails[0].final_voltage_V == relative(2, 1e-8));
  const Simulation longer =
      simulated.run({limit(0, "100 A"), on(0), step(0, "12 V"), dwell("1 s"), off(0), dwell("1 s")});
  // It stops at its own voltage, within the knee.
  CHECK(longer.rails[0].final_voltage_V == relative(1, 1e-3));
}

TEST_CASE("constant current above the limit pulls the output down to where it starts") {
  const auto figures = step_into({constant_current(0.5, 3)}, "12 V", "300 mA", "1 s");
  CHECK(figures.final_voltage_V == relative(3, 1e-3));
  CHECK(figures.cc_time_s == relative(1, 1e-9));
  const auto enough = step_into({constant_current(0.5, 3)}, "12 V", "600 mA", "1 s");
  CHECK(enough.final_voltage_V == relative(12, 1e-9));
  CHECK(enough.charge_C == relative(0.5, 1e-9));
  CHECK(enough.cc_time_s == 0);
}

TEST_CASE("straight pieces of a curve") {
  // 12 V behind 10 Ohm meets the second piece, i = 0.1 + 0.1 (v - 5): v = 9.5 - ... solved by hand: v + 10 i = 12.
  const auto figures = step_into({curve({{0, 0}, {5, 0.1}, {15, 1.1}})}, "12 V", "10 A", "1 ms", 10);
  CHECK(figures.final_voltage_V == relative(8, 1e-9));
  // In constant current the first piece: 50 mA at 2.5 V.
  const auto limited = step_into({curve({{0, 0}, {5, 0.1}, {15, 1.1}})}, "12 V", "50 mA", "1 ms");
  CHECK(limited.final_voltage_V == relative(2.5, 1e-9));
}

TEST_CASE("pulses carry their charge") {
  const auto figures = step_into({pulses(1, 3e-3, 10e-3, 0.1), resistor(1000)}, "5 V", "2 A", "1 s");
  CHECK(figures.charge_C == relative(100 * (3e-3 * 1 + 7e-3 * 0.1) + 5e-3, 1e-9));
  CHECK(figures.current_A.value == relative(1.005, 1e-9));
}

TEST_CASE("a load profile begins with power good") {
  SimulationCase simulated;
  simulated.rail({load_profile(4, {{0, 0.02}, {50e-3, 0.4}}), resistor(5000)});
  // 5 V over 100 ms reaches 4 V at 80 ms; 0.02 A until 130 ms, 0.4 A until the end at 200 ms.
  const Simulation simulation = simulated.run({limit(0, "1 A"), on(0), ramp(0, "5 V", "100 ms"), dwell("100 ms")});
  const double through_resistor = (0.1 * 2.5 + 0.1 * 5) / 5000;
  CHECK(simulation.rails[0].charge_C == relative(0.02 * 0.05 + 0.4 * 0.07 + through_resistor, 1e-7));
}

// What it draws pulls the voltage back below the level at once: it stays awake, or would not come up at all.
TEST_CASE("a load profile wakes up behind a wire") {
  SimulationCase simulated;
  simulated.rail({load_profile(4, {{0, 0.5}}), capacitor(100e-6, 50e-3)}, 100e-3);
  const Simulation simulation = simulated.run({limit(0, "1 A"), on(0), ramp(0, "5 V", "100 ms"), dwell("100 ms")});
  CHECK(simulation.chatter.empty());
  // From 80 ms to 200 ms, and the capacitor's 5 V less the drop in the wire.
  CHECK(simulation.rails[0].charge_C == relative(0.5 * 0.12 + 100e-6 * 4.95, 1e-4));
}

TEST_CASE("passes of a lamp fold once they are alike") {
  const auto play = [](bool folded, std::int64_t passes) {
    SimulationCase simulated({fine_supply(Interpolation::Hold)});
    simulated.rail({lamp(), resistor(100)}, 20e-3);
    Program pass = {step(0, "12 V"), dwell("200 ms"), step(0, "0 V"), dwell("300 ms")};
    Program program = {limit(0, "8 A"), on(0)};
    if (folded) {
      program.push_back(repeat(passes, pass));
    } else {
      for (std::int64_t i = 0; i < passes; ++i) program.insert(program.end(), pass.begin(), pass.end());
    }
    return simulated.run(program);
  };
  const Simulation folded = play(true, 200);
  const Simulation written = play(false, 200);
  CHECK(folded.rails[0].energy_J == relative(written.rails[0].energy_J, 1e-9));
  CHECK(folded.rails[0].cc_time_s == relative(written.rails[0].cc_time_s, 1e-8));
  const Simulation many = play(true, 1'000'000);
  REQUIRE(!many.folded.empty());
  CHECK(many.folded[0].simulated < 1000);
}

// docs/simulation.md, "Energy balance": what is left over of delivered = wire + elements + stored, against all that
// came in. Solved in steps, there is always a little.
TEST_CASE("the error of a balance is what its own terms leave over") {
  const RailFigures figures = step_into({capacitor(1e-3, 0.02), lamp()}, "12 V", "5 A", "200 ms", 0.05);
  const EnergyBalance& balance = figures.balance;
  double rest = balance.delivered_J - balance.dissipated_wire_J - balance.stored_J;
  for (const double element : balance.dissipated_elements_J) rest -= element;
  CHECK(rest != 0);
  CHECK(balance.relative_error == relative(std::abs(rest) / balance.delivered_J, 1e-3));
}
