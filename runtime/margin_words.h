#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "compiler/profile.h"
#include "runtime/simulation.h"

namespace rampart {

// What is left of a limit as a share of it, by which margins of unlike units compare. None for those that are told
// elsewhere: what comes of a current at its limit is for the fuse, of a setpoint that is nearly missed for its finding,
// and of a power above a threshold with a delay for its time.
[[nodiscard]] std::optional<double> share_left(std::string_view what, double margin, double limit);

// The margin with the least share. None where nothing has one.
[[nodiscard]] const Margin* least_margin(const Simulation& simulation);

// "12.5 ms". What calculating leaves of nothing is nothing.
[[nodiscard]] std::string left_of(const Margin& margin);

// What a margin of this kind speaks of: the rail, its supply, or the rail with the channel that gets warm.
[[nodiscard]] std::string owner_of(const Profile& profile, std::string_view what, RailId rail,
                                   const std::string& owner);
[[nodiscard]] inline std::string owner_of(const Profile& profile, const Margin& margin) {
  return owner_of(profile, margin.what, margin.rail, margin.owner);
}

// Why a margin that has a share is what it is, in words.
[[nodiscard]] std::string reason_of(const Margin& margin);

}  // namespace rampart
