#pragma once

#include <string>

#include "lang/findings/finding.h"
#include "runtime/as_run/alignment.h"
#include "runtime/as_run/survey.h"

namespace rampart::as_run {

// Reports that the run was not found in its log; `duration` of the run without its waits, s.
void report_unaligned(const std::string& log, const Unaligned& unaligned, const Survey& survey, double duration,
                      FindingSink& findings);

}  // namespace rampart::as_run
