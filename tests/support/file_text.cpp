#include "tests/support/file_text.h"

#include <doctest/doctest.h>

#include <random>

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

std::string broken_promise(const SourceSet& sources, const FindingSink& findings, bool was_read) {
  if (was_read == findings.has_errors()) return "an answer goes with errors, or none without one";
  for (const Finding& finding : findings.findings()) {
    std::vector<Span> spans{finding.span};
    for (const FindingNote& note : finding.notes) spans.push_back(note.span);
    for (const Span& span : spans) {
      if (span.begin > span.end || span.end > sources[span.file].text().size()) return "a span lies outside the text";
    }
  }
  return {};
}

}  // namespace rampart::test
