#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <string>

#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

// The readings of a folded loop are those of the same passes written out one by one.
namespace {

std::string tenths(int tenths_of_ms) {
  return std::to_string(tenths_of_ms * 100) + " us";
}

Program random_pass() {
  Program pass;
  for (int i = *rc::gen::inRange(1, 4); i > 0; --i) {
    pass.push_back(step(0, std::to_string(*rc::gen::inRange(0, 60)) + "00 mV"));
    pass.push_back(dwell(tenths(*rc::gen::inRange(20, 300))));
    if (*rc::gen::inRange(0, 2) == 0) pass.push_back(measure("inside", tenths(*rc::gen::inRange(1, 800))));
  }
  pass.push_back(measure("end", tenths(*rc::gen::inRange(1, 200))));
  return pass;
}

struct Totals {
  std::int64_t count = 0;
  bool drifts = false;
  bool is_known = true;
  double volts = 0;
  double amps = 0;
};

Totals totals_of(const Simulation& simulation, std::string_view name) {
  Totals totals;
  for (const TakenReading& reading : simulation.readings) {
    if (reading.name != name) continue;
    totals.count += reading.count + reading.drifting;
    totals.drifts = totals.drifts || reading.drifting > 0;
    totals.is_known = totals.is_known && reading.rails[0].has_value();
    if (!reading.rails[0]) continue;
    totals.volts += static_cast<double>(reading.count) * reading.rails[0]->voltage_V;
    totals.amps += static_cast<double>(reading.count) * reading.rails[0]->current_A;
  }
  return totals;
}

void compare(SimulationCase& plant, int passes) {
  const Program pass = random_pass();
  const Program start = {limit(0, "2 A"), on(0), dwell("100 ms")};
  Program folded = start;
  folded.push_back(repeat(passes, pass));
  Program written = start;
  for (int i = 0; i < passes; ++i) written.insert(written.end(), pass.begin(), pass.end());
  for (Program* program : {&folded, &written}) {
    program->push_back(dwell("5 ms"));
    program->push_back(measure("after", tenths(*rc::gen::just(60))));
  }
  const Simulation one = plant.run(folded);
  const Simulation other = plant.run(written);
  const auto longest = static_cast<double>(passes * 6);
  for (const std::string_view name : {"inside", "end", "after"}) {
    const Totals a = totals_of(one, name);
    const Totals b = totals_of(other, name);
    if (name == "after") RC_ASSERT(a.count == 1);
    if (one.readings_left_out == 0) RC_ASSERT(a.count == b.count);
    RC_ASSERT(b.is_known);
    if (a.drifts || !a.is_known || one.readings_left_out > 0) continue;
    RC_ASSERT(a.volts == absolute(b.volts, 1e-9 * longest));
    RC_ASSERT(a.amps == absolute(b.amps, 1e-9 * longest));
  }
}

}  // namespace

TEST_CASE("readings of a folded loop, whole multiples of the grid") {
  CHECK(rc::check("on the grid", [] {
    SimulationCase plant({fine_supply(Interpolation::Hold)});
    const double farads = *rc::gen::inRange(1, 2000) * 1e-6;
    const int ohms = *rc::gen::inRange(2, 100);
    plant.rail({capacitor(farads, 0.05), resistor(ohms)}, *rc::gen::inRange(0, 20) * 0.1);
    compare(plant, *rc::gen::inRange(1, 80));
  }));
}

TEST_CASE("readings of a folded loop whose passes are not on the grid") {
  CHECK(rc::check("off the grid", [] {
    SupplySpec supply = fine_supply(Interpolation::Hold);
    supply.minimum_step = "1 ms";
    supply.resolution = "1 ms";
    SimulationCase plant({supply});
    plant.rail({resistor(*rc::gen::inRange(4, 100))});
    compare(plant, *rc::gen::inRange(1, 200));
  }));
}
