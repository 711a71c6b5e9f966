#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "compiler/checks/checks.h"
#include "tests/support/resolved.h"

using namespace rampart;
using namespace rampart::test;

// Where each check begins to speak, by the least step on either side. The bounds are those of docs/checks.md; levels
// are exact, so what is just met can be told from what is just missed.
namespace {

// A supply with two channels that have every protection, without errors.
Bench protected_bench() {
  Bench bench = make_bench({{.channels = {{.name = "ch1"}, {.name = "ch2"}}}});
  for (Channel& channel : bench.channels) {
    ProtectionAbilities& able = channel.protection;
    able.overvoltage = Placed<Range<Volts>>{{Volts{0}, Volts{number("40 V")}}, {}};
    able.fuse_by = FuseBy::CurrentLimit;
    able.fuse_delay = Placed<SteppedRange<Seconds>>{{{Seconds{0}, Seconds{number("8 s")}}, Seconds{}}, {}};
    able.overpower = Placed<Range<Watts>>{{Watts{0}, Watts{number("100 W")}}, {}};
  }
  return bench;
}

// The findings of a name on rail `a` on ch1 and `b` on ch2, by their words.
std::vector<std::string> said(const Bench& bench, std::string_view name, const std::string& text) {
  Resolved resolved(bench, "rail a on s1.ch1\nrail b on s1.ch2\n" + text);
  REQUIRE_MESSAGE(resolved.profile, resolved.places());
  const Profile& profile = *resolved.profile;
  const std::optional<Timeline> run = build_timeline(profile, profile.run, TimelineStart::Off, resolved.findings);
  REQUIRE(run);
  const Table table(profile, resolved.bench, *run);
  std::optional<Timeline> safe;
  std::optional<Table> stop;
  if (profile.safe) {
    safe = build_timeline(profile, *profile.safe, TimelineStart::Unknown, resolved.findings);
    stop.emplace(profile, resolved.bench, *safe);
  }
  run_checks(table, stop ? &*stop : nullptr, resolved.findings);
  std::vector<std::string> words;
  for (const Finding& finding : resolved.findings.findings()) {
    if (finding.name == name) words.push_back(finding.message);
  }
  return words;
}

std::string words_of(const std::string& finding) {
  return finding == "no-fuse" ? "fuse" : finding == "no-overpower" ? "overpower protection" : "overvoltage protection";
}

std::string ten_volts(const std::string& protection) {
  return "protect a { " + protection + " }\nrun { limit a to 2 A; on a; step a to 10 V; dwell 1 s; off a }";
}

}  // namespace

TEST_CASE("a threshold has to lie above the highest setpoint") {
  CHECK(said(protected_bench(), "trip-too-close", ten_volts("overvoltage 10 V")).size() == 1);
  CHECK(said(protected_bench(), "trip-too-close", ten_volts("overvoltage 10.001 V")).empty());
}

TEST_CASE("an overpower acts strictly above its threshold, so it lies below the highest power") {
  // 10 V at 2 A.
  CHECK(said(protected_bench(), "overpower-never-acts", ten_volts("overpower 20 W")).size() == 1);
  CHECK(said(protected_bench(), "overpower-never-acts", ten_volts("overpower 19.999 W")).empty());
}

TEST_CASE("a fuse acts at its own current, and not before its delay is over") {
  Bench bench = protected_bench();
  for (Channel& channel : bench.channels) {
    channel.protection.fuse_by = FuseBy::OwnCurrent;
    channel.protection.fuse_current = Placed<SteppedRange<Amps>>{{{Amps{0}, Amps{number("3 A")}}, Amps{}}, {}};
  }
  CHECK(said(bench, "fuse-never-acts", ten_volts("fuse at 2 A after 5 ms")).empty());
  CHECK(said(bench, "fuse-never-acts", ten_volts("fuse at 2.001 A after 5 ms")).size() == 1);
  // The run lasts 1 s, and a condition that ends as the delay does trips nothing.
  CHECK(said(protected_bench(), "fuse-never-acts", ten_volts("fuse after 1 s")).size() == 1);
  CHECK(said(protected_bench(), "fuse-never-acts", ten_volts("fuse after 0.999 s")).empty());
}

TEST_CASE("an output that is on already is not switched on") {
  CHECK(said(protected_bench(), "hot-switch",
             "run { limit a to 1 A; on a; step a to 5 V; dwell 1 s; on a; dwell 1 s; off a }")
            .empty());
  CHECK(said(protected_bench(), "hot-switch", "run { limit a to 1 A; step a to 5 V; on a; dwell 1 s; off a }").size() ==
        1);
}

TEST_CASE("what was switched on before a loop has closed after its passes") {
  Bench bench = protected_bench();
  bench.supplies[0].timing.on_delay = {time("0 s"), time("1.5 s")};
  const std::string before = "run { limit a to 1 A, b to 1 A; on a; repeat ";
  const std::string after = " { step b to 1 V; dwell 100 ms; step b to 2 V; dwell 100 ms }; step a to 1 V; dwell 1 s }";
  // 1,000 passes are 200 s, 7 passes 1.4 s.
  CHECK(said(bench, "hot-switch", before + "1000" + after).empty());
  CHECK(said(bench, "hot-switch", before + "7" + after).size() == 1);
}

