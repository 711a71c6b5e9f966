#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <cmath>

#include "compiler/rules/switch_ends.h"
#include "runtime/play/run_notes.h"
#include "runtime/play/simulate.h"
#include "runtime/scenario/simulator.h"
#include "runtime/scenario/tolerances.h"
#include "tests/support/margin_of.h"
#include "tests/support/near.h"
#include "tests/support/resolved.h"
#include "tests/support/simulation_case.h"

// An output whose switch closes some time after `on`, while its rows go on. Expected values are closed forms, worked
// beside each case.

using namespace rampart;
using namespace rampart::test;

namespace {

// One rail on a supply whose switch takes so long.
SimulationCase delayed(std::string_view low, std::string_view high,
                       Interpolation interpolation = Interpolation::Linear) {
  SimulationCase plant({fine_supply(interpolation)});
  plant.bench.supplies[0].timing.on_delay = {time(low), time(high)};
  return plant;
}

// Where in its range the switch of every channel acts.
void put_switches(SimulationCase& plant, double position) {
  RailDeviation rail;
  rail.members.resize(1);
  rail.members[0].on_delay = position;
  plant.incidents.deviations.assign(plant.profile.rails.size(), rail);
}

std::vector<double> times_of(const Simulation& simulation, EventKind kind) {
  std::vector<double> times;
  for (const Event& event : simulation.events) {
    if (event.kind == kind) times.push_back(event.time_s);
  }
  return times;
}

Near about(double value, double epsilon = 1e-12) {
  return relative(value, epsilon);
}

}  // namespace

// 20 Ohm beside 4.7 mF at 1 A: v = 20 V (1 - exp(-t / 94 ms)) from 0 V, so 5 V are there after 94 ms ln(20 / 15). The
// ramp is over long before the switch closes.
TEST_CASE("a switch that closes after the ramp throws the setpoint onto an empty capacitor") {
  const double limited = 0.094 * std::log(20.0 / 15.0);
  const auto run = [](std::string_view fuse, double position) {
    SimulationCase plant = delayed("400 ms", "500 ms");
    plant.rail({resistor(20), capacitor(4.7e-3)}).fuse(fuse);
    put_switches(plant, position);
    return plant.run({limit(0, "1 A"), on(0), ramp(0, "5 V", "100 ms"), dwell("2 s")});
  };
  for (const double position : {-1.0, 0.0, 1.0}) {
    CAPTURE(position);
    const double closes = 0.45 + 0.05 * position;
    const Simulation trips = run("20 ms", position);
    REQUIRE(trips.rails[0].trip);
    CHECK(trips.rails[0].trip->cause == TripCause::Fuse);
    CHECK(trips.rails[0].trip->time_s == about(closes + 0.020));
    const Simulation holds = run("30 ms", position);
    CHECK_FALSE(holds.rails[0].trip);
    CHECK(holds.rails[0].cc_time_s == about(limited, 1e-9));
    CHECK(margin_of(holds, MarginKind::Fuse).margin == about(0.030 - limited, 1e-9));
    REQUIRE(times_of(holds, EventKind::On).size() == 1);
    CHECK(times_of(holds, EventKind::On)[0] == about(closes));
  }
}

// 10 Ohm and 1 mF behind a ramp u = s t that is let on at tc: v = s (t - tau) - s (tc - tau) exp(-(t - tc) / tau).
TEST_CASE("an RC follows a ramp from where the switch closes") {
  const double tau = 0.010;
  const double slope = 50;
  for (const double position : {-1.0, 0.0, 1.0}) {
    CAPTURE(position);
    SimulationCase plant = delayed("20 ms", "40 ms");
    plant.rail({capacitor(1e-3)}, 10);
    put_switches(plant, position);
    const Simulation simulation = plant.run({limit(0, "2 A"), on(0), ramp(0, "5 V", "100 ms")});
    const double closes = 0.030 + 0.010 * position;
    const double end = slope * (0.1 - tau) - slope * (closes - tau) * std::exp(-(0.1 - closes) / tau);
    CHECK(simulation.rails[0].final_voltage_V == about(end));
    // What the setpoint has come to falls on the empty capacitor's 10 Ohm.
    CHECK(simulation.rails[0].current_A.value == about(slope * closes / 10));
    CHECK(simulation.rails[0].current_A.time_s == about(closes));
  }
}

