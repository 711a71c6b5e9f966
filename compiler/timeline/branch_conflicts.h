#pragma once

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"

namespace rampart {

// Reports every quantity that two branches of one `together` drive, every rail driven while it tracks another, and
// every wait inside a `together`. Each finding shows both places and the calls that lead to them.
void check_branches(const Profile& profile, const Program& program, FindingSink& findings);

}  // namespace rampart
