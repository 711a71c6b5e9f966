#include <doctest/doctest.h>

#include <string>

#include "compiler/export/spice.h"
#include "compiler/export/vcd.h"
#include "tests/support/program_builder.h"
#include "tests/support/string_sink.h"

using namespace rampart;
using namespace rampart::test;

// Courses of rails as signals, worked by hand from docs/formats.md. PWL: IEEE 1364 has nothing of it; points are time
// and value, as circuit simulators read them. VCD: IEEE 1364-2005, clause 18.
namespace {

template <class Write>
std::string written(const Bench& bench, const Profile& profile, Write&& write) {
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  StringSink sink;
  write(Table(profile, bench, *timeline), sink);
  return sink.text();
}

// The points of a rail's setpoint.
std::string setpoint_of(const Bench& bench, const Profile& profile) {
  const std::string text = written(bench, profile, write_spice);
  const std::size_t begin = text.find("_set 0 PWL(\n") + 12;
  return text.substr(begin, text.find("+ )", begin) - begin);
}

Statement wait_of(std::string_view length) {
  return statement(Await{AwaitOperator{"ready"}, time("5 s"), time(length)});
}

}  // namespace

TEST_CASE("a rail that is reversed is negative, one in series the sum of its channels") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  Bench bench = make_bench({supply});
  Profile profile;
  profile.rails.emplace_back();
  profile.rails[0].name = "r1";
  profile.rails[0].output = ChannelId{0};
  profile.rails[0].reversed = true;
  profile.run = {limit(0, "1 A"), on(0), step(0, "-5.25 V"), dwell("1 s")};
  CHECK(setpoint_of(bench, profile) == "+ 0 -5.25\n");
  bench.combinations.push_back({"both", Arrangement::Series, {ChannelId{0}, ChannelId{1}}, {}});
  profile.rails[0].output = CombinationId{0};
  CHECK(setpoint_of(bench, profile) == "+ 0 -5.25\n");
  profile.rails[0].reversed = false;
  profile.run = {limit(0, "1 A"), on(0), step(0, "5.25 V"), dwell("1 s")};
  CHECK(setpoint_of(bench, profile) == "+ 0 5.25\n");
}

TEST_CASE("a jump takes its microsecond however far the next change is") {
  SupplySpec supply;
  supply.channels = {{"ch1"}};
  const Bench bench = make_bench({supply});
  Profile profile;
  profile.rails.emplace_back();
  profile.rails[0].name = "r1";
  profile.rails[0].output = ChannelId{0};
  profile.run = {limit(0, "1 A"),     on(0),          step(0, "1 V"), dwell("1 s"), step(0, "2 V"),
                 dwell("30000000 s"), step(0, "0 V"), dwell("1 s")};
  CHECK(setpoint_of(bench, profile) == "+ 0 1\n+ 1 1\n+ 1.000001 2\n+ 30000001 2\n+ 30000001.000001 0\n");
}

TEST_CASE("a wait takes the time that it is assumed to take, and no ramp goes on through it") {
  for (const Interpolation interpolation : {Interpolation::Hold, Interpolation::Linear}) {
    const Bench bench = make_bench({{.interpolation = interpolation}});
    Profile profile = make_profile(bench);
    profile.run = {limit(0, "1 A"), on(0),          step(0, "1 V"), dwell("100 ms"),
                   wait_of("1 s"),  step(0, "2 V"), dwell("100 ms")};
    const std::string points = setpoint_of(bench, profile);
    CAPTURE(points);
    CHECK(points.find("+ 1.1 1\n+ 1.100001 2\n") != std::string::npos);
  }
}

TEST_CASE("the time scale of a VCD divides every instant") {
  const Bench bench = make_bench({{}});
  Profile profile = make_profile(bench);
  profile.run = {limit(0, "1 A"), on(0),           step(0, "1 V"), dwell("100 ms"),
                 step(0, "2 V"),  dwell("150 ms"), step(0, "3 V"), dwell("50 ms")};
  const std::string text = written(bench, profile, write_vcd);
  // 100 ms, 250 ms and 300 ms are multiples of 50 ms; of 1, 10 or 100 of a unit that is 10 ms.
  CHECK(text.find("$timescale 10 ms $end\n") != std::string::npos);
  CHECK(text.find("#10\nr2 !\n#25\nr3 !\n#30\n") != std::string::npos);
}