// 10 Ohm and 1 mF, and a setpoint that comes to 5 V after 50 ms and is gone after 100 ms. Closed at once the capacitor
// takes at most C dV/dt = 100 mA, closed at the end nothing, and half-way 5 V / 10 Ohm.
TEST_CASE("what lies between the ends of a delay can be worse than either") {
  const auto peak = [](double position) {
    SimulationCase plant = delayed("0 ms", "100 ms");
    plant.rail({capacitor(1e-3)}, 10);
    put_switches(plant, position);
    const Simulation simulation =
        plant.run({limit(0, "2 A"), on(0), ramp(0, "5 V", "50 ms"), ramp(0, "0 V", "50 ms"), dwell("100 ms")});
    return simulation.rails[0].current_A.value;
  };
  CHECK(peak(-1) < 0.1);
  CHECK(peak(1) == 0);
  CHECK(peak(0) == about(0.5));
}

TEST_CASE("an output that is switched off before its switch has closed, or as it would, was never on") {
  for (const char* time_on : {"19 ms", "20 ms"}) {
    CAPTURE(time_on);
    SimulationCase plant = delayed("20 ms", "20 ms", Interpolation::Hold);
    plant.rail({resistor(10)});
    const Simulation simulation =
        plant.run({limit(0, "2 A"), step(0, "10 V"), on(0), dwell(time_on), off(0), dwell("100 ms")});
    CHECK(simulation.rails[0].energy_J == 0);
    CHECK(times_of(simulation, EventKind::On).empty());
    CHECK(times_of(simulation, EventKind::Off).empty());
  }
  SimulationCase plant = delayed("20 ms", "20 ms", Interpolation::Hold);
  plant.rail({resistor(10)});
  const Simulation simulation =
      plant.run({limit(0, "2 A"), step(0, "10 V"), on(0), dwell("25 ms"), off(0), dwell("100 ms")});
  // 10 W for the 5 ms that are left: off acts at once.
  CHECK(simulation.rails[0].energy_J == about(0.05));
  CHECK(times_of(simulation, EventKind::Off)[0] == about(0.025));
}

TEST_CASE("what is left on a rail counts where its switch closes") {
  SimulationCase plant = delayed("30 ms", "30 ms", Interpolation::Hold);
  plant.rail({resistor(20), capacitor(1e-3, 0, 5)});
  const Simulation simulation = plant.run({limit(0, "2 A"), on(0), dwell("100 ms")});
  REQUIRE(simulation.rails[0].shortfalls.charged_at_on);
  CHECK(simulation.rails[0].shortfalls.charged_at_on->voltage_V == about(5 * std::exp(-1.5)));
  CHECK(simulation.rails[0].shortfalls.charged_at_on->time_s == about(0.030));
}

TEST_CASE("a setpoint stands for the load from where the switch closes") {
  SimulationCase plant = delayed("30 ms", "30 ms", Interpolation::Hold);
  plant.rail({resistor(10)});
  const Simulation simulation = plant.run({limit(0, "2 A"), step(0, "5 V"), on(0), dwell("100 ms")});
  CHECK(margin_of(simulation, MarginKind::Settling).limit == about(0.070));
}

// 10 V on 10 Ohm: 10 W. Told to close at the end of each pass, the switch closes 5 ms into the next; off comes at 10
// ms.
TEST_CASE("a switch that closes in the next pass does so in passes that are added, too") {
  SimulationCase plant = delayed("4 ms", "6 ms", Interpolation::Hold);
  plant.rail({resistor(10)});
  const std::int64_t passes = 100'000;
  const Simulation simulation =
      plant.run({limit(0, "2 A"), step(0, "10 V"), repeat(passes, {dwell("10 ms"), off(0), dwell("10 ms"), on(0)}),
                 dwell("5 ms")});
  CHECK(simulation.rails[0].energy_J == about(0.05 * static_cast<double>(passes - 1)));
  REQUIRE(simulation.folded.size() == 1);
  CHECK(simulation.folded[0].simulated < 10);
}

