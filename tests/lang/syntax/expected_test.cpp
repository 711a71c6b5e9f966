#include "lang/syntax/expected.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "lang/syntax/scanner.h"

// The places are marked by `|`; what may stand there is read off the grammar in docs/language.md by hand.
namespace {

using rampart::Expected;
using rampart::Wanted;

std::vector<Expected> expected(std::string text) {
  const std::size_t place = text.find('|');
  text.erase(place, 1);
  return rampart::expected_at(text, static_cast<std::uint32_t>(place));
}

// The words of the language, or its operators, that may stand at the place, sorted.
std::string words(const std::string& text, Wanted what = Wanted::Keyword) {
  std::vector<std::string> found;
  for (const Expected& one : expected(text)) {
    if (one.what == what) found.emplace_back(one.word);
  }
  std::sort(found.begin(), found.end());
  std::string joined;
  for (const std::string& word : found) joined += (joined.empty() ? "" : " ") + word;
  return joined;
}

bool takes(const std::string& text, Wanted what) {
  const std::vector<Expected> all = expected(text);
  return std::any_of(all.begin(), all.end(), [what](const Expected& one) { return one.what == what; });
}

// The part of the text that a completion of this kind replaces.
std::string replaced(std::string text, Wanted what) {
  const std::vector<Expected> all = expected(text);
  text.erase(text.find('|'), 1);
  for (const Expected& one : all) {
    if (one.what == what) return text.substr(one.begin, one.end - one.begin);
  }
  return "nothing of that kind";
}

}  // namespace

TEST_CASE("expected: every declaration at the top, every statement in a block") {
  CHECK(words("|") == "accept bench expect import let line load param profile protect rail rule run safe sequence");
  CHECK(words("let a = 1 V\nra|") == words("|"));
  const std::string statements =
      "await do dwell for limit lower mark measure off on pulse raise ramp repeat step together track waveform";
  CHECK(words("run {\n  |\n}") == statements);
  CHECK(words("run {\n  on core\n  repeat 3 { ra| }\n}") == statements);
  CHECK(words("protect core { | }") == "ceiling fuse overpower overvoltage");
}

TEST_CASE("expected: what follows what has been read") {
  CHECK(words("run { ramp core | }") == "by from to");
  CHECK(words("run { limit core | }") == "by ramp to");
  CHECK(words("rail core on left.ch1 |") == "reversed sense");
  CHECK(words("line a on left.l1 |") == "input output");
  CHECK(words("rule \"a\" core |") == "before falls rises within");
  CHECK(words("expect |") == "no trip");
  CHECK(takes("expect |", Wanted::Figure));
  CHECK(words("expect trip core by fuse |") == "under");
  CHECK(words("run { ramp core to 3 V | }") == "at over");
}

TEST_CASE("expected: operators between values, and what stands before one") {
  const auto operators = [](const std::string& text) { return words(text, Wanted::Operator); };
  CHECK(operators("let a = 3 V |") == "* + - / < <= > >= and or");
  CHECK(operators("let a |") == "=");
  CHECK(operators("let a = |") == "not");
  CHECK(operators("rule \"a\" always core |") == "* + - / < <= > >= and or");
  CHECK(operators("rule \"a\" always core > 1 V an|") == "* + - / < <= > >= and or");
  CHECK(operators("rule \"a\" always |") == "not");
  CHECK(operators("expect energy(core) |") == "< <= > >=");
  CHECK(operators("run { for k in 1 | }") == "* + - .. / < <= > >= and or");
  CHECK(operators("run { on | }") == "");
  CHECK(operators("|") == "");
}

TEST_CASE("expected: names by what they have to stand for") {
  CHECK(takes("run { on | }", Wanted::Rail));
  CHECK(takes("run { on core, i| }", Wanted::Rail));
  CHECK(takes("run { raise | }", Wanted::Line));
  CHECK(takes("run { do | }", Wanted::Sequence));
  CHECK(takes("run { dwell | }", Wanted::Value));
  CHECK(takes("run { dwell 2 * (| }", Wanted::Value));
  CHECK(takes("rule \"a\" always current(|", Wanted::Rail));
  CHECK(takes("rule \"a\" always |", Wanted::Measure));
  CHECK(takes("expect trip core by |", Wanted::Cause));
  CHECK(takes("expect no trip under |", Wanted::Fault));
  CHECK(takes("expect energy(|", Wanted::RailOrTotal));
  CHECK(takes("let |", Wanted::NewName));
  CHECK_FALSE(takes("let |", Wanted::Value));
}

TEST_CASE("expected: channels and names of findings have several words") {
  CHECK(replaced("rail core on |", Wanted::Channel) == "");
  CHECK(replaced("rail core on left.c|h1", Wanted::Channel) == "left.ch1");
  CHECK(replaced("rail core on left.|\n", Wanted::Channel) == "left.");
  CHECK(replaced("rail core on le|ft.ch1 reversed", Wanted::Channel) == "left.ch1");
  CHECK(replaced("line a on left.|", Wanted::TriggerLine) == "left.");
  CHECK(replaced("accept no-over| on core", Wanted::Finding) == "no-over");
}

TEST_CASE("expected: texts and units") {
  CHECK(replaced("bench \"a|b.yaml\"", Wanted::BenchPath) == "ab.yaml");
  CHECK(replaced("load \"|", Wanted::LoadPath) == "");
  CHECK(replaced("import \"li|\nlet a = 1 V", Wanted::ImportPath) == "li");
  CHECK(replaced("expect voltage(core) at \"no|\" >= 1 V", Wanted::Mark) == "no");
  CHECK(replaced("run { dwell 20 m| }", Wanted::Unit) == "m");
  CHECK(replaced("run { dwell 20m| }", Wanted::Unit) == "m");
  CHECK(replaced("run { dwell 20 | }", Wanted::Unit) == "");
  CHECK_FALSE(takes("run { dwell 20 ms | }", Wanted::Unit));
}

TEST_CASE("expected: after mistakes, and nothing in comments") {
  CHECK(words("let = 3\nrun { ramp core too 3\n  ramp core | }") == "by from to");
  CHECK(expected("run { # ra|\n}").empty());
  CHECK(expected("# |").empty());
  CHECK(expected(std::string("run { \x01 | }")).empty());
  CHECK(rampart::expected_at("run", 99).empty());
}

TEST_CASE("the words of a text that are words of the language") {
  const std::string text = "rail input on a.b\nrun { on input # on\n dwell 2 s }";
  std::string found;
  for (const auto& [begin, end] : rampart::keywords_of(text)) found += text.substr(begin, end - begin) + " ";
  CHECK(found == "rail on run on dwell ");
}
