#pragma once

#include <string>

#include "compiler/profile.h"
#include "runtime/simulation.h"

namespace rampart {

// The least margin by the share of its limit, since units differ. What comes of a current near its limit is for the
// fuse to tell, and a setpoint that is missed has its finding, and a power above a threshold with a delay its time:
// none of them is the least. None where nothing has a margin.
[[nodiscard]] const Margin* least_margin(const Simulation& simulation);

// "12.5 ms". What calculating leaves of nothing is nothing.
[[nodiscard]] std::string left_of(const Margin& margin);

// What a margin of this kind speaks of: the rail, its supply, or the rail with the channel that gets warm.
[[nodiscard]] std::string owner_of(const Profile& profile, std::string_view what, RailId rail,
                                   const std::string& owner);
[[nodiscard]] inline std::string owner_of(const Profile& profile, const Margin& margin) {
  return owner_of(profile, margin.what, margin.rail, margin.owner);
}

// Why a margin is what it is, in words.
[[nodiscard]] std::string reason_of(const Margin& margin);

}  // namespace rampart
