#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/compile/compile.h"
#include "compiler/export/list_plan.h"
#include "lang/findings/finding.h"

namespace rampart::cli {

class Command;

// --ramp-error: how far a staircase that has to be thinned may be off.
void add_ramp_error(Command& command, ListOptions& options);

// Fits the run of a profile into the memory of its supplies. Empty if there is no run, or it cannot be played so.
std::optional<std::vector<ChannelList>> plan_lists(const Compiled& compiled, const ListOptions& options,
                                                   FindingSink& findings);

// The supply whose list is to be written: the one that is named, or the only one there is. `why` says why there is
// none.
[[nodiscard]] std::optional<SupplyId> choose_supply(const Bench& bench, const std::vector<ChannelList>& lists,
                                                    const std::string& name, std::string& why);

}  // namespace rampart::cli
