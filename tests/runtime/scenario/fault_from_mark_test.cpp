// A run with a fault that goes on from where the plain run stood at a mark is the run that goes all the way: exactly.
#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <string>
#include <tuple>

#include "compiler/compile/compile.h"
#include "runtime/load/load_file.h"
#include "runtime/play/run_notes.h"
#include "runtime/scenario/simulator.h"
#include "tests/support/load_elements.h"

namespace rampart {
namespace {

constexpr const char* kBench = R"(bench: Two supplies
supplies:
  s1:
    timing: {minimum_step: 10 ms, resolution: 1 ms, on_delay: 1 ms .. 5 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV}
        current: {range: 0 A .. 3 A, resolution: 1 mA}
        output_capacitance: 47 uF
        protection: {overvoltage: 1 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 90 W}
  s2:
    timing: {minimum_step: 5 ms, resolution: 1 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV}
        current: {range: 0 A .. 3 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 90 W}
)";

std::string random_load() {
  const std::string pulses = *rc::gen::element<std::string>(
      "", ", {kind: pulsed_current, current: 100 mA, on: 7 ms, period: 30 ms, from: 1 V, rest: 10 mA}");
  const std::string power = *rc::gen::element<std::string>(
      "", ", {kind: constant_power, power: 1 W, starts_at: 3 V, stops_at: 2 V, input_capacitance: 100 uF}");
  return "load: Two rails\nrails:\n"
         "  a: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}, {kind: capacitor, capacitance: 220 uF, "
         "esr: 50 mOhm}" +
         pulses +
         "]}\n"
         "  b: {wire: 80 mOhm, elements: [{kind: resistor, resistance: 33 Ohm}, {kind: capacitor, capacitance: 1 mF, "
         "esr: 20 mOhm}" +
         power + "]}\n";
}

// With marks m0, m1 and so on, some of them in loops.
std::string random_statements(int& marks, int depth) {
  std::string body;
  for (int i = *rc::gen::inRange(2, 8); i > 0; --i) {
    const std::string rail = *rc::gen::element<std::string>("a", "b");
    const std::string volts = std::to_string(*rc::gen::inRange(0, 6));
    const std::string length = std::to_string(10 * *rc::gen::element(1, 2, 5, 9, 40)) + " ms\n";
    switch (*rc::gen::inRange(0, 6)) {
      case 0:
        body += "ramp " + rail + " to " + volts + " V over " + length;
        break;
      case 1:
        body += "step " + rail + " to " + volts + " V\ndwell " + length;
        break;
      case 2:
        body += *rc::gen::element<std::string>("on ", "on ", "off ") + rail + "\ndwell " + length;
        break;
      case 3:
        if (depth > 0) {
          body += "repeat " + std::to_string(*rc::gen::inRange(2, 9)) + " {\ndwell 10 ms\n" +
                  random_statements(marks, depth - 1) + "}\n";
        }
        break;
      case 4:
        body += "await " + rail + " >= 1 V within " + length;
        break;
      default:
        body += "dwell 10 ms\nmark \"m" + std::to_string(marks++) + "\"\n";
        break;
    }
  }
  return body;
}

auto told(const Peak& peak) {
  return std::tuple(peak.value, peak.time_s);
}

void check_same(const Simulation& one, const Simulation& other) {
  RC_ASSERT(one.duration_s == other.duration_s);
  RC_ASSERT(one.total_energy_J == other.total_energy_J);
  RC_ASSERT(told(one.total_power_W) == told(other.total_power_W));
  RC_ASSERT(one.safe_played == other.safe_played);
  RC_ASSERT(one.fault.has_value() == other.fault.has_value());
  if (one.fault)
    RC_ASSERT(std::tuple(one.fault->time_s, one.fault->energy_J, one.fault->i2t_A2s) ==
              std::tuple(other.fault->time_s, other.fault->energy_J, other.fault->i2t_A2s));
  for (std::size_t i = 0; i < one.rails.size(); ++i) {
    const RailFigures& a = one.rails[i];
    const RailFigures& b = other.rails[i];
    RC_ASSERT(std::tuple(a.energy_J, a.charge_C, a.i2t_A2s, a.cc_time_s, a.final_voltage_V, a.stored_J) ==
              std::tuple(b.energy_J, b.charge_C, b.i2t_A2s, b.cc_time_s, b.final_voltage_V, b.stored_J));
    RC_ASSERT(std::tuple(told(a.current_A), told(a.power_W), told(a.voltage_V), told(a.longest_cc_s)) ==
              std::tuple(told(b.current_A), told(b.power_W), told(b.voltage_V), told(b.longest_cc_s)));
    RC_ASSERT(a.balance.dissipated_elements_J == b.balance.dissipated_elements_J);
    RC_ASSERT(a.trip.has_value() == b.trip.has_value());
    if (a.trip) RC_ASSERT(std::tuple(a.trip->cause, a.trip->time_s) == std::tuple(b.trip->cause, b.trip->time_s));
    RC_ASSERT(a.marks.size() == b.marks.size());
    for (std::size_t m = 0; m < a.marks.size(); ++m) {
      RC_ASSERT(std::tuple(a.marks[m].mark, a.marks[m].reached, a.marks[m].low_voltage_V, a.marks[m].high_current_A) ==
                std::tuple(b.marks[m].mark, b.marks[m].reached, b.marks[m].low_voltage_V, b.marks[m].high_current_A));
    }
  }
  RC_ASSERT(one.margins.size() == other.margins.size());
  for (std::size_t i = 0; i < one.margins.size(); ++i) {
    RC_ASSERT(std::tuple(one.margins[i].kind, one.margins[i].margin, one.margins[i].time_s) ==
              std::tuple(other.margins[i].kind, other.margins[i].margin, other.margins[i].time_s));
  }
  RC_ASSERT(one.events.size() == other.events.size());
  for (std::size_t i = 0; i < one.events.size(); ++i) {
    RC_ASSERT(std::tuple(one.events[i].kind, one.events[i].time_s, one.events[i].rail, one.events[i].count) ==
              std::tuple(other.events[i].kind, other.events[i].time_s, other.events[i].rail, other.events[i].count));
  }
  RC_ASSERT(one.awaited.size() == other.awaited.size());
  RC_ASSERT(one.folded.size() == other.folded.size());
  for (std::size_t i = 0; i < one.folded.size(); ++i) {
    RC_ASSERT(std::tuple(one.folded[i].simulated, one.folded[i].added) ==
              std::tuple(other.folded[i].simulated, other.folded[i].added));
  }
}

}  // namespace

