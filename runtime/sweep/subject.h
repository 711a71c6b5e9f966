#pragma once

#include <optional>
#include <vector>

#include "runtime/sweep/parameter_scan.h"
#include "runtime/sweep/sweep.h"

namespace rampart::sweep {

// A parameter and what it is to be tried at.
struct Subject {
  ParameterValue parameter;
  Range<Quantity> range;
  std::optional<Quantity> step;
};

// What a sweep varies. Throws Refused.
[[nodiscard]] std::vector<Subject> subjects_of(const Profile& profile, const Request& request);
// The rail whose energy is looked for; none is the total. Throws Refused.
[[nodiscard]] std::optional<RailId> rail_of_energy(const Profile& profile, const Request& request);
// The values that a subject can be tried at: what the supplies can set, a whole number, or else a thousandth of the
// range. Throws Refused where these are too many.
[[nodiscard]] ScanSubject scan_subject(const Compiled& compiled, const Subject& subject);

}  // namespace rampart::sweep
