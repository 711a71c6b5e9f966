#pragma once

#include <optional>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load.h"
#include "runtime/play/simulate.h"

namespace rampart {

// Where a fault of the load comes in the run of a profile; `plain` is that run without it. Empty where it does not
// come: its rail or mark is not the profile's (unknown-name), or the run ends before (fault-not-reached).
[[nodiscard]] std::optional<Injection> place_fault(const Fault& fault, const Profile& profile, const Simulation& plain,
                                                   FindingSink& findings);

// Reports what the run with this fault says: that nothing catches it, and expectations under it that fail.
void report_fault_run(const Profile& profile, const Fault& fault, const Simulation& simulation, FindingSink& findings);

}  // namespace rampart