// 1 F behind 10 Ohm is charged for 15 of the 20 ms of each pass that its output is told to be on:
// 5 V (1 - exp(-n 15 ms / 10 s)).
TEST_CASE("a slow drift goes on over switches that close late") {
  SimulationCase plant = delayed("5 ms", "5 ms", Interpolation::Hold);
  plant.rail({capacitor(1)}, 10);
  const std::int64_t passes = 1000;
  const Simulation simulation =
      plant.run({limit(0, "2 A"), step(0, "5 V"), repeat(passes, {on(0), dwell("20 ms"), off(0), dwell("10 ms")})});
  CHECK(simulation.rails[0].final_voltage_V == about(5 * (1 - std::exp(-1.5)), 1e-9));
  REQUIRE(simulation.folded.size() == 1);
  CHECK(simulation.folded[0].drifting > passes / 2);
}

// 1 Ohm at 1 V and 2 V by turns, 1 ms each. Closed at 500.5 ms: half of the 1 V and all of the 2 V of pass 251, and
// 749 whole passes of 5 mJ.
TEST_CASE("passes before and after a late closing are added, and the closing comes at its instant") {
  SimulationCase plant = delayed("500.5 ms", "500.5 ms", Interpolation::Hold);
  plant.rail({resistor(1)});
  const Simulation simulation =
      plant.run({limit(0, "5 A"), on(0), repeat(1000, {step(0, "1 V"), dwell("1 ms"), step(0, "2 V"), dwell("1 ms")})});
  CHECK(simulation.rails[0].energy_J == about(0.5e-3 + 4e-3 + 749 * 5e-3));
  REQUIRE(simulation.folded.size() == 1);
  CHECK(simulation.folded[0].simulated < 20);
  CHECK(times_of(simulation, EventKind::On)[0] == about(0.5005));
}

namespace {

// Two rails of 10 Ohm, the second on a supply that takes 100 ms.
SimulationCase quick_and_late() {
  SimulationCase plant({fine_supply(Interpolation::Hold), fine_supply(Interpolation::Hold)});
  plant.bench.supplies[1].timing.on_delay = {time("100 ms"), time("100 ms")};
  plant.rail({resistor(10)}).rail({resistor(10)});
  return plant;
}

const Program kBothOn = {limit(0, "1 A"), limit(1, "1 A"), step(0, "5 V"), step(1, "5 V"), on(0), on(1), dwell("1 s")};

}  // namespace

TEST_CASE("an interlock and a linked trip keep an output off whose switch was to close") {
  SimulationCase stopped = quick_and_late();
  Line interlock;
  interlock.name = "stop";
  interlock.trigger = LineTrigger::SwitchOff;
  interlock.rails = {RailId{0}, RailId{1}};
  stopped.profile.lines.push_back(interlock);
  stopped.incidents.assertion = Assertion{LineId{0}, Instant{time("60 ms"), 0}};
  const Simulation cut = stopped.run(kBothOn);
  CHECK(cut.rails[0].energy_J == about(2.5 * 0.060));
  CHECK(cut.rails[1].energy_J == 0);
  CHECK(times_of(cut, EventKind::On).size() == 1);

  // 1 Ohm from 50 ms on: 5 A is over the limit, and the fuse trips 20 ms later.
  SimulationCase linked = quick_and_late();
  linked.fuse("20 ms", 0, {RailId{1}}).fault("50 ms", {resistor(1)});
  const Simulation tripped = linked.run(kBothOn);
  REQUIRE(tripped.rails[1].trip);
  CHECK(tripped.rails[1].trip->cause == TripCause::Linked);
  CHECK(tripped.rails[1].energy_J == 0);
}

TEST_CASE("a switch closes in safe if that says nothing against it") {
  for (const bool says : {false, true}) {
    CAPTURE(says);
    SimulationCase plant = quick_and_late();
    plant.fuse("20 ms").fault("50 ms", {resistor(1)});
    plant.profile.safe = says ? Program{off(1), dwell("200 ms"), off(0)} : Program{dwell("200 ms"), off(1), off(0)};
    const Simulation simulation = plant.run(kBothOn);
    CHECK(simulation.safe_played);
    // The trip is at 70 ms, and safe ends at 270 ms: 170 ms are left from the closing on.
    CHECK(simulation.rails[1].energy_J == about(says ? 0 : 2.5 * 0.170));
  }
}

