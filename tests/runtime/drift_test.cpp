#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "runtime/drift.h"
#include "tests/support/load_elements.h"

using namespace rampart;
using namespace rampart::test;

namespace {

const Program kPass = {on(0), dwell("1 s"), off(0), dwell("1 s")};

LoadElement supercapacitor(double capacitance, double esr, double leakage, double initial = 0) {
  return {{}, "capacitor", CapacitorElement{exactly(capacitance), exactly(esr), exactly(leakage), initial}};
}

// Passes in a loop, or written out one by one, which are gone through.
enum class Way : std::uint8_t { Loop, WrittenOut };

Simulation play(SimulationCase& plant, const Program& start, std::int64_t passes, const Program& pass, Way way) {
  Program program = start;
  if (way == Way::Loop) {
    program.push_back(repeat(passes, pass));
  } else {
    for (std::int64_t i = 0; i < passes; ++i) program.insert(program.end(), pass.begin(), pass.end());
  }
  return plant.run(program);
}

Program set_to(const char* volts, const char* amps) {
  return {limit(0, amps), step(0, volts)};
}

// Passes that were added as a drift.
std::int64_t drifting(const Simulation& simulation) {
  return simulation.folded.empty() ? 0 : simulation.folded[0].drifting;
}

void compare(const Simulation& loop, const Simulation& written, double share) {
  const auto same = [&](double a, double b) { CHECK(a == doctest::Approx(b).epsilon(share)); };
  same(loop.duration_s, written.duration_s);
  same(loop.total_power_W.value, written.total_power_W.value);
  for (std::size_t i = 0; i < loop.rails.size(); ++i) {
    CAPTURE(i);
    const RailFigures& one = loop.rails[i];
    const RailFigures& other = written.rails[i];
    same(one.energy_J, other.energy_J);
    same(one.charge_C, other.charge_C);
    same(one.i2t_A2s, other.i2t_A2s);
    same(one.cc_time_s, other.cc_time_s);
    same(one.longest_cc_s, other.longest_cc_s);
    same(one.final_voltage_V, other.final_voltage_V);
    same(one.current_A.value, other.current_A.value);
    same(one.current_A.time_s, other.current_A.time_s);
    same(one.power_W.value, other.power_W.value);
    same(one.voltage_V.value, other.voltage_V.value);
    same(one.balance.dissipated_wire_J, other.balance.dissipated_wire_J);
    for (std::size_t k = 0; k < one.balance.dissipated_elements_J.size(); ++k) {
      same(one.balance.dissipated_elements_J[k], other.balance.dissipated_elements_J[k]);
    }
    CHECK(one.balance.relative_error < 1e-9);
    REQUIRE(one.marks.size() == other.marks.size());
    for (std::size_t k = 0; k < one.marks.size(); ++k) {
      CHECK(one.marks[k].reached == other.marks[k].reached);
      same(one.marks[k].low_voltage_V, other.marks[k].low_voltage_V);
      same(one.marks[k].high_voltage_V, other.marks[k].high_voltage_V);
      same(one.marks[k].high_current_A, other.marks[k].high_current_A);
    }
    REQUIRE(one.trip.has_value() == other.trip.has_value());
    if (one.trip) {
      CHECK(one.trip->cause == other.trip->cause);
      same(one.trip->time_s, other.trip->time_s);
    }
  }
  REQUIRE(loop.margins.size() == written.margins.size());
  for (std::size_t i = 0; i < loop.margins.size(); ++i) {
    CAPTURE(loop.margins[i].what);
    CHECK(std::abs(loop.margins[i].margin - written.margins[i].margin) <= share * std::abs(written.margins[i].limit));
    same(loop.margins[i].time_s, written.margins[i].time_s);
  }
}

SimulationCase fine_case() {
  return SimulationCase({fine_supply(Interpolation::Hold)});
}

}  // namespace

// Sums by their definition.
TEST_CASE("what drifts comes to the sums of a geometric course") {
  for (const double loss : {0.0, 1e-12, 1e-3, 0.3, 1.0}) {
    CAPTURE(loss);
    double distance = 0;
    double sum = 0;
    double squares = 0;
    for (std::int64_t passes = 1; passes <= 1000; ++passes) {
      sum += distance;
      squares += distance * distance;
      distance = 1 + (1 - loss) * distance;
      const DriftSums found = drift_sums(loss, passes);
      REQUIRE(found.distance == doctest::Approx(distance).epsilon(1e-12));
      REQUIRE(found.sum == doctest::Approx(sum).epsilon(1e-12));
      REQUIRE(found.squares == doctest::Approx(squares).epsilon(1e-12));
    }
  }
}

