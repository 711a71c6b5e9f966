#include "runtime/as_run/run_findings.h"

#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include "lang/findings/logs.h"
#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

// What a log's times are multiplied by where their unit is mistaken, and what to write then.
constexpr std::array<std::pair<double, std::string_view>, 4> kUnits{{
    {86'400, "the times look like days: write `time: {format: days}` in the log's description"},
    {1.0 / 86'400, "the times look like seconds, not days: write `time: {format: seconds}` in the log's description"},
    {1e-3, "the times look like milliseconds: write `time: {format: milliseconds}` in the log's description"},
    {1e3, "the times look like seconds, not milliseconds: write `time: {format: seconds}` in the log's description"},
}};

// What the length of the log says about the unit of its times.
std::optional<std::string> unit_hint_of(const Survey& survey, double duration) {
  const double span = survey.last - survey.first;
  for (const auto& [factor, words] : kUnits) {
    // A log may begin before its run and end after it.
    if (span * factor > 0.8 * duration && span * factor < 3 * duration &&
        (span < 0.1 * duration || span > 10 * duration)) {
      return std::string(words);
    }
  }
  return std::nullopt;
}

}  // namespace

void report_unaligned(const std::string& log, const Unaligned& unaligned, const Survey& survey, double duration,
                      FindingSink& findings) {
  const Span place{findings.texts().add(log, ""), 0, 0};
  const std::optional<std::string> unit_hint = unit_hint_of(survey, duration);
  if (unaligned.either && !unit_hint) {
    findings
        .report(finding::AlignmentAmbiguous, place, log_time_text(unaligned.either->first),
                log_time_text(unaligned.either->second))
        .hint("say which with --shift, or start the log before the run");
    return;
  }
  const std::string lengths =
      "the log covers " + to_text(survey.last - survey.first, "s") + ", the run lasts " + to_text(duration, "s");
  findings.report(finding::NotAligned, place, unaligned.why.empty() ? lengths : unaligned.why)
      .hint(unit_hint.value_or(
          "check that the log belongs to this profile; --shift gives the start of the run in the log"));
}

}  // namespace rampart::as_run
