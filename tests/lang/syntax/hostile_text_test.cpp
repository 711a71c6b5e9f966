#include <doctest/doctest.h>

#include <cstdint>
#include <random>

#include "lang/findings/render.h"
#include "lang/syntax/format.h"
#include "tests/support/ast_text.h"
#include "tests/support/parsed.h"
#include "tests/support/sample_profiles.h"

// Damaged profiles, the same ones in every run: the generator is seeded and its sequence is fixed by the standard.
namespace {

using rampart::Finding;
using rampart::Span;
using rampart::test::Parsed;

constexpr int kRounds = 4000;

constexpr std::string_view kPieces[] = {
    "{",     "}",    "(",      ")",      "[",           "]",
    "\"",    "#",    "\n",     ";",      ",",           "..",
    "-",     "/",    "%",      "=",      "<",           "not ",
    "ramp ", "to ",  " over ", "run ",   "5 V",         ".5",
    "1e9",   "\\",   "\xFF",   "\t",     "\r",          "\u00B5",
    "min(",  "let ", "rule ",  "\u00A0", "protect x {", "99999999999999999999999999999999999999999"};

class Mutator {
 public:
  explicit Mutator(std::uint32_t seed) : random_(seed) {}

  std::string damage(std::string text) {
    const std::size_t changes = 1 + below(4);
    for (std::size_t i = 0; i < changes && !text.empty(); ++i) change(text);
    return text;
  }

  std::size_t below(std::size_t bound) { return random_() % bound; }

 private:
  void change(std::string& text) {
    const std::size_t at = below(text.size());
    const std::size_t length = std::min(text.size() - at, 1 + below(30));
    switch (below(4)) {
      case 0:
        text.erase(at, length);
        break;
      case 1:
        text.insert(at, kPieces[below(std::size(kPieces))]);
        break;
      case 2:
        text.insert(at, text.substr(below(text.size()), length));
        break;
      default:
        text[at] = static_cast<char>(below(256));
    }
  }

  std::mt19937 random_;
};

bool inside(const Span& span, const std::string& text) {
  return span.begin <= span.end && span.end <= text.size();
}

bool has_bad(const rampart::ast::Profile& profile) {
  return rampart::test::ast_text(profile).find("(bad)") != std::string::npos;
}

}  // namespace

TEST_CASE("damaged profiles give findings inside the text, and nothing worse") {
  const std::vector<std::string> texts = rampart::test::sample_profiles();
  Mutator mutator(20240607);
  for (int round = 0; round < kRounds; ++round) {
    const std::string text = mutator.damage(texts[mutator.below(texts.size())]);
    CAPTURE(round);
    const Parsed parsed(text);
    std::uint32_t last = 0;
    for (const Finding& finding : parsed.sink.findings()) {
      REQUIRE(inside(finding.span, text));
      REQUIRE(finding.span.begin >= last);
      last = finding.span.begin;
      REQUIRE_FALSE(rampart::render_text(finding, parsed.sources).empty());
    }
    for (const rampart::ast::Declaration& declaration : parsed.profile.declarations) {
      REQUIRE(inside(declaration.span, text));
    }
    if (has_bad(parsed.profile)) REQUIRE(parsed.sink.has_errors());
    if (parsed.sink.has_errors()) continue;
    const std::string formatted = rampart::format_profile(parsed.sources, parsed.file, parsed.profile);
    const Parsed again(formatted);
    REQUIRE(again.findings() == "");
    REQUIRE(rampart::test::ast_text(again.profile) == rampart::test::ast_text(parsed.profile));
    REQUIRE(rampart::format_profile(again.sources, again.file, again.profile) == formatted);
  }
}
