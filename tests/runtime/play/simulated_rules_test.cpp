#include <doctest/doctest.h>

#include <cmath>
#include <stdexcept>
#include <string>

#include "runtime/play/simulate.h"
#include "tests/support/load_elements.h"
#include "tests/support/near.h"
#include "tests/support/resolved.h"

// Rules at the load, where the waveform has a closed form. Each case runs twice: with a load that is linear and solved
// exactly, and with a load that draws no current more and is solved in steps.

using namespace rampart;
using namespace rampart::test;

namespace {

Bench fine_bench() {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.channels.push_back(supply.channels.front());
  supply.channels.back().name = "ch2";
  return make_bench({supply});
}

// What each of the rails a and b drives.
using Loads = std::vector<std::pair<std::vector<LoadElement>, double>>;

class AtLoad {
 public:
  AtLoad(const std::string& text, Loads loads, bool stepwise, const Bench& bench = fine_bench())
      : resolved_(bench, "rail a on s1.ch1\nrail b on s1.ch2\n" + text) {
    if (!resolved_.profile || !resolved_.errors().empty()) throw std::runtime_error(resolved_.places());
    const Profile& profile = *resolved_.profile;
    Load load;
    for (std::size_t i = 0; i < loads.size(); ++i) {
      RailLoad rail;
      rail.rail = i == 0 ? "a" : "b";
      rail.elements = loads[i].first;
      if (stepwise) rail.elements.push_back(constant_current(0));
      rail.wire = exactly(loads[i].second);
      load.rails.push_back(rail);
    }
    const std::optional<Timeline> timeline =
        build_timeline(profile, profile.run, TimelineStart::Off, resolved_.findings);
    simulation = simulate(Table(profile, resolved_.bench, *timeline), nullptr, load);
  }

  [[nodiscard]] const RuleResult& operator[](const std::string& name) const {
    for (const RuleResult& result : simulation.rules) {
      if (resolved_.profile->rules[result.rule].name == name) return result;
    }
    throw std::runtime_error("no rule " + name);
  }

  Simulation simulation;

 private:
  Resolved resolved_;
};

}  // namespace

// v = V (1 - exp(-t / RC)) with 1 Ohm and 1 mF: 10 % to 90 % takes RC (ln(1 / 0.1) - ln(1 / 0.9)) = RC ln 9, by hand.
// The current is 5 A at first; at the terminals that is 25 W.
TEST_CASE("an RC rise is as quick as the closed form says") {
  for (const bool stepwise : {false, true}) {
    CAPTURE(stepwise);
    const double accuracy = stepwise ? 1e-6 : 1e-11;
    const AtLoad run(R"(
rule "rise" a rises from 0.5 V to 4.5 V within 10 ms
rule "current" always current(a) <= 6 A
rule "power" always power(a) <= 20 W
rule "late current" always current(a) <= 1 A while a >= 4.5 V
rule "no slew here" always slew(a) <= 1 V/s
run { limit a to 10 A; on a; step a to 5 V; dwell 100 ms }
)",
                     {{{capacitor(1e-3)}, 1}}, stepwise);
    CHECK(run["rise"].holds);
    CHECK(run["rise"].margin == relative(0.010 - 1e-3 * std::log(9), accuracy));
    CHECK(run["rise"].time_s == relative(1e-3 * std::log(10), accuracy));
    CHECK(run["current"].margin == relative(1, accuracy));
    CHECK(run["current"].unit == "A");
    CHECK(run["current"].time_s == 0);
    CHECK(run["power"].margin == relative(-5, accuracy));
    CHECK_FALSE(run["power"].holds);
    CHECK(run["late current"].margin == relative(0.5, accuracy));
    CHECK_THROWS(static_cast<void>(run["no slew here"]));
  }
}

