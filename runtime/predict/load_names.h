#pragma once

#include <optional>
#include <string>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load.h"

// Names of a load that a profile does not have. Several profiles may share a load, so only what is most likely a
// misspelling is told.
namespace rampart {

// Rails of the load whose name is near to that of a rail without a load, and the one that is left over beside the only
// rail without a load.
void report_unused_loads(const Profile& profile, const Load& load, FindingSink& findings);
// Marks that faults wait for, near to one that the run reaches. Faults that the profile speaks of, or that are asked
// for, are reported where they are placed.
void report_unused_marks(const Profile& profile, const Load& load, const Simulation& plain,
                         const std::optional<std::string>& asked_for, FindingSink& findings);

}  // namespace rampart
