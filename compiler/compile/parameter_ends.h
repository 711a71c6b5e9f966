#pragma once

#include <cstddef>

#include "compiler/compile/compile.h"
#include "lang/findings/finding.h"
#include "lang/job/job.h"

namespace rampart {

// So many parameters are compiled at the ends of their ranges; the others only as they are.
inline constexpr std::size_t kMaxParametersAtEnds = 16;

// Compiles the profile with each of its parameters at the lower and at the upper end of its range, the others as they
// are, and reports what is found there and not among the findings so far: once, saying at which value. A parameter that
// was set by the caller stays as it was set. Rules are judged on the setpoints; nothing is simulated. Throws
// JobStopped.
void check_parameter_ends(const Compiled& compiled, FindingSink& findings, const Job& job = {});

}  // namespace rampart
