#pragma once

#include <string>

#include "lang/findings/finding.h"
#include "runtime/as_run/answer.h"
#include "runtime/as_run/survey.h"

namespace rampart::as_run {

// What of the run the log does not read, the first of it; empty where it reads all of it. The run was found.
[[nodiscard]] std::string missing_of(const Profile& profile, const Survey& survey, const AsRun& answer);

// Comes to both verdicts, and reports what decides them.
void decide(const Profile& profile, const Survey& survey, AsRun& answer, FindingSink& findings);

}  // namespace rampart::as_run
