#pragma once

#include <optional>
#include <string>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"

namespace rampart {

// What is left of a limit as a share of it, by which margins of unlike units compare. None for a current at its limit:
// what comes of that is for the fuse.
[[nodiscard]] std::optional<double> share_left(MarginKind kind, double margin, double limit);

// The margin with the least share, apart from those of protections that a finding says can not act. None where nothing
// has one.
[[nodiscard]] const Margin* least_margin(const Profile& profile, const Simulation& simulation,
                                         const FindingSink& findings);

// "12.5 ms". What calculating leaves of nothing is nothing.
[[nodiscard]] std::string left_of(const Margin& margin);

// What a margin of this kind speaks of: the rail, its supply, or the rail with the channel that gets warm.
[[nodiscard]] std::string owner_of(const Profile& profile, MarginKind kind, RailId rail, const std::string& owner);
[[nodiscard]] inline std::string owner_of(const Profile& profile, const Margin& margin) {
  return owner_of(profile, margin.kind, margin.rail, margin.owner);
}

// How long the limit was used where the margin is least, in s; 0 where it is none of time.
[[nodiscard]] double spell_of(const Margin& margin);

// Why a margin is what it is, in words.
[[nodiscard]] std::string reason_of(const Margin& margin);

}  // namespace rampart
