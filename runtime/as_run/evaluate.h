#pragma once

#include <optional>
#include <string>

#include "lang/files/files.h"
#include "lang/job/job.h"
#include "runtime/as_run/answer.h"
#include "runtime/predict/answer.h"

namespace rampart::as_run {

struct Request {
  std::string log;                         // its path
  std::optional<std::string> description;  // none: the file beside the log, where there is one
  bool corners = false;                    // what a reading may be is widened by the tolerances of the load
  std::optional<double> shift_s;           // the time of the log at which the run begins; none: it is looked for
};

// What is said of a profile and its log. Findings are with the answer.
struct Evaluated {
  Answer answer;
  std::optional<AsRun> as_run;  // none where there is no table, load or log
};

// The path of the description that belongs to a log: "bench.csv" has "bench.log.yaml".
[[nodiscard]] std::string description_path(const std::string& log);

// Compiles a profile, reads the log of its run twice in constant memory, finds the run in it, predicts what was really
// played, and judges both. Throws JobStopped.
[[nodiscard]] Evaluated evaluate(Files& files, const std::string& profile, const CompileOptions& options,
                                 const Request& request, const Job& job = {});

}  // namespace rampart::as_run
