#include "runtime/editor/statement_times.h"

#include <doctest/doctest.h>

#include "runtime/editor/hover.h"
#include "tests/support/held_profile.h"

// Times are added up by hand.
namespace {

using rampart::editor::instant_text;
using rampart::editor::StatementTime;
using rampart::editor::StatementTimes;

struct Timed {
  explicit Timed(const std::string& body, const std::string& before = "") {
    text = "bench \"one.bench.yaml\"\nrail core on bench.ch1\n" + before + "run {\n" + body + "\n}\n";
    rampart::HeldTexts files = rampart::test::held_profile(text);
    compiled = rampart::compile(files, "p.ramp", {}, findings);
    CHECK(findings.error_count() == 0);
    times = StatementTimes(compiled);
  }

  // "begin, end, times, last" of the statement that begins with `what`.
  [[nodiscard]] std::string of(const std::string& what) const {
    const auto begin = static_cast<std::uint32_t>(text.find(what));
    for (const auto& [span, time] : times.all()) {
      if (span.second.first != begin) continue;
      return instant_text(time.begin) + ", " + instant_text(time.end) + ", " + std::to_string(time.times) + ", " +
             instant_text(time.last);
    }
    return "never";
  }

  std::string text;
  rampart::FindingSink findings;
  rampart::Compiled compiled;
  StatementTimes times;
};

}  // namespace

TEST_CASE("statement times: one after another") {
  const Timed timed(
      "limit core to 1 A\non core\nramp core to 3 V over 2 s\ndwell 1 s\nstep core to 0 V\ndwell 10 ms\noff core");
  CHECK(timed.of("on core") == "0 s, 0 s, 1, 0 s");
  CHECK(timed.of("ramp core") == "0 s, 2 s, 1, 0 s");
  CHECK(timed.of("dwell 1 s") == "2 s, 3 s, 1, 2 s");
  CHECK(timed.of("off core") == "3.01 s, 3.01 s, 1, 3.01 s");
}

TEST_CASE("statement times: passes, those that are skipped too") {
  // A pass takes 2 s; the inner loop three times 0.5 s of it.
  const Timed timed(
      "limit core to 1 A\non core\nrepeat 1000000 {\nrepeat 3 { dwell 0.5 s }\nstep core to 1 V\ndwell 250 ms\nstep "
      "core to 2 V\n"
      "dwell 0.25 s\n}\nramp core to 0 V over 1 s\noff core");
  CHECK(timed.of("dwell 0.5 s") == "0 s, 500 ms, 3000000, 555 h 33 min 19 s");
  CHECK(timed.of("step core to 1 V") == "1.5 s, 1.5 s, 1000000, 555 h 33 min 19.5 s");
}

TEST_CASE("statement times: calls, and branches side by side") {
  const Timed timed(
      "limit core to 1 A\non core\ndo up(1 s)\ndwell 3 s\ndo up(2 s)\ntogether {\nramp core to 0 V over 4 s\n{ dwell 1 "
      "s; mark \"m\" }\n}\noff core",
      "sequence up(t) {\nramp core to 3 V over t\ndwell t\n}\n");
  CHECK(timed.of("do up(1 s)") == "0 s, 2 s, 1, 0 s");
  CHECK(timed.of("do up(2 s)") == "5 s, 9 s, 1, 5 s");
  CHECK(timed.of("ramp core to 3 V") == "0 s, 1 s, 2, 5 s");
  CHECK(timed.of("dwell t") == "1 s, 2 s, 2, 7 s");
  CHECK(timed.of("together") == "9 s, 13 s, 1, 9 s");
  CHECK(timed.of("ramp core to 0 V") == "9 s, 13 s, 1, 9 s");
  CHECK(timed.of("mark") == "10 s, 10 s, 1, 10 s");
  CHECK(timed.of("off core") == "13 s, 13 s, 1, 13 s");
}

TEST_CASE("statement times: a wait begins a segment") {
  const Timed timed("limit core to 1 A\non core\nawait operator \"go\" within 10 s assume 1 s\ndwell 2 s\noff core");
  CHECK(timed.of("await") == "0 s, wait 1 + 0 s, 1, 0 s");
  CHECK(timed.of("off core") == "wait 1 + 2 s, wait 1 + 2 s, 1, wait 1 + 2 s");
}

TEST_CASE("statement times: the rails before and after, and safe") {
  rampart::FindingSink findings;
  rampart::HeldTexts files = rampart::test::held_profile();
  const rampart::Compiled compiled = rampart::compile(files, "p.ramp", {}, findings);
  const StatementTimes times(compiled);
  std::size_t in_safe = 0;
  for (const auto& [span, time] : times.all()) {
    in_safe += time.in_safe;
    const auto text = compiled.texts().text({span.first, span.second.first, span.second.second});
    if (!text.starts_with("ramp core to level")) continue;
    CHECK(time.before[0].voltage == 0);
    CHECK(time.after[0].voltage == 5);
    CHECK(time.after[0].on);
  }
  CHECK(in_safe == 1);
}