TEST_CASE("a short before the switch closes is caught once it has, and a line tells of constant current from there") {
  SimulationCase plant = quick_and_late();
  Line line;
  line.name = "limited";
  line.is_output = true;
  line.trigger = LineTrigger::ConstantCurrent;
  line.rails = {RailId{1}};
  plant.profile.lines.push_back(line);
  plant.fuse("20 ms", 1).fault("30 ms", {resistor(0.01)}, 1);
  const Simulation simulation = plant.run(kBothOn);
  REQUIRE(simulation.rails[1].trip);
  CHECK(simulation.rails[1].trip->time_s == about(0.120));
  CHECK(simulation.rails[1].energy_J == about(0.01 * 0.020));
  CHECK(times_of(simulation, EventKind::LineHigh) == std::vector<double>{0.1});
}

// 10 Ohm and 1 mF: 3 V of 5 V after 10 ms ln(5 / 2).
TEST_CASE("a wait goes on while a switch closes") {
  SimulationCase plant = delayed("100 ms", "100 ms", Interpolation::Hold);
  plant.rail({capacitor(1e-3)}, 10);
  Comparison reached;
  reached.form.terms.push_back({RailId{0}, Signal::Voltage, 1});
  reached.form.constant = -3;
  reached.form.unit = dimension::kVoltage;
  plant.profile.conditions.push_back({{}, {{Truth::Compare, reached}}});
  Await await;
  await.what = AwaitCondition{0};
  await.within = time("1 s");
  const Simulation simulation =
      plant.run({limit(0, "2 A"), step(0, "5 V"), on(0), dwell("20 ms"), statement(await), dwell("1 s")});
  REQUIRE(simulation.awaited.size() == 1);
  CHECK_FALSE(simulation.awaited[0].timed_out);
  CHECK(simulation.awaited[0].waited_s == about(0.080 + 0.010 * std::log(2.5)));
}

TEST_CASE("the course of an output is that of its terminals until its switch has closed") {
  SimulationCase plant = delayed("30 ms", "30 ms");
  plant.rail({resistor(10)});
  const Waveforms waveforms = plant.record({limit(0, "2 A"), on(0), ramp(0, "5 V", "100 ms")});
  double seen = 0;
  for (const WaveNode& node : waveforms.rails[0].nodes) {
    const auto* stretch = std::get_if<WaveStretch>(&node.what);
    REQUIRE(stretch != nullptr);
    for (const WaveSample& sample : stretch->samples) {
      const double at = node.begin + sample.time;
      if (std::abs(at - 0.030) < 1e-9) continue;  // where it jumps
      seen = std::max(seen, at);
      // Setpoint and terminals alike: nothing, then the ramp.
      const double expected = at < 0.030 ? 0 : 50 * at;
      CHECK(sample.values[0] == relative(expected, 1e-9));
      CHECK(sample.values[2] == relative(expected, 1e-9));
    }
  }
  CHECK(seen == about(0.1));
}

