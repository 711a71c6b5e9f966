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

Subject::Subject(const Answer& shown_answer, const PageDetails& page_details, const as_run::Evaluated* by_logs)
    : answer(shown_answer),
      profile(*shown_answer.compiled.profile()),
      details(page_details),
      simulation(shown_answer.predictions.shown()),
      evaluated(by_logs),
      headline(headline_of(shown_answer, page_details.strict)),
      expectations(shown_answer.predictions.expectations(*shown_answer.compiled.profile())) {
  for (const Dependency& file : answer.compiled.files()) {
    if (file.text != nullptr) listed.push_back(file.text->id());
  }
  if (answer.predictions.load) listed.push_back(answer.predictions.load->text->id());
}

const as_run::AsRun* Subject::as_run() const {
  return evaluated != nullptr && evaluated->as_run ? &*evaluated->as_run : nullptr;
}

const Simulation* Subject::charted() const {
  return answer.predictions.recorded ? &*answer.predictions.recorded : simulation;
}

std::uint32_t Subject::line_number(const Span& span) const {
  return answer.findings.texts()[span.file].position(span.begin).line;
}

std::string Subject::line_text(const Span& span) const {
  const std::string_view line = answer.findings.texts()[span.file].line(line_number(span));
  const std::size_t begin = std::min(line.find_first_not_of(" \t"), line.size());
  return std::string(line.substr(begin, line.find_last_not_of(" \t\r") + 1 - begin));
}

Markup Subject::line_of(const Span& span) const {
  if (span.end == 0) return {};
  const std::uint32_t line = line_number(span);
  const bool is_profile = span.file == listed.front();
  Markup words = is_profile ? Markup() : name(answer.findings.texts()[span.file].name()) + text(", ");
  words += text("line " + std::to_string(line));
  const std::string id = line_id(span.file, line);
  return id.empty() ? words : element("a", {{"href", "#" + id}}, words);
}

Markup Subject::at(double time_s, std::optional<RailId> rail, double width_s) const {
  Markup words = text(to_text(time_s, "s"));
  if (!answer.predictions.waveforms) return words;
  const std::string place = rail ? "#rail-" + std::to_string(static_cast<std::uint32_t>(*rail)) : "#charts";
  return element("a", {{"href", place}, {"data-time", exact_text(time_s)}, {"data-width", exact_text(width_s)}}, words);
}

Span Subject::threshold_of(const Margin& margin) const {
  const MarginRow& row = row_of(margin.kind);
  return row.threshold == nullptr ? Span{} : row.threshold(profile[margin.rail].protection);
}

std::string Subject::line_id(FileId file, std::uint32_t line) const {
  const auto place = std::find(listed.begin(), listed.end(), file);
  if (place == listed.end()) return {};
  return "f" + std::to_string(place - listed.begin()) + "-" + std::to_string(line);
}

}  // namespace rampart::report
