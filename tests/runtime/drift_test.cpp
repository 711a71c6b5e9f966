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
