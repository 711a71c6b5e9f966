#include "compiler/compile/compile.h"

#include <doctest/doctest.h>

#include "compiler/compile/parameter_ends.h"
#include "compiler/export/csv.h"
#include "lang/findings/render.h"
#include "tests/support/file_text.h"
#include "tests/support/held_profile.h"
#include "tests/support/string_sink.h"

namespace rampart {
namespace {

using test::held_profile;
using test::names_of;
using test::with;

std::string rows_of(const Compiled& compiled) {
  test::StringSink sink;
  write_csv(*compiled.run(), compiled.safe(), RowForm::Changes, sink);
  return sink.text();
}

TEST_CASE("a profile compiles without a disk") {
  HeldTexts files = held_profile();
  FindingSink findings;
  const Compiled compiled = compile(files, "p.ramp", {}, findings);
  CHECK(names_of(findings).empty());
  REQUIRE(compiled.run() != nullptr);
  CHECK(compiled.safe() != nullptr);
  CHECK(compiled.profile()->title == "Held");
  REQUIRE(compiled.rules().size() == 1);
  CHECK(compiled.rules()[0].holds);
  REQUIRE(compiled.files().size() == 2);
  CHECK(compiled.files()[0].role == FileRole::Profile);
  CHECK(compiled.files()[1].path == "one.bench.yaml");
  REQUIRE(compiled.load());
  CHECK(compiled.load()->path == "board.load.yaml");
  REQUIRE(compiled.faults().size() == 1);
  CHECK(compiled.faults()[0].name == "shorted");
}

TEST_CASE("parts that are not reached are null, and a file that cannot be read is one of the files all the same") {
  HeldTexts files = held_profile();
  files.release("one.bench.yaml");
  FindingSink findings;
  const Compiled compiled = compile(files, "p.ramp", {}, findings);
  CHECK(names_of(findings) == "unreadable");
  CHECK(compiled.bench() == nullptr);
  CHECK(compiled.run() == nullptr);
  CHECK(compiled.tree() != nullptr);
  REQUIRE(compiled.files().size() == 2);
  CHECK(compiled.files()[1].text == nullptr);

  FindingSink none;
  const Compiled nothing = compile(files, "none.ramp", {}, none);
  CHECK(nothing.tree() == nullptr);
  CHECK(nothing.path() == "none.ramp");
  CHECK(Compiled().profile() == nullptr);
  CHECK(Compiled().files().empty());
}

TEST_CASE("places stay valid when the text is typed on and compiled again") {
  HeldTexts files = held_profile(with(test::kHeldProfile, "level over 1 s", "8 V over 1 s"));
  FindingSink findings;
  Compiled compiled = compile(files, "p.ramp", {}, findings);
  files.hold("p.ramp", test::kHeldProfile);
  FindingSink later;
  const Compiled kept = compiled;
  compiled = compile(files, "p.ramp", {}, later);
  CHECK(names_of(later).empty());
  REQUIRE(names_of(findings).find("above-ceiling") != std::string::npos);
  std::string shown;
  for (const Finding& finding : findings.findings()) shown += render_text(finding, findings.texts());
  CHECK(shown.find("ramp core to 8 V over 1 s") != std::string::npos);
  CHECK(kept.texts()[kept.files()[0].text->id()].text().find("8 V") != std::string_view::npos);
  // The bench was not typed on: it is the same text, with the same places.
  CHECK(kept.files()[1].text == compiled.files()[1].text);
}

TEST_CASE("with other values it is what it would be with them set, and it shares what does not depend on them") {
  HeldTexts files = held_profile();
  FindingSink findings;
  const Compiled compiled = compile(files, "p.ramp", {}, findings);
  const Held held{"level", Quantity{Rational::fraction(9, 2), dimension::kVoltage}};
  FindingSink there;
  const Compiled other = with_values(compiled, {&held, 1}, there);
  CHECK(names_of(there).empty());
  CompileOptions options;
  options.settings = {"level=4.5V"};
  const Compiled set = compile(files, "p.ramp", options, findings);
  CHECK(rows_of(other) == rows_of(set));
  CHECK(rows_of(other) != rows_of(compiled));
  CHECK(other.bench() == compiled.bench());
  CHECK(other.tree() == compiled.tree());
  // What it came from stays as it was.
  CHECK(compiled.profile()->parameters[0].value.value == Rational(5));

  const Held above{"level", Quantity{Rational(6), dimension::kVoltage}};
  FindingSink too_high;
  static_cast<void>(with_values(compiled, {&above, 1}, too_high));
  CHECK(names_of(too_high) == "above-ceiling");
}

TEST_CASE("the ends of parameters report what is not found at their values") {
  HeldTexts files = held_profile();
  FindingSink findings;
  const Compiled compiled = compile(files, "p.ramp", {}, findings);
  check_parameter_ends(compiled, findings);
  REQUIRE(names_of(findings) == "above-ceiling");
  CHECK(findings.findings()[0].message.starts_with("with `level` at 6 V, rail `core` is set to 6 V"));
  check_parameter_ends(compiled, findings);
  CHECK(findings.findings().size() == 1);
}

TEST_CASE("a job that is stopped gives no half of a profile") {
  HeldTexts files = held_profile();
  std::stop_source source;
  const Job job{.stop = source.get_token()};
  FindingSink findings;
  const Compiled compiled = compile(files, "p.ramp", {}, findings, job);
  source.request_stop();
  CHECK_THROWS_AS(static_cast<void>(compile(files, "p.ramp", {}, findings, job)), JobStopped);
  CHECK_THROWS_AS(check_parameter_ends(compiled, findings, job), JobStopped);
}

}  // namespace
}  // namespace rampart
