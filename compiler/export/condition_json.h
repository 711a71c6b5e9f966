#pragma once

#include <string>

#include "compiler/profile/profile.h"

namespace rampart {

// A condition as a program evaluates it: an array of its comparisons and operators in postfix. See docs/formats.md.
[[nodiscard]] std::string condition_steps(const Profile& profile, const Condition& condition);

}  // namespace rampart