TEST_CASE("a run with a fault begins at a mark of the plain run as if it had gone all the way") {
  int from_marks = 0;
  int tripped = 0;
  CHECK(rc::check("both runs are one", [&] {
    int marks = 1;
    const std::string body = random_statements(marks, 1) + "dwell 20 ms\nmark \"m0\"\n" + random_statements(marks, 1);
    const std::string mark = "m" + std::to_string(*rc::gen::inRange(0, marks));
    HeldTexts files;
    files.hold("p.ramp",
               "profile \"F\"\nbench \"c.bench.yaml\"\nload \"c.load.yaml\"\nrail a on s1.ch1\nrail b on s2.ch1\n"
               "protect a { fuse after 20 ms linked with b; overpower 20 W }\nprotect b { fuse after 30 ms }\n"
               "run {\nlimit a to 1 A, b to 1 A\n" +
                   body + "off a, b\ndwell 50 ms\n}\nsafe { off b; dwell 20 ms; off a }\n");
    files.hold("c.bench.yaml", kBench);
    files.hold("c.load.yaml", random_load());
    FindingSink findings;
    const Compiled compiled = compile(files, "p.ramp", {}, findings);
    RC_ASSERT(static_cast<bool>(compiled.run()));
    const LoadPtr load = read_load(compiled, files, findings);
    RC_ASSERT(static_cast<bool>(load));
    const Simulator simulator(compiled, load);
    RunNotes notes;
    notes.marks.want(mark);
    const Simulation plain = simulator.run({}, nullptr, {}, &notes);
    Injection fault{*rc::gen::element(RailId{0}, RailId{1}), {}, {}};
    fault.becomes.push_back(test::resistor(0.05));
    for (const MarkTime& first : plain.first_marks) {
      if (first.mark == mark) fault.at = first.at.plus(Nanoseconds{1'000'000 * *rc::gen::inRange(0, 200)});
    }
    from_marks += notes.marks.at(mark) != nullptr;
    const Simulation quick = simulator.run_fault(fault, &mark, notes.marks);
    check_same(quick, simulator.run_fault(fault, nullptr, notes.marks));
    tripped += quick.rails[0].trip.has_value();
  }));
  CHECK(from_marks > 20);
  CHECK(tripped > 0);
}

}  // namespace rampart
