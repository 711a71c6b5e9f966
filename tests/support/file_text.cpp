#include "tests/support/file_text.h"

#include <doctest/doctest.h>

#include <random>
#include <regex>

namespace rampart::test {

std::string finding_line(const SourceSet& sources, const Finding& finding) {
  const auto place = [&](const Span& span) {
    const Position at = sources[span.file].position(span.begin);
    return std::to_string(at.line) + ":" + std::to_string(at.column);
  };
  std::string line = place(finding.span) + " " + std::string(finding.name) + ": " + finding.message;
  for (const FindingNote& note : finding.notes) line += " (" + place(note.span) + " " + note.message + ")";
  if (!finding.hint.empty()) line += " | " + finding.hint;
  return line;
}

std::vector<std::string> finding_lines(const SourceSet& sources, const FindingSink& findings) {
  std::vector<std::string> lines;
  for (const Finding& finding : findings.findings()) lines.push_back(finding_line(sources, finding));
  return lines;
}

std::string with(std::string text, std::string_view from, std::string_view to) {
  const std::size_t at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, "the text lacks: " << std::string(from));
  return text.replace(at, from.size(), to);
}

std::string damaged(std::string text, std::uint32_t number) {
  std::mt19937 random(number);
  const auto below = [&](std::size_t limit) { return limit == 0 ? 0 : random() % limit; };
  using namespace std::string_view_literals;
  static constexpr std::string_view kBytes = "\n :,{}[]-+%&*!|>'\"#?@`\t\r0123456789.eVAms\x00\xC3\xB5\xFF~<"sv;
  const std::size_t wounds = 1 + below(4);
  for (std::size_t i = 0; i < wounds && !text.empty(); ++i) {
    const std::size_t at = below(text.size());
    const std::size_t length = 1 + below(12);
    switch (below(5)) {
      case 0:
        text[at] = kBytes[below(kBytes.size())];
        break;
      case 1:
        text.insert(at, 1, kBytes[below(kBytes.size())]);
        break;
      case 2:
        text.erase(at, length);
        break;
      case 3:
        text.insert(below(text.size()), text.substr(at, length));
        break;
      default:
        text.resize(at);
        break;
    }
  }
  return text;
}

std::vector<std::string> with_wrong_keys(const std::string& text) {
  struct Key {
    std::size_t begin;
    std::size_t length;
  };
  std::vector<Key> keys;
  const std::regex key("([a-z_0-9]+):(?=[ \n])");
  for (std::sregex_iterator it(text.begin(), text.end(), key), end; it != end; ++it) {
    keys.push_back({static_cast<std::size_t>(it->position(1)), static_cast<std::size_t>(it->length(1))});
  }
  const auto misspell = [](std::string& changed, const Key& one, bool is_near) {
    if (is_near) changed.erase(one.begin + one.length - 1, 1);
    if (!is_near) changed.replace(one.begin, one.length, "zzz");
  };
  std::vector<std::string> texts;
  for (std::size_t second = 0; second < keys.size(); ++second) {
    for (std::size_t first = 0; first <= second; ++first) {
      for (const bool is_near : {true, false}) {
        std::string changed = text;
        misspell(changed, keys[second], is_near);
        // From the end on, so that the place of the first stays.
        if (first < second) misspell(changed, keys[first], is_near);
        texts.push_back(std::move(changed));
      }
    }
  }
  return texts;
}

std::string broken_promise(const SourceSet& sources, const FindingSink& findings, bool was_read) {
  if (was_read == findings.has_errors()) return "an answer goes with errors, or none without one";
  for (const Finding& finding : findings.findings()) {
    std::vector<Span> spans{finding.span};
    for (const FindingNote& note : finding.notes) spans.push_back(note.span);
    for (const Span& span : spans) {
      if (sources.place_of(span.file) == sources.texts().size()) return "a span lies in another file";
      if (span.begin > span.end || span.end > sources[span.file].text().size()) return "a span lies outside the text";
    }
  }
  return {};
}

}  // namespace rampart::test
