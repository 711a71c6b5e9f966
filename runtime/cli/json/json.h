#pragma once

#include <string>

#include "runtime/cli/shared/common.h"

// The JSON documents of the command line. Keys are only ever added. Numbers are the shortest texts that read back the
// same; what is undefined or unbounded is null.
namespace rampart::cli {

// {"rampart": VERSION, "profiles": [{"profile": PATH, "verdict": {...}, "findings": [...]}]}. With `strict`, warnings
// count as errors in the verdict.
[[nodiscard]] std::string check_document(const Answers& answers, bool strict);

// The figures of a simulation with its profile, verdict and findings; only those where there is none.
[[nodiscard]] std::string simulation_document(const Answer& answer, bool strict);

// {"rampart": VERSION, "table": PATH, "rows": N, "findings_left_out": N, "findings": [...]}
[[nodiscard]] std::string audit_document(const Answer& table, std::int64_t rows, std::int64_t left_out);

}  // namespace rampart::cli