TEST_CASE("added passes of a slow drift equal passes that are written out") {
  SUBCASE("voltage behind a resistance") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e5)}, 10);
    const Simulation loop = play(plant, set_to("2.7 V", "50 A"), 10'000, kPass, Way::Loop);
    CHECK(drifting(loop) > 9'900);
    CHECK(loop.folded[0].error < 1e-10);
    compare(loop, play(plant, set_to("2.7 V", "50 A"), 10'000, kPass, Way::WrittenOut), 1e-9);
  }
  SUBCASE("discharge") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e4, 2.5), resistor(100)}, 10);
    const Program pass = {on(0), dwell("10 ms"), off(0), dwell("1 s")};
    const Simulation loop = play(plant, set_to("500 mV", "50 A"), 3'000, pass, Way::Loop);
    CHECK(drifting(loop) > 1'000);
    compare(loop, play(plant, set_to("500 mV", "50 A"), 3'000, pass, Way::WrittenOut), 1e-9);
  }
  SUBCASE("a fast and a slow capacitor, and a second rail") {
    SimulationCase plant({fine_supply(Interpolation::Hold), fine_supply(Interpolation::Hold)});
    plant.rail({supercapacitor(50, 20e-3, 1e5), capacitor(100e-3, 2)}, 10).rail({capacitor(1e-3, 1), resistor(50)}, 1);
    const Program pass = {on(0), step(1, "5 V"), dwell("1 s"), off(0), step(1, "1 V"), dwell("1 s")};
    const Program start = {limit(0, "50 A"), step(0, "2.7 V"), limit(1, "1 A"), on(1)};
    const Simulation loop = play(plant, start, 10'000, pass, Way::Loop);
    CHECK(drifting(loop) > 9'000);
    compare(loop, play(plant, start, 10'000, pass, Way::WrittenOut), 1e-9);
  }
}

TEST_CASE("a drift runs into an event at its instant") {
  const auto check = [](SimulationCase& plant, const Program& start, std::int64_t passes, const Program& pass) {
    const Simulation loop = play(plant, start, passes, pass, Way::Loop);
    CHECK(drifting(loop) > 1'000);
    const Simulation written = play(plant, start, passes, pass, Way::WrittenOut);
    compare(loop, written, 1e-9);
    return loop;
  };
  // 1 mA for 1 s is 20 uV on 50 F: constant current for about 2,500 passes, then a crossing in each pass for some.
  SUBCASE("constant current up to the setpoint") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e6)}, 1);
    check(plant, set_to("50 mV", "1 mA"), 4'000, kPass);
  }
  SUBCASE("overvoltage where the current is held") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e6)}, 1).overvoltage("62 mV");
    CHECK(check(plant, set_to("5 V", "1 mA"), 10'000, kPass).rails[0].trip.has_value());
  }
  SUBCASE("current falls below the threshold of a fuse") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e6)}, 10).fuse("2 s");
    plant.protection().fuse->current = Placed<Amps>{Amps{number("50 mA")}, {}};
    check(plant, set_to("2.7 V", "50 A"), 10'000, kPass);
  }
  SUBCASE("power rises above a threshold") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e6)}, 1).overpower("61 uW", "10 ms");
    CHECK(check(plant, set_to("5 V", "1 mA"), 10'000, kPass).rails[0].trip.has_value());
  }
  SUBCASE("a fault comes in between") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e5)}, 10).fault("6001.5 s", {supercapacitor(25, 20e-3, 1e5)});
    check(plant, set_to("2.7 V", "50 A"), 10'000, kPass);
  }
}

TEST_CASE("drifts in nested loops, with marks and lines of other lengths") {
  SimulationCase plant = fine_case();
  plant.rail({supercapacitor(5, 20e-3, 1e5)}, 10);
  const Program pass = {on(0), dwell("300 ms"), off(0), dwell("100 ms")};
  const Program outer = {repeat(50, pass), off(0), dwell("10 s")};
  Program written;
  for (int i = 0; i < 50; ++i) written.insert(written.end(), pass.begin(), pass.end());
  written.insert(written.end(), {off(0), dwell("10 s")});
  const Simulation loop = play(plant, set_to("2.7 V", "50 A"), 200, outer, Way::Loop);
  compare(loop, play(plant, set_to("2.7 V", "50 A"), 200, written, Way::WrittenOut), 1e-9);
}

// On: C dV/dt = (V0 - V) / R - V / L; off: C dV/dt = -V / L. Each is an exponential, and so is the voltage from pass to
// pass. Computed in long double.
TEST_CASE("millions of passes equal the closed form") {
  const long double capacitance = 3000;
  const long double resistance = 1000;
  const long double leak = 1e5L;
  const long double full = 2.7L;
  const long double rate_on = (1 / resistance + 1 / leak) / capacitance;
  const long double rate_off = 1 / (leak * capacitance);
  const long double rest = full / resistance / (capacitance * rate_on);
  const long double fade = std::exp(-rate_on - rate_off);
  const long double lasting = rest * -std::expm1(-rate_on) * std::exp(-rate_off) / -std::expm1(-rate_on - rate_off);
  for (const std::int64_t passes : {100'000, 1'000'000, 10'000'000}) {
    CAPTURE(passes);
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(3000, 0.5, 1e5)}, 999.5);
    const Simulation simulation = play(plant, set_to("2.7 V", "50 A"), passes, kPass, Way::Loop);
    REQUIRE(drifting(simulation) > passes - 100);
    const double error = simulation.folded[0].error;
    CHECK(error < 1e-12);
    const auto count = static_cast<long double>(passes);
    const long double end = -lasting * std::expm1(count * std::log(fade));
    // Of the voltages at which passes begin, and of the current that each pass draws from there.
    const long double begins = lasting * (count + std::expm1(count * std::log(fade)) / (1 - fade));
    const long double gone = -std::expm1(-rate_on) / rate_on;
    const long double drawn = ((full - rest) * count + rest * gone * count - gone * begins) / resistance;
    const RailFigures& rail = simulation.rails[0];
    CHECK(std::abs(rail.final_voltage_V - static_cast<double>(end)) <= 2.7e-12);
    CHECK(rail.charge_C == doctest::Approx(static_cast<double>(drawn)).epsilon(1e-9));
    CHECK(rail.energy_J == doctest::Approx(static_cast<double>(full * drawn)).epsilon(1e-9));
    CHECK(rail.balance.relative_error < 1e-9);
    MESSAGE(passes, " ", error, " ", std::abs(rail.final_voltage_V - static_cast<double>(end)) / 2.7, " ",
            rail.charge_C / static_cast<double>(drawn) - 1, " ", rail.balance.relative_error, " walked ",
            simulation.folded[0].simulated);
  }
}
