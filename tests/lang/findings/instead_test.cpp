#include <doctest/doctest.h>

#include <string>

#include "tests/support/parsed.h"

// A hint that leaves no choice says what to write; written there, it is no mistake any more.
namespace {

std::string repaired(const std::string& text) {
  const rampart::test::Parsed parsed(text);
  const auto& all = parsed.sink.findings();
  if (all.empty() || !all.front().instead) return "no repair";
  std::string result = text;
  const rampart::Span& span = all.front().span;
  result.replace(span.begin, span.end - span.begin, *all.front().instead);
  return rampart::test::Parsed(result).findings().empty() ? result : "still wrong: " + result;
}

}  // namespace

TEST_CASE("instead: what hints say in place of what stands there") {
  CHECK(repaired("run { dwel 3 s }") == "run { dwell 3 s }");
  CHECK(repaired("run { wait 3 s }") == "run { dwell 3 s }");
  CHECK(repaired("run { Dwell 3 s }") == "run { dwell 3 s }");
  CHECK(repaired("rum { dwell 3 s }") == "run { dwell 3 s }");
  CHECK(repaired("run { dwell 3 sec }") == "run { dwell 3 s }");
  CHECK(repaired("run { dwell 1,5 s }") == "run { dwell 1.5 s }");
  CHECK(repaired("run { dwell .5 s }") == "run { dwell 0.5 s }");
  CHECK(repaired("let a = 3. V") == "let a = 3 V");
  CHECK(repaired("let a = \u22123 V") == "let a = -3 V");
  CHECK(repaired("let a = 2 \u00D7 3") == "let a = 2 * 3");
  CHECK(repaired("let\u00A0a = 3") == "let a = 3");
  CHECK(repaired("run { }\n}") == "run { }\n");
  CHECK(repaired("rule \"r\" always curent(core) <= 1 A") == "rule \"r\" always current(core) <= 1 A");
  CHECK(repaired("run { ramp core to 1 V in 3 s }") == "run { ramp core to 1 V over 3 s }");
  CHECK(repaired("run { dwell }") == "no repair");
}
