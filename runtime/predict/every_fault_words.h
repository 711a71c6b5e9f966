#pragma once

#include <string>
#include <string_view>

#include "compiler/profile/profile.h"
#include "runtime/predict/every_fault.h"

// What text and report say of faults that were tried all over a run.
namespace rampart {

[[nodiscard]] std::string_view fault_kind_text(FaultKind kind);
// "electronic fuse of logic", "nothing".
[[nodiscard]] std::string caught_text(const Profile& profile, const TriedFault& fault);
[[nodiscard]] std::string i2t_text(double value);
// "shut down by the safe sequence".
[[nodiscard]] std::string reaction_text(const OtherRail& other);
[[nodiscard]] std::string others_text(const Profile& profile, const TriedFault& fault);
// "10 of 10 shorts caught, 0 of 10 open circuits; a short is 10 mOhm".
[[nodiscard]] std::string every_fault_summary(const EveryFault& tried);

}  // namespace rampart
