#pragma once

#include <algorithm>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>

#include "runtime/as_run/meters.h"
#include "runtime/as_run/run_clock.h"
#include "runtime/as_run/survey.h"
#include "runtime/log/log_description.h"
#include "runtime/log/recorded_run.h"

namespace rampart::as_run {

// A log to look at.
struct LogRequest {
  std::string path;
  std::optional<std::string> description;  // none: the file beside the log, where there is one
  std::optional<double> shift_s;           // the time of the log at which the run begins; none: it is looked for
};

// One log of a run, and where the run lies in it.
struct Logger {
  std::string path;
  LogDescription description;
  Survey survey;
  std::optional<RecordedRun> record;  // that was written beside it
  std::string record_fault;           // why there is none; empty: there is one
  bool has_broken_record = false;     // there is one, and it cannot be read
  std::optional<Meters> meters;
  std::optional<double> given_shift_s;

  std::optional<double> shift_s;  // none: the run was not found in it
  double clock_error = 0;
  double shift_uncertainty_s = 0;
  double clock_uncertainty = 0;
  std::size_t edges_matched = 0;
  std::size_t edges_planned = 0;
  RunClock clock{0, 0};
  double judged_to = std::numeric_limits<double>::infinity();  // of the log: what comes later is not judged

  [[nodiscard]] bool has_commands() const { return !survey.segments.empty(); }
  // Between readings of a rail, the longest of all rails' usual ones, s.
  [[nodiscard]] double interval() const {
    double longest = 0;
    for (const SurveyedRail& rail : survey.rails) longest = std::max(longest, rail.interval);
    return longest;
  }
  // Times that may be the time of a reading, in the run; `skew`: of the supply, s; `duration`: of the run, s.
  [[nodiscard]] double room_at(double run_s, double duration, double skew) const;
};

// The day of the run: as the description or the record says, or that of the log's times.
[[nodiscard]] std::optional<Date> day_of(const Logger& logger);

}  // namespace rampart::as_run
