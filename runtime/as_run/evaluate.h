#pragma once

#include <optional>
#include <string>
#include <vector>

#include "lang/files/files.h"
#include "lang/job/job.h"
#include "runtime/as_run/answer.h"
#include "runtime/as_run/logger.h"
#include "runtime/predict/answer.h"
#include "runtime/scenario/scenario.h"

namespace rampart::as_run {

struct Request {
  std::vector<LogRequest> logs;  // one or more
  bool corners = false;          // what a reading may be is widened by the tolerances of the load
  double max_late_s = 0.1;       // a row that is later than this, s, is not what was reviewed
  bool curves = false;           // keep the readings for a drawing
};

// What is said of a profile and its logs. Findings are with the answer.
struct Evaluated {
  Answer answer;
  std::optional<AsRun> as_run;  // none where there is no table, load or log
  Scenario as_played;           // the run as the logs say that it was
};

// Compiles a profile, reads the logs of its run two or three times in constant memory, finds the run in them, predicts
// what was really played, and judges both. Throws JobStopped.
[[nodiscard]] Evaluated evaluate(Files& files, const std::string& profile, const CompileOptions& options,
                                 const Request& request, const Job& job = {});
// The same of a profile that has been compiled; the findings are apart from its own.
[[nodiscard]] Evaluated evaluate(Files& files, const Answer& reviewed, const Request& request, const Job& job = {});

}  // namespace rampart::as_run
