#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <stdexcept>
#include <string>
#include <vector>

#include "runtime/play/simulate.h"
#include "tests/support/load_elements.h"
#include "tests/support/near.h"
#include "tests/support/resolved.h"

// Rails go through steps of their own. What a rail does is the same, bit by bit, whatever others do meanwhile that it
// never meets; where they do meet, each is seen at the same instant.

using namespace rampart;
using namespace rampart::test;

namespace {

Bench two_channels(Interpolation interpolation) {
  SupplySpec supply = fine_supply(interpolation);
  supply.minimum_step = "1 ms";
  supply.channels.push_back(supply.channels.front());
  supply.channels.back().name = "ch2";
  return make_bench({supply});
}

Simulation played(const std::string& text, Interpolation interpolation, const std::vector<LoadElement>& first) {
  Resolved resolved(two_channels(interpolation), text);
  if (!resolved.profile || !resolved.errors().empty()) throw std::runtime_error(resolved.places());
  Load load;
  for (const Rail& rail : resolved.profile->rails) {
    RailLoad& one = load.rails.emplace_back();
    one.rail = rail.name;
    one.wire = exactly(0.05);
    one.elements = rail.name == "a" ? first : std::vector{capacitor(3e-4, 0.02), resistor(7)};
  }
  const Profile& profile = *resolved.profile;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, resolved.findings);
  return simulate(Table(profile, resolved.bench, *timeline), nullptr, load);
}

// Every number of a rail's figures, as it is stored.
std::vector<std::uint64_t> bits_of(const RailFigures& rail) {
  std::vector<std::uint64_t> bits;
  const auto add = [&](double value) { bits.push_back(std::bit_cast<std::uint64_t>(value)); };
  for (const double value : {rail.energy_J, rail.charge_C, rail.returned_energy_J, rail.i2t_A2s, rail.cc_time_s,
                             rail.longest_cc_s.value, rail.final_voltage_V, rail.stored_J}) {
    add(value);
  }
  for (const Peak& peak : {rail.current_A, rail.power_W, rail.voltage_V}) {
    add(peak.value);
    add(peak.time_s);
  }
  add(rail.balance.delivered_J);
  add(rail.balance.dissipated_wire_J);
  for (const double element : rail.balance.dissipated_elements_J) add(element);
  return bits;
}

struct Kind {
  std::string name;
  std::vector<LoadElement> elements;
};

const std::vector<Kind>& kinds() {
  static const std::vector<Kind> all = {
      {"capacitor and resistor", {capacitor(1e-3, 0.1), resistor(20)}},
      {"coil", {inductor(0.02, 3)}},
      {"constant current and capacitor", {capacitor(2e-4), constant_current(0.3, 1)}},
  };
  return all;
}

}  // namespace

TEST_CASE("what a rail does does not depend on another that it never meets") {
  const std::string own =
      "{ ramp a to 5 V over 97 ms; dwell 11 ms; step a to 2 V; dwell 20 ms; ramp a to 0 V over 31 ms }";
  std::string other;
  for (int i = 0; i < 9; ++i)
    other += "ramp b to 4 V over 7 ms; dwell 1 ms; step b to 1 V; dwell 3 ms; ramp b to 0 V over 5 ms; ";
  for (const Interpolation interpolation : {Interpolation::Hold, Interpolation::Linear}) {
    for (const Kind& kind : kinds()) {
      CAPTURE(kind.name);
      const std::string start = "limit a to 800 mA; on a\n  dwell 1 ms\n  ";
      const Simulation alone =
          played("rail a on s1.ch1\nrun {\n  " + start + "together { " + own + " }\n}\n", interpolation, kind.elements);
      // The other rail has rows of its own, and changes its mode, all the time.
      const Simulation both = played("rail a on s1.ch1\nrail b on s1.ch2\nrun {\n  limit b to 100 mA; on b\n  " +
                                         start + "together { " + own + " { " + other + "} }\n}\n",
                                     interpolation, kind.elements);
      REQUIRE(both.rails.size() == 2);
      CHECK(both.rails[1].cc_time_s > 0);
      CHECK(both.rails[0].energy_J > 0);
      CHECK(bits_of(both.rails[0]) == bits_of(alone.rails[0]));
    }
  }
}

// A coil of 1 H with 1 Ohm takes 5 A (1 - exp(-t / 1 s)). At 1 s the other rail steps to 3 V, into 1 mF behind 1 Ohm: 9
// W at first. Together 25 W (1 - exp(-1)) + 9 W, more than the 25 W (1 - exp(-2)) at the end; by hand.
TEST_CASE("a sum over rails is taken over parts of their steps") {
  const std::string text = R"(rail a on s1.ch1
rail b on s1.ch2
rule "sum" always power(a) + power(b) <= 30 W
rule "apart" always a - b <= 6 V
run {
  limit a to 100 A, b to 100 A
  on a, b
  step a to 5 V
  dwell 1 s
  step b to 3 V
  dwell 1 s
}
)";
  Resolved resolved(two_channels(Interpolation::Hold), text);
  REQUIRE(resolved.errors().empty());
  const Profile& profile = *resolved.profile;
  Load load;
  load.rails.resize(2);
  load.rails[0] = {"a", {}, exactly(0), {inductor(1, 1)}};
  load.rails[1] = {"b", {}, exactly(1), {capacitor(1e-3)}};
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, resolved.findings);
  const Simulation simulation = simulate(Table(profile, resolved.bench, *timeline), nullptr, load);
  const double most = 25 * (1 - std::exp(-1.0)) + 9;
  CHECK(simulation.total_power_W.value == relative(most, 1e-12));
  CHECK(simulation.total_power_W.time_s == absolute(1, 1e-12));
  REQUIRE(simulation.rules.size() == 2);
  CHECK(simulation.rules[0].margin == relative(30 - most, 1e-11));
  CHECK(simulation.rules[1].margin == relative(1, 1e-12));
}
