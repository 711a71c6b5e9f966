#include "runtime/report/subject.h"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace rampart::report {
namespace {

// As JSON writes numbers: the shortest text that reads back the same.
std::string exact_text(double value) {
  char buffer[32];
  return {buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr};
}

}  // namespace

Subject::Subject(const Compilation& shown_compilation)
    : compilation(shown_compilation),
      profile(*shown_compilation.profile),
      simulation(shown_compilation.shown()),
      expectations(shown_compilation.expectations()) {
  for (const auto& tree : compilation.trees) listed.push_back(tree->file);
  if (compilation.bench) listed.push_back(compilation.bench->file);
  if (compilation.load) listed.push_back(compilation.load->file);
}

std::uint32_t Subject::line_number(const Span& span) const {
  return compilation.sources[span.file].position(span.begin).line;
}

std::string Subject::line_text(const Span& span) const {
  const std::string_view line = compilation.sources[span.file].line(line_number(span));
  const std::size_t begin = std::min(line.find_first_not_of(" \t"), line.size());
  return std::string(line.substr(begin, line.find_last_not_of(" \t\r") + 1 - begin));
}

Markup Subject::line_of(const Span& span) const {
  if (span.end <= span.begin) return {};
  const std::uint32_t line = line_number(span);
  const bool is_profile = span.file == listed.front();
  Markup words = is_profile ? Markup() : name(compilation.sources[span.file].name()) + text(", ");
  words += text("line " + std::to_string(line));
  if (std::find(listed.begin(), listed.end(), span.file) == listed.end()) return words;
  return element("a", {{"href", "#" + line_id(span.file, line)}}, words);
}

Markup Subject::at(double time_s, std::optional<RailId> rail, double width_s) const {
  Markup words = text(to_text(time_s, "s"));
  if (!compilation.waveforms) return words;
  const std::string place = rail ? "#rail-" + std::to_string(static_cast<std::uint32_t>(*rail)) : "#charts";
  return element("a", {{"href", place}, {"data-time", exact_text(time_s)}, {"data-width", exact_text(width_s)}}, words);
}

Span Subject::threshold_of(const Margin& margin) const {
  const MarginRow& row = row_of(margin.kind);
  return row.threshold == nullptr ? Span{} : row.threshold(profile[margin.rail].protection);
}

std::string line_id(FileId file, std::uint32_t line) {
  return "f" + std::to_string(static_cast<std::uint32_t>(file)) + "-" + std::to_string(line);
}

}  // namespace rampart::report
