#pragma once

#include <string>

#include "compiler/profile/profile.h"
#include "lang/text/source.h"
#include "runtime/answer/simulation.h"

// What is said of a wait for a condition that timed out.
namespace rampart {

// What it waited for, as the profile has it: "`core >= 5 V`"; "the condition" where that has several parts.
[[nodiscard]] std::string awaited_words(const Profile& profile, const SourceSet& texts, const Awaited& wait);

// How near the condition came: "`core` reaches at most 4.975 V, at 1.2 s". Of a condition with several parts each one
// that was never true, up to four. Empty if there is nothing to say.
[[nodiscard]] std::string nearest_words(const Profile& profile, const Awaited& wait);

}  // namespace rampart