// Whatever a pass switches, and however long the switch takes: the property needs no other values than its own.
TEST_CASE("passes with a switch that closes late are like as many copies") {
  CHECK(rc::check("copies", [] {
    Program body;
    for (int i = *rc::gen::inRange(1, 7); i > 0; --i) {
      const std::string volts = std::to_string(*rc::gen::inRange(0, 4)) + " V";
      const std::string length = std::to_string(*rc::gen::inRange(1, 9)) + " ms";
      switch (*rc::gen::inRange(0, 5)) {
        case 0:
          body.push_back(ramp(0, volts, length));
          break;
        case 1:
          body.push_back(step(0, volts));
          break;
        case 2:
          body.push_back(on(0));
          break;
        case 3:
          body.push_back(off(0));
          break;
        default:
          body.push_back(dwell(length));
          break;
      }
      body.push_back(dwell("1 ms"));
    }
    const int passes = *rc::gen::inRange(1, 40);
    const std::string delay = std::to_string(*rc::gen::inRange(0, 60)) + " ms";
    SimulationCase plant = delayed(delay, delay, *rc::gen::element(Interpolation::Hold, Interpolation::Linear));
    plant.bench.supplies[0].timing.minimum_step = time("1 ms");
    plant.rail({resistor(10), capacitor(100e-6)}, 0.1);
    Program folded{limit(0, "2 A"), on(0), repeat(passes, body), dwell("100 ms")};
    Program copies{limit(0, "2 A"), on(0)};
    for (int i = 0; i < passes; ++i) copies.insert(copies.end(), body.begin(), body.end());
    copies.push_back(dwell("100 ms"));
    const Simulation one = plant.run(folded);
    const Simulation other = plant.run(copies);
    const auto same = [](double a, double b) { return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), 1e-3); };
    RC_ASSERT(same(one.duration_s, other.duration_s));
    RC_ASSERT(same(one.rails[0].energy_J, other.rails[0].energy_J));
    RC_ASSERT(same(one.rails[0].cc_time_s, other.rails[0].cc_time_s));
    RC_ASSERT(same(one.rails[0].final_voltage_V, other.rails[0].final_voltage_V));
    RC_ASSERT(same(one.rails[0].current_A.value, other.rails[0].current_A.value));
  }));
}

// 1 kOhm at each of `a` and `b`, without wires: what follows its setpoint at once.
Load bare_resistors() {
  Load load;
  for (const char* rail : {"a", "b"}) {
    load.rails.emplace_back();
    load.rails.back().rail = rail;
    load.rails.back().wire = exactly(0);
    load.rails.back().elements = {resistor(1000)};
  }
  return load;
}

// Some statements on the rails `a` and `b`.
std::string random_statements() {
  std::string body;
  for (int i = *rc::gen::inRange(2, 10); i > 0; --i) {
    const char rail = *rc::gen::element('a', 'b');
    const std::string volts = std::to_string(*rc::gen::inRange(0, 4));
    const std::string length = std::to_string(10 * *rc::gen::inRange(1, 9)) + " ms\n";
    switch (*rc::gen::inRange(0, 4)) {
      case 0:
        body += std::string("ramp ") + rail + " to " + volts + " V over " + length;
        break;
      case 1:
        body += std::string("step ") + rail + " to " + volts + " V\ndwell " + length;
        break;
      case 2:
        body += std::string(*rc::gen::element("on ", "on ", "off ")) + rail + "\ndwell " + length;
        break;
      default:
        body += "dwell " + length;
        break;
    }
  }
  return body;
}

constexpr const char* kRules = R"(
rule "always" always a - b <= 1.5 V while a >= 0.25 V
rule "before" a >= 1.25 V before b >= 1.75 V by 30 ms
rule "within" a >= 1.75 V within 100 ms after b >= 0.75 V
rule "rises" a rises from 0.75 V to 2.25 V within 70 ms
)";

