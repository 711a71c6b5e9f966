#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "runtime/fold/drift.h"
#include "tests/support/dice.h"
#include "tests/support/load_elements.h"
#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::test;

namespace {

const Program kPass = {on(0), dwell("1 s"), off(0), dwell("1 s")};

LoadElement supercapacitor(double capacitance, double esr, double leakage, double initial = 0) {
  return {{}, CapacitorElement{exactly(capacitance), exactly(esr), exactly(leakage), initial}};
}

LoadElement random_supercapacitor(Dice& dice) {
  const double farads = dice.between(1, 1000);
  const double esr = dice.between(1e-3, 1);
  const double leakage = dice.between(1e3, 1e7);
  return supercapacitor(farads, esr, leakage, dice.between(0.1, 3));
}

LoadElement random_capacitor(Dice& dice) {
  const double farads = dice.between(1e-5, 1e-1);
  return capacitor(farads, dice.between(1e-2, 10));
}

LoadElement random_inductor(Dice& dice) {
  const double henries = dice.between(1e-4, 1);
  return inductor(henries, dice.between(10, 1e3));
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

// Without `times` equal peaks may be met at another of the times at which they are reached.
void compare(const Simulation& loop, const Simulation& written, double share, bool times = true) {
  const auto same = [&](double a, double b) { CHECK(a == relative(b, share)); };
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
    same(one.longest_cc_s.value, other.longest_cc_s.value);
    // What has decayed to nothing is as near as the highest voltage or current allows.
    const auto same_voltage = [&](double a, double b) { CHECK(a == absolute(b, share * other.voltage_V.value)); };
    // A difference of voltages over a small resistance has no digits below that.
    const auto same_current = [&](double a, double b) {
      CHECK(a == absolute(b, share * other.current_A.value + 1e-12));
    };
    same_voltage(one.final_voltage_V, other.final_voltage_V);
    same(one.current_A.value, other.current_A.value);
    if (times) same(one.current_A.time_s, other.current_A.time_s);
    same(one.power_W.value, other.power_W.value);
    same(one.voltage_V.value, other.voltage_V.value);
    same(one.balance.dissipated_wire_J, other.balance.dissipated_wire_J);
    for (std::size_t k = 0; k < one.balance.dissipated_elements_J.size(); ++k) {
      same(one.balance.dissipated_elements_J[k], other.balance.dissipated_elements_J[k]);
    }
    CHECK(one.balance.relative_error < std::max(1e-9, 2 * other.balance.relative_error));
    REQUIRE(one.marks.size() == other.marks.size());
    for (std::size_t k = 0; k < one.marks.size(); ++k) {
      CHECK(one.marks[k].reached == other.marks[k].reached);
      same_voltage(one.marks[k].low_voltage_V, other.marks[k].low_voltage_V);
      same_voltage(one.marks[k].high_voltage_V, other.marks[k].high_voltage_V);
      same_current(one.marks[k].high_current_A, other.marks[k].high_current_A);
    }
    REQUIRE(one.trip.has_value() == other.trip.has_value());
    if (one.trip) {
      CHECK(one.trip->cause == other.trip->cause);
      same(one.trip->time_s, other.trip->time_s);
    }
  }
  REQUIRE(loop.margins.size() == written.margins.size());
  for (std::size_t i = 0; i < loop.margins.size(); ++i) {
    CAPTURE(row_of(loop.margins[i].kind).name);
    const Margin& margin = written.margins[i];
    const double size = std::max(std::abs(margin.limit), std::abs(margin.margin));
    CHECK(std::abs(loop.margins[i].margin - margin.margin) <= share * size);
    if (times) same(loop.margins[i].time_s, written.margins[i].time_s);
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
      REQUIRE(found.distance == relative(distance, 1e-12));
      REQUIRE(found.sum == relative(sum, 1e-12));
      REQUIRE(found.squares == relative(squares, 1e-12));
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

TEST_CASE("drifts in nested loops") {
  SimulationCase plant = fine_case();
  plant.rail({supercapacitor(5, 20e-3, 1e5)}, 10);
  const Program pass = {on(0), dwell("300 ms"), off(0), dwell("100 ms")};
  const Program outer = {repeat(50, pass), off(0), dwell("10 s")};
  Program written;
  for (int i = 0; i < 50; ++i) written.insert(written.end(), pass.begin(), pass.end());
  written.insert(written.end(), {off(0), dwell("10 s")});
  const Simulation loop = play(plant, set_to("2.7 V", "50 A"), 200, outer, Way::Loop);
  CHECK(drifting(loop) > 1'000);
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
  const long double lasting = rest * -std::expm1(-rate_on) * std::exp(-rate_off) / -std::expm1(-rate_on - rate_off);
  for (const std::int64_t passes : {100'000, 1'000'000, 10'000'000}) {
    CAPTURE(passes);
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(3000, 0.5, 1e5)}, 999.5);
    const Simulation simulation = play(plant, set_to("2.7 V", "50 A"), passes, kPass, Way::Loop);
    REQUIRE(drifting(simulation) > passes - 100);
    const double error = simulation.folded[0].error;
    CHECK(error <= 1e-13);
    const auto count = static_cast<long double>(passes);
    const long double end = -lasting * std::expm1(-count * (rate_on + rate_off));
    // Of the voltages at which passes begin, and of the current that each pass draws from there.
    const long double begins =
        lasting * (count + std::expm1(-count * (rate_on + rate_off)) / -std::expm1(-rate_on - rate_off));
    const long double gone = -std::expm1(-rate_on) / rate_on;
    const long double drawn = ((full - rest) * count + rest * gone * count - gone * begins) / resistance;
    const RailFigures& rail = simulation.rails[0];
    CHECK(std::abs(rail.final_voltage_V - static_cast<double>(end)) <= error * 2.7);
    CHECK(rail.charge_C == relative(static_cast<double>(drawn), error));
    CHECK(rail.energy_J == relative(static_cast<double>(full * drawn), error));
    CHECK(rail.balance.relative_error < error);
  }
}

TEST_CASE("random drifts equal passes that are written out") {
  int found = 0;
  for (std::uint32_t seed = 1; seed <= 60; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    SimulationCase plant;
    if (dice.chance(0.3)) plant.bench.channels[0].output_capacitance = Farads{number("470 uF")};
    std::vector<LoadElement> elements = {random_supercapacitor(dice)};
    if (dice.chance(0.4)) elements.push_back(random_capacitor(dice));
    if (dice.chance(0.4)) elements.push_back(resistor(dice.between(10, 1e5)));
    if (dice.chance(0.3)) elements.push_back(random_inductor(dice));
    plant.rail(elements, dice.between(0.1, 100));
    const std::string volts = milli(dice.between(0.5, 5), "V");
    const std::string time = milli(dice.between(0.01, 10), "s");
    const std::string rest = milli(dice.between(0.01, 10), "s");
    const std::string amps = milli(dice.between(1e-3, 100), "A");
    Program pass = {on(0), dwell(time), off(0), dwell(rest)};
    if (dice.chance(0.4)) pass = {ramp(0, volts, time), dwell(rest), step(0, "100 mV"), dwell(time)};
    pass.push_back(statement(Mark{"end"}));
    if (dice.chance(0.3)) plant.overvoltage(milli(dice.between(0.5, 5), "V"));
    if (dice.chance(0.3)) plant.fuse(milli(dice.between(0.01, 100), "s"));
    const Program start = {limit(0, amps), step(0, volts), on(0)};
    const Simulation loop = play(plant, start, 2'000, pass, Way::Loop);
    // Passes that are alike to 1e-12 only are not the subject here.
    if (loop.folded.empty() || loop.folded[0].added != drifting(loop)) continue;
    ++found;
    compare(loop, play(plant, start, 2'000, pass, Way::WrittenOut), 1e-9, false);
  }
  CHECK(found > 30);
}

// The same passes, but something asks more of each than its sums.
TEST_CASE("passes are gone through where a drift cannot be added") {
  const auto walked = [](SimulationCase& plant, const Program& start, const Program& pass) {
    const Simulation simulation = play(plant, start, 2'000, pass, Way::Loop);
    CHECK(drifting(simulation) == 0);
    compare(simulation, play(plant, start, 2'000, pass, Way::WrittenOut), 1e-9);
  };
  SUBCASE("two rails drift") {
    SimulationCase plant({fine_supply(Interpolation::Hold), fine_supply(Interpolation::Hold)});
    plant.rail({supercapacitor(50, 20e-3, 1e5)}, 10).rail({supercapacitor(80, 20e-3, 1e5)}, 10);
    const Program start = {limit(0, "50 A"), step(0, "2.7 V"), limit(1, "50 A"), step(1, "2.7 V")};
    walked(plant, start, {on(0), on(1), dwell("1 s"), off(0), off(1), dwell("1 s")});
  }
  SUBCASE("their course is recorded") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e5)}, 10);
    Program program = set_to("2.7 V", "50 A");
    program.push_back(repeat(2'000, kPass));
    const Waveforms waves = plant.record(program);
    CHECK(drifting(plant.recorded) == 0);
    const Simulation plain = plant.run(program);
    CHECK(drifting(plain) > 1'900);
    compare(plain, plant.recorded, 1e-9);
    CHECK(!waves.left_out_from);
  }
  SUBCASE("an element is not linear") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(50, 20e-3, 1e5), constant_current(1e-3, 1)}, 10);
    const Program pass = {on(0), dwell("1 s"), off(0), dwell("1 s")};
    CHECK(drifting(play(plant, set_to("2.7 V", "50 A"), 100, pass, Way::Loop)) == 0);
  }
  SUBCASE("the crossing from constant current moves") {
    SimulationCase plant = fine_case();
    plant.rail({supercapacitor(0.5, 20e-3, 1e5), supercapacitor(50, 10, 1e5)}, 100e-3);
    const Program pass = {step(0, "2.7 V"), dwell("2 s"), step(0, "100 mV"), dwell("2 s")};
    plant.bench.channels[0].sink = Amps{number("1 A")};
    walked(plant, {limit(0, "1 A"), step(0, "0 V"), on(0)}, pass);
  }
}
