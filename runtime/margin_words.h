#pragma once

#include <string>

#include "compiler/profile.h"
#include "runtime/simulation.h"

namespace rampart {

// The least margin by the share of its limit, since units differ. What comes of a current near its limit is for the
// fuse to tell, and a setpoint that is missed has its finding: neither is the least. None where nothing has a margin.
[[nodiscard]] const Margin* least_margin(const Simulation& simulation);

// "12.5 ms". What calculating leaves of nothing is nothing.
[[nodiscard]] std::string left_of(const Margin& margin);

// The rail, or the supply, that a margin speaks of.
[[nodiscard]] const std::string& owner_of(const Profile& profile, const Margin& margin);

// Why a margin is what it is, in words.
[[nodiscard]] std::string reason_of(const Margin& margin);

}  // namespace rampart