// What follows its setpoint at once reads like it. The two sides share how rules are followed, but not what brings a
// rail where it is, nor when its switch closes.
TEST_CASE("rules on the setpoints and at a bare resistor agree with switches that close late") {
  CHECK(rc::check("sides agree", [] {
    Bench bench = make_bench({fine_supply(), fine_supply()});
    for (Supply& supply : bench.supplies) {
      // What is set at once takes one step of the supply: 1 ns of the times that are compared.
      supply.timing.minimum_step = supply.timing.resolution = Nanoseconds{1};
      const int low = *rc::gen::inRange(0, 50);
      supply.timing.on_delay = {std::chrono::milliseconds(low),
                                std::chrono::milliseconds(low + *rc::gen::inRange(0, 50))};
    }
    const std::string body = random_statements();
    Resolved resolved(bench, "rail a on s1.ch1\nrail b on s2.ch1\n" + std::string(kRules) +
                                 "run {\nlimit a to 1 A, b to 1 A\nrepeat 3 {\n" + body + "}\ndwell 200 ms\n}\n");
    RC_ASSERT(resolved.profile.has_value());
    const std::optional<Timeline> timeline =
        build_timeline(*resolved.profile, resolved.profile->run, TimelineStart::Off, resolved.findings);
    RC_ASSERT(timeline.has_value());
    const Table table(*resolved.profile, resolved.bench, *timeline);
    const Load load = bare_resistors();
    const std::vector<RuleResult> setpoints = judge_rules(table);
    std::vector<RuleResult> simulated = simulate(table, nullptr, load).rules;
    for (const SwitchPositions& ends : rules::switch_ends(table, RuleSide::Simulated)) {
      Incidents incidents;
      incidents.deviations = deviations_at(table, ends);
      rules::keep_worse(simulated, simulate(table, nullptr, load, incidents).rules, ends);
    }
    RC_ASSERT(setpoints.size() == simulated.size());
    for (std::size_t i = 0; i < setpoints.size(); ++i) {
      const RuleResult& one = setpoints[i];
      const RuleResult& other = simulated[i];
      RC_ASSERT(one.exercised == other.exercised);
      RC_ASSERT(one.margin.has_value() == other.margin.has_value());
      if (!one.margin) {
        RC_ASSERT(one.holds == other.holds);
        continue;
      }
      RC_ASSERT(std::abs(*one.margin - *other.margin) < 1e-8);
      RC_ASSERT(one.nominal.has_value() == other.nominal.has_value());
      RC_ASSERT(!one.nominal || std::abs(*one.nominal - *other.nominal) < 1e-8);
    }
  }));
}

// A run at an end of the delays is left where it goes on as the plain run did. What was found until then, and in that
// run, has to be what the whole run finds: the margins, and where they are.
TEST_CASE("runs with late switches that are left early find what whole runs find") {
  int left = 0;
  CHECK(rc::check("ends are judged alike", [&] {
    const Interpolation interpolation = *rc::gen::element(Interpolation::Linear, Interpolation::Hold);
    Bench bench = make_bench({fine_supply(interpolation), fine_supply(interpolation)});
    for (Supply& supply : bench.supplies) {
      supply.timing.minimum_step = time("5 ms");
      supply.timing.resolution = time("1 ms");
      const int low = *rc::gen::inRange(0, 30);
      supply.timing.on_delay = {std::chrono::milliseconds(low),
                                std::chrono::milliseconds(low + *rc::gen::inRange(0, 50))};
    }
    const std::string first = *rc::gen::element("on a, b\n", "on b\ndwell 30 ms\non a\n", "");
    const std::string dwell = *rc::gen::element("", "dwell 80 ms\n");
    Resolved resolved(bench, "rail a on s1.ch1\nrail b on s2.ch1\n" + std::string(kRules) +
                                 "run {\nlimit a to 1 A, b to 1 A\n" + first + dwell + random_statements() +
                                 "dwell 200 ms\nramp a to 3 V, b to 3 V over 100 ms\ndwell 100 ms\n}\n");
    RC_ASSERT(resolved.profile.has_value());
    const std::optional<Timeline> timeline =
        build_timeline(*resolved.profile, resolved.profile->run, TimelineStart::Off, resolved.findings);
    RC_ASSERT(timeline.has_value());
    const Table table(*resolved.profile, resolved.bench, *timeline);
    Load load = bare_resistors();
    for (RailLoad& rail : load.rails) {
      rail.wire = exactly(0.1);
      rail.elements.push_back(capacitor(*rc::gen::element(1e-5, 1e-3), 0.05));
    }
    const Simulator simulator(table, nullptr, load);
    RunNotes notes;
    const std::vector<RuleResult> plain = simulator.run({}, nullptr, {}, &notes).rules;
    std::vector<RuleResult> whole = plain;
    std::vector<RuleResult> quick = plain;
    for (const SwitchPositions& ends : rules::switch_ends(table, RuleSide::Simulated)) {
      Incidents incidents;
      incidents.deviations = deviations_at(table, ends);
      left += judge(table, nullptr, load, incidents, notes.milestones, {}).joined;
      rules::keep_worse(whole, simulate(table, nullptr, load, incidents).rules, ends);
      rules::keep_worse(quick, simulator.rules_at(ends, plain, notes.milestones), ends);
    }
    for (std::size_t i = 0; i < whole.size(); ++i) {
      RC_ASSERT(quick[i].holds == whole[i].holds);
      RC_ASSERT(quick[i].exercised == whole[i].exercised);
      RC_ASSERT(quick[i].margin.has_value() == whole[i].margin.has_value());
      if (!whole[i].margin) continue;
      // One that differs by rounding alone may be that of the other run.
      RC_ASSERT(std::abs(*quick[i].margin - *whole[i].margin) <= 1e-12 * std::max(1.0, std::abs(*whole[i].margin)));
      if (*quick[i].margin == *whole[i].margin) RC_ASSERT(quick[i].time_s == whole[i].time_s);
    }
  }));
  CHECK(left > 20);
}