// Two RC rises with 1 ms and 2 ms differ by V (exp(-t / 2 ms) - exp(-t / 1 ms)): most at 2 ms ln 2, by V / 4.
TEST_CASE("the least distance is found between all knots") {
  for (const bool stepwise : {false, true}) {
    CAPTURE(stepwise);
    const AtLoad run(R"(
rule "together" always a - b <= 2 V and b - a <= 0.5 V
rule "either" always a - b <= 1 V or b >= 4 V
run { limit a to 10 A, b to 10 A; on a, b; step a to 5 V, b to 5 V; dwell 100 ms }
)",
                     {{{capacitor(1e-3)}, 1}, {{capacitor(2e-3)}, 1}}, stepwise);
    CHECK(run["together"].margin == relative(0.5, stepwise ? 1e-6 : 1e-11));
    // 1 V less a quarter of 5 V, where b is still far from 4 V. Flat there: its time is less sharp than its height.
    CHECK(run["either"].margin == relative(-0.25, stepwise ? 1e-6 : 1e-11));
    CHECK(run["either"].time_s == relative(2e-3 * std::log(2), 1e-4));
  }
}

// Off at 1 s, 1 mF from 5 V into 1 kOhm: 0.5 V after RC ln 10. The setpoint is at 0 V at once.
TEST_CASE("stored charge counts at the load") {
  for (const bool stepwise : {false, true}) {
    CAPTURE(stepwise);
    const std::string text = R"(
rule "empty" a <= 0.5 V within 2 s after b <= 0.5 V
rule "empty first" a <= 0.5 V before b >= 1 V by 1 s
run {
  on a; step a to 5 V; limit a to 100 A
  on b; step b to 0.8 V; limit b to 1 A
  dwell 1 s
  off a, b
  dwell 4 s
  on b
  step b to 2 V
  dwell 1 s
})";
    const AtLoad run(text, {{{capacitor(1e-3), resistor(1e3)}, 1e-3}, {{resistor(10)}, 0}}, stepwise);
    // The wire takes 1 mOhm in 1,000 Ohm away from the 5 V.
    const double empty = std::log(10 / (1 + 1e-6));
    CHECK_FALSE(run["empty"].holds);
    CHECK(run["empty"].margin == relative(2 - empty, 1e-6));
    CHECK(run["empty first"].margin == relative(4 - empty - 1, 1e-6));
  }
}

// A constant current of 0.1 A empties 1 mF by 100 V/s: 3 V in 30 ms.
TEST_CASE("a load that is not linear is judged too") {
  const AtLoad run(R"(
rule "falls" a falls from 4 V to 1 V within 50 ms
run { limit a to 1 A; on a; step a to 5 V; dwell 100 ms; off a; dwell 1 s }
)",
                   {{{capacitor(1e-3), constant_current(0.1)}, 0.01}}, false);
  CHECK(run["falls"].margin == relative(0.020, 1e-6));
}

// The setpoint turns back by 1 V on its way; 10 Ohm behind 1 Ohm see 10 / 11 of it.
TEST_CASE("a fall on the way breaks a clean rise by its height") {
  for (const bool stepwise : {false, true}) {
    CAPTURE(stepwise);
    const AtLoad run(R"(
rule "clean" a rises from 1 V to 4 V
run {
  limit a to 10 A; on a
  step a to 3 V; dwell 100 ms
  step a to 2 V; dwell 100 ms
  step a to 5 V; dwell 100 ms
})",
                     {{{capacitor(1e-3), resistor(10)}, 1}}, stepwise);
    CHECK_FALSE(run["clean"].holds);
    CHECK(run["clean"].margin == relative(-10.0 / 11, 1e-6));
    CHECK(run["clean"].unit == "V");
  }
}

