#pragma once

#include <string>

#include "compiler/profile/profile.h"

namespace rampart {

// How near a comparison that was never true came to it: "`core` reaches at most 4.975 V" of a single quantity, else
// "it misses by at least 20 mV". `nearest` is the greatest value of its form, in the SI unit of that: below 0.
[[nodiscard]] std::string approach_words(const Profile& profile, const LinearForm& form, double nearest);

}  // namespace rampart
