#pragma once

#include <vector>

#include "compiler/table/highest_demand.h"
#include "compiler/table/table.h"
#include "lang/findings/finding.h"

namespace rampart {

// Tests the run, and the orderly stop where there is one, against the limits of the bench and the practice of the
// trade. Those of practice that the profile accepts are left out. Gives what the run asks for, by rail.
std::vector<HighestDemand> run_checks(const Table& run, const Table* safe, FindingSink& findings);

// What can be said without a timeline: each value that the statements set, by itself, against the ranges of its channel
// and the ceiling of its rail. `unplaced` are rails whose channel is not known.
void check_values(const Profile& profile, const std::vector<const Program*>& programs,
                  const std::vector<RailId>& unplaced, const Bench& bench, FindingSink& findings);
// Likewise what the profile asks of its channels beside that: protections and tracking.
void check_settings(const Profile& profile, const std::vector<RailId>& unplaced, const Bench& bench,
                    FindingSink& findings);

}  // namespace rampart