TEST_CASE("accuracy of the outputs is taken away at the load too") {
  Bench bench = fine_bench();
  for (Channel& channel : bench.channels) {
    channel.limits.voltage_accuracy = Accuracy<Volts>{Rational::fraction(1, 100), Volts{number("10 mV")}};
    channel.limits.current_accuracy = Accuracy<Amps>{Rational::fraction(1, 100), Amps{number("5 mA")}};
  }
  const AtLoad run(R"(
rule "level" always a <= 5.2 V
rule "current" always current(a) <= 600 mA
run { limit a to 1 A; on a; step a to 5 V; dwell 100 ms }
)",
                   {{{resistor(10)}, 0}}, false, bench);
  CHECK(run["level"].nominal == relative(0.2, 1e-9));
  CHECK(run["level"].margin == relative(0.2 - 0.06, 1e-9));
  // 5 V over 10 Ohm; 1 % of the limit of 1 A and 5 mA.
  CHECK(run["current"].nominal == relative(0.1, 1e-9));
  CHECK(run["current"].margin == relative(0.1 - 0.015, 1e-9));
}

TEST_CASE("passes are added with what the rules remember") {
  for (const bool stepwise : {false, true}) {
    CAPTURE(stepwise);
    // a is at 1 V after RC ln (5 / 4) of each pass, b after 20 ms.
    const AtLoad run(R"(
rule "b follows" b >= 1 V within 30 ms after a >= 1 V
rule "a before the end" a <= 0.1 V before b >= 3 V by 5 ms
run {
  limit a to 10 A, b to 1 A
  on a, b
  repeat 100000 {
    step a to 5 V
    dwell 20 ms
    step b to 2 V
    dwell 200 ms
    step a to 0 V, b to 0 V
    dwell 280 ms
  }
  step b to 4 V
  dwell 1 s
})",
                     {{{capacitor(1e-3), resistor(10)}, 1}, {{resistor(10)}, 0}}, stepwise);
    REQUIRE(run.simulation.folded.size() == 1);
    CHECK(run.simulation.folded[0].simulated < 10);
    // 5 V behind 1 Ohm into 10 Ohm ends at 50 / 11 V, with 1 mF · 10 / 11 Ohm.
    const double to_one = 1e-2 / 11 * std::log(50.0 / (50.0 - 11.0));
    CHECK(run["b follows"].margin == relative(0.030 - (0.020 - to_one), 1e-7));
    // At 0 V the supply takes nothing back: 10 Ohm empty 1 mF, from 50 / 11 V to 0.1 V, and b steps at the end of the
    // pass.
    const double to_low = 1e-2 * std::log(500.0 / 11);
    CHECK(run["a before the end"].margin == relative(0.280 - to_low - 0.005, 1e-6));
    CHECK(run["a before the end"].time_s == relative(50000, 1e-9));
  }
}

// 50 F behind 10 Ohm with 5 V for 1 s in each 2 s, from 0 V: after n passes 5 V (1 - exp(-n / 500)), and the current is
// what is left of 5 V through 10 Ohm. A rule of one comparison is judged on passes that are added as a drift as well;
// for what looks back all are gone through.
TEST_CASE("rules over a slow drift") {
  const std::string run = R"(
run {
  limit a to 10 A, b to 1 A
  step a to 5 V
  repeat 2000 {
    on a
    dwell 1 s
    off a
    dwell 1 s
  }
})";
  const std::string always = R"(
rule "low" always a <= 4.95 V
rule "current" always current(a) <= 1 A
)";
  const std::string looks_back = R"(
rule "b follows" b >= 1 V within 30 ms after a >= 6 V
)";
  for (const bool all : {false, true}) {
    CAPTURE(all);
    const AtLoad judged(always + (all ? looks_back : "") + run, {{{capacitor(50)}, 10}, {{resistor(10)}, 0}}, false);
    CHECK(judged.simulation.folded.empty() == all);
    CHECK(judged["low"].margin == relative(4.95 - 5 * (1 - std::exp(-4.0)), 1e-9));
    CHECK(judged["current"].margin == relative(0.5, 1e-9));
  }
}
