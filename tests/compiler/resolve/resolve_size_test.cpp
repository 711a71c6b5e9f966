#include <doctest/doctest.h>

#include <algorithm>
#include <stop_token>
#include <string>

#include "tests/support/resolved.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// Sizes at which a cost that grows with the square takes minutes.
constexpr int kMany = 100'000;

std::string lines(int count, const std::string& before, const std::string& after) {
  std::string text;
  for (int i = 0; i < count; ++i) text += before + std::to_string(i) + after + "\n";
  return text;
}

}  // namespace

TEST_CASE("many statements") {
  const Resolved resolved("rail a on s1.ch1\nrun {\n" + lines(kMany, "step a to 1 V * ", "") + "}");
  REQUIRE(resolved.profile);
  CHECK(resolved.profile->run.size() == kMany);
}

TEST_CASE("many calls") {
  const Resolved resolved(
      "rail a on s1.ch1\nsequence s(k) { step a to k * 1 V }\nrun { for k in 1 .. 300000 step 1 { do s(k) } }");
  REQUIRE(resolved.profile);
  CHECK(resolved.profile->run.size() == 300'000);
  CHECK(resolved.profile->calls.size() == 300'000);
}

TEST_CASE("exactly as many statements as may be") {
  const std::string text = "rail a on s1.ch1\nrun { for k in 1 .. 1000 step 1 { ";
  CHECK(Resolved(text + "for j in 1 .. 998 step 1 { dwell 1 ns } } }").errors().empty());
  CHECK(Resolved(text + "for j in 1 .. 1000 step 1 { dwell 1 ns } } }").errors() == "too-large");
  CHECK(Resolved(text + "for j in 1 .. 1001 step 1 { } } }").errors() == "too-large");
}

TEST_CASE("what is written out at length can be stopped") {
  SourceSet sources;
  FindingSink findings;
  const ast::Profile tree =
      parse(sources, sources.add("p.ramp", "run { for k in 1 .. 999000 step 1 { dwell 1 ns } }"), findings);
  const Bench bench = Resolved("rail a on s1.ch1\nrun { dwell 1 s }").bench;
  std::stop_source stop;
  ResolveOptions options;
  options.job.stop = stop.get_token();
  stop.request_stop();
  CHECK_THROWS_AS((void)resolve(sources, tree, bench, options, findings), JobStopped);
}

TEST_CASE("many names, and many that are unknown") {
  const std::string names = "rail a on s1.ch1\n" + lines(kMany / 4, "let x", " = 1 V");
  const Resolved resolved(names + "run {\n" + lines(kMany / 4, "step a to y", "") + "}");
  CHECK_FALSE(resolved.profile);
  CHECK(resolved.findings.error_count() == kMany / 4);
}

TEST_CASE("many ways round a ring of sequences") {
  constexpr int kRing = 2'000;
  std::string text = "rail a on s1.ch1\nrun { step a to 1 V\n do s0 }\n";
  for (int i = 0; i < kRing; ++i) {
    text += "sequence s" + std::to_string(i) + " { do s" + std::to_string(i + 1) + " }\n";
  }
  text += "sequence s" + std::to_string(kRing) + " {\n" + lines(kRing, "do s", "") + "}";
  std::size_t longest = 0;
  const Resolved resolved(text);
  for (const Finding& finding : resolved.findings.findings()) longest = std::max(longest, finding.message.size());
  CHECK(longest < 200);
}

TEST_CASE("deep calls end at a bound") {
  std::string text = "rail a on s1.ch1\nlet v = 1 V\nsequence s0 { step a to v }\n";
  for (int i = 1; i <= 70; ++i) {
    text += "sequence s" + std::to_string(i) + " { do s" + std::to_string(i - 1) + " }\n";
  }
  CHECK(Resolved(text + "run { do s63 }").errors().empty());
  // The value that the innermost uses is still used.
  CHECK(Resolved(text + "run { do s70 }").places() == "too-deep 10:15");
}