TEST_CASE("a stop that switches an output on leaves it on") {
  const std::string run = "run { limit a to 1 A; on a; dwell 1 s; off a }\n";
  CHECK(said(protected_bench(), "left-on", run + "safe { on a }").size() == 1);
  CHECK(said(protected_bench(), "left-on", run + "safe { off a }").empty());
}

TEST_CASE("what the stop alone switches on is asked for as what the run does") {
  Bench bench = protected_bench();
  bench.supplies[0].power = Placed<Watts>{Watts{number("25 W")}, {}};
  const std::string run = "run { limit a to 1 A; on a; step a to 10 V; dwell 1 s; off a }\n";
  const std::string stop = run + "safe { limit b to 2 A; step b to 10 V; on b; dwell 1 s";
  for (const std::string name : {"no-fuse", "no-overvoltage", "no-overpower"}) {
    CAPTURE(name);
    CHECK(said(bench, name, stop + "; off b, a }") ==
          std::vector<std::string>{"rail `a` has no " + words_of(name), "rail `b` has no " + words_of(name)});
    CHECK(said(bench, name, run + "safe { off b, a }") ==
          std::vector<std::string>{"rail `a` has no " + words_of(name)});
  }
  CHECK(said(bench, "left-on", stop + "; off a }") == std::vector<std::string>{"`safe` leaves rail `b` on"});
  CHECK(said(bench, "left-on", stop + "; off a, b }").empty());
  CHECK(said(bench, "trip-too-close", "protect b { overvoltage 10 V }\n" + stop + "; off a, b }").size() == 1);
  // 20 W of b, and 10 W of a, which the stop may find on: it has set both of a's values by then.
  CHECK(said(bench, "total-power", stop + "; off a, b }").empty());
  CHECK(said(bench, "total-power", stop + "; limit a to 1 A; step a to 10 V; dwell 1 s; off a, b }").size() == 1);
  CHECK(said(bench, "total-power", stop + "; off a; limit a to 1 A; step a to 10 V; dwell 1 s; off b }").empty());
  // 100 V of a rail that the stop finds on.
  CHECK(said(bench, "touch-voltage", run + "safe { step a to 100 V; dwell 1 s; off a }").size() == 1);
  CHECK(said(bench, "touch-voltage", run + "safe { step b to 100 V; dwell 1 s; off a }").empty());
}

// 10 V at once while the limit runs from 3 A to 1 A: 30 W at first. From 0 V it would be 11.25 W at most.
TEST_CASE("what the stop sets for the first time stands at once on a supply that runs straight") {
  Bench bench = protected_bench();
  bench.supplies[0].timing.interpolation = Interpolation::Linear;
  bench.supplies[0].power = Placed<Watts>{Watts{number("20 W")}, {}};
  const std::vector<std::string> words =
      said(bench, "total-power",
           "run { limit a to 1 A; on a; dwell 1 s; off a }\n"
           "safe { limit a to 3 A; dwell 1 s; step a to 10 V; limit a to 1 A; dwell 1 s; off a }");
  REQUIRE(words.size() == 1);
  CHECK(words[0].find("30 W") != std::string::npos);
}

TEST_CASE("what a setpoint is rounded to has to be in range too") {
  Bench bench = protected_bench();
  bench.channels[0].limits.voltage.value.high = Volts{number("24.007 V")};
  const auto to = [](const std::string& volts) {
    return "run { limit a to 1 A; on a; step a to " + volts + "; dwell 1 s; off a }";
  };
  // In steps of 10 mV 24.006 V is 24.01 V, and 24.004 V is 24 V.
  CHECK(said(bench, "voltage-range", to("24.006 V")).size() == 1);
  CHECK(said(bench, "voltage-range", to("24.004 V")).empty());
}

TEST_CASE("an output that is off takes nothing of its supply's power") {
  Bench bench = protected_bench();
  bench.supplies[0].power = Placed<Watts>{Watts{number("10 W")}, {}};
  const std::string run = "run { limit a to 1 A, b to 1 A; step b to 9 V; on a; dwell 1 s; step a to ";
  CHECK(said(bench, "total-power", run + "10 V; dwell 1 s; off a }").empty());
  CHECK(said(bench, "total-power", run + "10 V; on b; dwell 1 s; off a, b }").size() == 1);
}

// From 10 V and 1 A to 2 V and 5 A within one minimum step of 10 ms: (10 V - 8 V s)(1 A + 4 A s) is 10 W at both ends
// and 18 W half way, 5 ms after the jump.
TEST_CASE("a supply that runs straight passes through what lies between two setpoints") {
  Bench bench = make_bench({{.interpolation = Interpolation::Linear, .channels = {{.name = "ch1"}, {.name = "ch2"}}}});
  for (Channel& channel : bench.channels) {
    channel.limits.current.value.high = Amps{number("5 A")};
    channel.limits.power = Placed<Watts>{Watts{number("17 W")}, {}};
  }
  const std::vector<std::string> words =
      said(bench, "power-envelope",
           "run { limit a to 1 A; step a to 10 V; on a; dwell 1 s; limit a to 5 A; step a to 2 V; dwell 1 s; off a }");
  REQUIRE(words.size() == 1);
  CHECK(words[0].find("18 W at 1.005 s") != std::string::npos);
}
