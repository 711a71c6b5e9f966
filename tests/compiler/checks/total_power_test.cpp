#include <doctest/doctest.h>

#include <string>

#include "compiler/checks/checks.h"
#include "tests/support/program_builder.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// What total-power says of a rail on a channel of each of two supplies, 12 V and 1 A beside 24 V and 2 A.
std::string total_power_of(Arrangement arrangement, std::string_view first, std::string_view second,
                           const Program& run) {
  SupplySpec small;
  SupplySpec large;
  small.channels[0].voltage_high = "12 V";
  large.channels[0].voltage_high = "24 V";
  small.channels[0].current_high = "1 A";
  large.channels[0].current_high = "2 A";
  Bench bench = make_bench({small, large});
  bench.supplies[0].power = Placed<Watts>{Watts{number(first)}, {}};
  bench.supplies[1].power = Placed<Watts>{Watts{number(second)}, {}};
  bench.combinations.push_back({"both", arrangement, {ChannelId{0}, ChannelId{1}}, {}});
  Profile profile;
  Rail rail;
  rail.name = "r";
  rail.output = CombinationId{0};
  profile.rails.push_back(rail);
  profile.run = run;
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  run_checks(Table(profile, bench, *timeline), nullptr, findings);
  std::string words;
  for (const Finding& finding : findings.findings()) {
    if (finding.name == "total-power") words += finding.message + "\n";
  }
  return words;
}

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

// In series one current flows through both, so their powers are as their voltages; in parallel they stand at one
// voltage and their powers are as their currents. Both go by the ranges: one part to two.
TEST_CASE("a rail on two supplies asks each for what its channel gives") {
  // 18 V at 0.6 A are 10.8 W: 3.6 W and 7.2 W.
  const Program stacked{limit(0, "0.6 A"), on(0), step(0, "18 V"), dwell("1 s")};
  CHECK(total_power_of(Arrangement::Series, "3.6 W", "7.2 W", stacked).empty());
  const std::string small = total_power_of(Arrangement::Series, "3.59 W", "7.2 W", stacked);
  CHECK(has(small, "`s1`"));
  CHECK(has(small, "3.6 W"));
  CHECK_FALSE(has(small, "`s2`"));
  const std::string large = total_power_of(Arrangement::Series, "3.6 W", "7.19 W", stacked);
  CHECK(has(large, "`s2`"));
  CHECK(has(large, "7.2 W"));
  CHECK_FALSE(has(large, "`s1`"));
  // 9 V at 1.2 A, too.
  const Program side_by_side{limit(0, "1.2 A"), on(0), step(0, "9 V"), dwell("1 s")};
  CHECK(total_power_of(Arrangement::Parallel, "3.6 W", "7.2 W", side_by_side).empty());
  CHECK(has(total_power_of(Arrangement::Parallel, "3.59 W", "7.2 W", side_by_side), "`s1`"));
  CHECK(has(total_power_of(Arrangement::Parallel, "3.6 W", "7.19 W", side_by_side), "`s2`"));
}
