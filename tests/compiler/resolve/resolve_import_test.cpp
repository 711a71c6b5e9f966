#include <doctest/doctest.h>

#include "tests/support/resolved.h"

using namespace rampart;
using namespace rampart::test;

namespace {

const std::string kRail = "rail a on s1.ch1\n";

}  // namespace

TEST_CASE("a sequence sees the names of its own file, and the rails of the profile") {
  const Resolved resolved(kRail + "import \"s.ramp\"\nlet mine = 2 V\nrun { do up(mine) }", {},
                          {{"s.ramp", "let base = 1 V\nsequence up(more) { step a to base + more }"}});
  REQUIRE_MESSAGE(resolved.profile, resolved.places());
  CHECK(target_of(resolved.profile->run.at(0)) == Rational(3));
}

TEST_CASE("names of the profile other than rails and lines stay out of imported files") {
  const Resolved resolved(kRail + "import \"s.ramp\"\nlet mine = 2 V\nrun { do up\n step a to mine }", {},
                          {{"s.ramp", "sequence up { step a to mine }"}});
  CHECK(resolved.places() == "unknown-name s.ramp:1:25");
}

TEST_CASE("imports bring in lets and sequences alone") {
  const Resolved resolved(kRail + "import \"s.ramp\"\nrun { step a to v\n step a to p\n step c to 1 V }", {},
                          {{"s.ramp", "let v = p\nparam p = 1 V\nrail c on s1.ch2"}});
  CHECK(resolved.places() == "unknown-name 4:12, unknown-name 5:7");
}

TEST_CASE("a file reached by two paths is imported once, whatever the order") {
  // Either of the two that need it may come first.
  const std::map<std::string, std::string> files{{"base.ramp", "import \"deep.ramp\""},
                                                 {"deep.ramp", "let v = 1 V"},
                                                 {"x.ramp", "import \"base.ramp\"\nlet w = v"},
                                                 {"y.ramp", "import \"deep.ramp\"\nimport \"base.ramp\"\nlet u = v"}};
  for (const std::string imports : {"import \"base.ramp\"\nimport \"x.ramp\"\nimport \"y.ramp\"\n",
                                    "import \"y.ramp\"\nimport \"x.ramp\"\nimport \"base.ramp\"\n"}) {
    const Resolved resolved(kRail + imports + "run { step a to v + w + u }", {}, files);
    REQUIRE_MESSAGE(resolved.profile, resolved.places());
    CHECK(target_of(resolved.profile->run.at(0)) == Rational(3));
  }
}

TEST_CASE("names that collide are reported with both places") {
  const Resolved with_own(kRail + "import \"s.ramp\"\nlet v = 2 V\nrun { step a to v }", {},
                          {{"s.ramp", "let v = 1 V"}});
  REQUIRE(with_own.places() == "duplicate-name 3:5");
  CHECK(with_own.place(with_own.findings.findings()[0].notes.at(0).span) == "s.ramp:1:5");

  const Resolved two_imports(kRail + "import \"s.ramp\"\nimport \"t.ramp\"\nrun { step a to v }", {},
                             {{"s.ramp", "let v = 1 V"}, {"t.ramp", "let v = 1 V"}});
  REQUIRE(two_imports.places() == "duplicate-name s.ramp:1:5");
  CHECK(two_imports.place(two_imports.findings.findings()[0].notes.at(0).span) == "t.ramp:1:5");
}

TEST_CASE("mistakes in an imported sequence say who called it") {
  const Resolved resolved(kRail + "import \"s.ramp\"\nrun { do up(1 A) }", {},
                          {{"s.ramp", "sequence up(v) { step a to v }"}});
  REQUIRE(resolved.places() == "unit-mismatch s.ramp:1:28");
  CHECK(resolved.place(resolved.findings.findings()[0].notes.at(0).span) == "3:7");
}
