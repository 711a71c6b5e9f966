#pragma once

#include <string>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"

namespace rampart {

// A finding says that the protection of this margin can never act.
[[nodiscard]] bool never_acts(const Profile& profile, const Margin& margin, const FindingSink& findings);

// The protection of this margin is what switched its rail off.
[[nodiscard]] bool has_tripped(const Simulation& simulation, const Margin& margin);

// What is left of a limit as a share of it, by which margins of unlike units compare; 0 of a limit that is 0.
[[nodiscard]] double share_of(double margin, double limit);

// "11 %", "1.4 %": rounded towards less.
[[nodiscard]] std::string share_text(double margin, double limit);

// "12.5 ms", rounded towards less. What calculating leaves of nothing is nothing.
[[nodiscard]] std::string left_text(MarginKind kind, double margin, double limit);
[[nodiscard]] inline std::string left_text(const Margin& margin) {
  return left_text(margin.kind, margin.margin, margin.limit);
}

// The same for a table: "tripped" of a protection that has acted, "cannot act" of one that a finding says it of.
[[nodiscard]] std::string left_cell(const Profile& profile, const Simulation& simulation, const Margin& margin,
                                    const FindingSink& findings);

// "20 ms of 20 ms delay left", "4.6 W over 50 W".
[[nodiscard]] std::string left_words(MarginKind kind, double margin, double limit);

// What a margin of this kind speaks of: the rail, its supply, or the rail with the channel that gets warm.
[[nodiscard]] std::string owner_of(const Profile& profile, MarginKind kind, RailId rail, const std::string& owner);
[[nodiscard]] inline std::string owner_of(const Profile& profile, const Margin& margin) {
  return owner_of(profile, margin.kind, margin.rail, margin.owner);
}

// What a table of margins has to explain: a threshold of power that was exceeded for less than its delay stands there
// with what it was exceeded by, although nothing tripped. Empty where there is no such margin.
[[nodiscard]] std::string exceeded_words(const Simulation& simulation);

// How long the limit was used where the margin is least, in s; 0 where it is none of time.
[[nodiscard]] double spell_of(const Margin& margin);

// Why a margin is what it is, in words.
[[nodiscard]] std::string reason_of(const Margin& margin);

}  // namespace rampart
