#pragma once

#include <cstddef>
#include <vector>

#include "compiler/timeline/timeline.h"

namespace rampart {

// A rule whose phase begins and is still open when the program ends.
struct EndlessPhase {
  std::size_t rule = 0;       // its place in the profile
  bool ended_before = false;  // its last mark was reached while the phase was not open
};

[[nodiscard]] std::vector<EndlessPhase> endless_phases(const Timeline& timeline);

}  // namespace rampart
