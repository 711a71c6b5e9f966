#pragma once

#include <optional>
#include <string>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"
#include "runtime/predict/stairs.h"

namespace rampart {

// Reports the expectations of the plain run that fail, or of the run with `fault`. `stairs` may be null.
void report_expectations(const Profile& profile, const Simulation& simulation, const std::optional<std::string>& fault,
                         FindingSink& findings, const Stairs* stairs = nullptr);

}  // namespace rampart