// The simulation plays the stairs of a ramp and the way of a jump; on the setpoints both are taken off the margin. Of a
// way of a jump it is known exactly what it takes.
TEST_CASE("no rule is broken by how a supply plays that is not on the setpoints") {
  int compared = 0;
  CHECK(rc::check("setpoints allow for the table", [&] {
    const bool straight = *rc::gen::arbitrary<bool>();
    Bench bench = make_bench({fine_supply(straight ? Interpolation::Linear : Interpolation::Hold), fine_supply()});
    bench.supplies[0].timing.minimum_step = time("10 ms");
    bench.supplies[1].timing.minimum_step = time("1 ns");
    for (Supply& supply : bench.supplies) supply.timing.resolution = Nanoseconds{1};
    std::string body;
    for (int i = *rc::gen::inRange(2, 8); i > 0; --i) {
      const char rail = *rc::gen::element('a', 'a', 'b');
      const std::string volts = std::to_string(*rc::gen::inRange(0, 4));
      const std::string length = std::to_string(5 * *rc::gen::inRange(5, 20)) + " ms\n";
      const std::string change = std::string(1, rail) + " to " + volts + " V";
      switch (*rc::gen::inRange(0, 4)) {
        case 0:
          body += "ramp " + change + " over " + length;
          break;
        case 1:
          body += "step " + change + "\ndwell " + length;
          break;
        case 2:
          body += "step " + change + "\nramp b to 2 V over " + length;
          break;
        default:
          body += "dwell " + length;
          break;
      }
    }
    Resolved resolved(bench, "rail a on s1.ch1\nrail b on s2.ch1\n" + std::string(R"(
rule "low" always a - b >= -1.5 V while b >= 0.25 V
rule "high" always a - b <= 1.5 V while a >= 0.25 V
rule "before" a >= 1.25 V before b >= 1.75 V by 30 ms
rule "after" b >= 1.25 V before a >= 1.75 V by 30 ms
rule "within" a >= 1.75 V within 100 ms after b >= 0.75 V
run {
limit a to 1 A, b to 1 A
on a, b
dwell 20 ms
repeat 3 {
)") + body + "}\ndwell 200 ms\n}\n");
    RC_ASSERT(resolved.profile.has_value());
    const std::optional<Timeline> timeline =
        build_timeline(*resolved.profile, resolved.profile->run, TimelineStart::Off, resolved.findings);
    RC_ASSERT(timeline.has_value());
    const Table table(*resolved.profile, resolved.bench, *timeline);
    const Load load = bare_resistors();
    const std::vector<RuleResult> setpoints = judge_rules(table);
    const std::vector<RuleResult> simulated = simulate(table, nullptr, load).rules;
    RC_ASSERT(setpoints.size() == simulated.size());
    for (std::size_t i = 0; i < setpoints.size(); ++i) {
      const RuleResult& one = setpoints[i];
      const RuleResult& other = simulated[i];
      if (!one.exercised || !other.exercised) continue;
      // What holds on the setpoints with nothing left may be broken in the simulation by the rounding of an instant.
      const bool is_tie = one.margin && *one.margin < 2e-6;
      if (!other.holds && !is_tie) RC_ASSERT(!one.holds);
      if (!one.margin || !other.margin || !one.nominal) continue;
      // Of a `before` that is broken, the simulation may have met another occurrence: stairs may not reach the first.
      if (!one.holds && std::holds_alternative<BeforeRule>(resolved.profile->rules[one.rule].what)) continue;
      ++compared;
      RC_ASSERT(*one.margin < *other.margin + 2e-6);
      if (straight) RC_ASSERT(std::abs(*one.margin - std::min(*one.nominal, *other.margin)) < 2e-6);
    }
  }));
  CHECK(compared > 100);
}

// `a` runs up to 2 V at 85 ms, is above 1.75 V from 80 ms on, and is set to 1 V as it gets there: stairs of 10 ms leave
// the top out. In the next pass it comes from 1 V, and its stair of 1.75 V begins at 165 ms. `b` runs from 0 V to 2 V
// in 25 ms, from 85 ms and from 175 ms on, and is at 1.25 V after 15.625 ms; by hand.
TEST_CASE("stairs that leave the top of a ramp out make a rule meet a later one") {
  Bench bench = make_bench({fine_supply(Interpolation::Hold), fine_supply()});
  bench.supplies[0].timing.minimum_step = time("10 ms");
  bench.supplies[1].timing.minimum_step = time("1 ns");
  for (Supply& supply : bench.supplies) supply.timing.resolution = Nanoseconds{1};
  Resolved resolved(bench, R"(rail a on s1.ch1
rail b on s2.ch1
rule "after" b >= 1.25 V before a >= 1.75 V by 30 ms
run {
limit a to 1 A, b to 1 A
on a, b
dwell 20 ms
repeat 3 {
ramp b to 0 V over 25 ms
ramp a to 2 V over 40 ms
step a to 1 V
ramp b to 2 V over 25 ms
}
dwell 200 ms
}
)");
  REQUIRE(resolved.profile);
  const std::optional<Timeline> timeline =
      build_timeline(*resolved.profile, resolved.profile->run, TimelineStart::Off, resolved.findings);
  const Table table(*resolved.profile, resolved.bench, *timeline);
  const RuleResult setpoints = judge_rules(table).front();
  const RuleResult simulated = simulate(table, nullptr, bare_resistors()).rules.front();
  CHECK(!setpoints.holds);
  CHECK(!simulated.holds);
  CHECK(*setpoints.margin == absolute(0.080 - 0.100625 - 0.030, 2e-6));
  CHECK(*simulated.margin == absolute(0.165 - 0.190625 - 0.030, 2e-6));
}

TEST_CASE("the outputs of one supply have one delay, those of another one of their own") {
  SupplySpec pair = fine_supply();
  pair.channels.push_back(pair.channels.front());
  pair.channels.back().name = "ch2";
  SimulationCase plant({pair, fine_supply(), fine_supply()});
  plant.bench.supplies[0].timing.on_delay = {time("10 ms"), time("30 ms")};
  plant.bench.supplies[1].timing.on_delay = {time("0 ms"), time("5 ms")};
  plant.bench.supplies[2].timing.on_delay = {time("7 ms"), time("7 ms")};
  FindingSink findings;
  const std::optional<Timeline> timeline =
      build_timeline(plant.profile, plant.profile.run, TimelineStart::Off, findings);
  const Table table(plant.profile, plant.bench, *timeline);
  const spread::Tolerances tolerances(table, plant.load);
  REQUIRE(tolerances.list().size() == 2);
  CHECK(tolerances.list()[0].name == "switch-on delay of s1");
  CHECK(tolerances.list()[0].low == "10 ms");
  CHECK(tolerances.list()[0].high == "30 ms");
  const std::vector<double> positions{-1, 0.5};
  const spread::Case one = tolerances.at(positions);
  CHECK(one.deviations[0].members[0].on_delay == -1);
  CHECK(one.deviations[1].members[0].on_delay == -1);
  CHECK(one.deviations[2].members[0].on_delay == 0.5);
  CHECK(one.deviations[3].members[0].on_delay == 0);
  CHECK(time_in(plant.bench.supplies[0].timing.on_delay, 0) == time("20 ms"));
  CHECK(time_in(plant.bench.supplies[1].timing.on_delay, 0.5) == time("3.75 ms"));
}
