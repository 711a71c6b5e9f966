#pragma once

#include <vector>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"

namespace rampart {

// The margins that are judged, the tightest first: not those of a protection that a finding says can never act, or that
// has tripped, and of a current limit only where a rule of the whole run or an expectation asks for the current.
[[nodiscard]] std::vector<const Margin*> judged_margins(const Profile& profile, const Simulation& simulation,
                                                        const FindingSink& findings);

// Negative margins come before all others; beside that the share of the limit decides.
[[nodiscard]] bool is_tighter(double margin, double limit, double other_margin, double other_limit);

}  // namespace rampart
