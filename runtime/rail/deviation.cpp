#include "runtime/rail/deviation.h"

#include <algorithm>
#include <cmath>

namespace rampart {

double deviated(double set, const SettingError& error) {
  const double most = std::abs(set);
  return set + std::clamp(set * error.fraction + error.offset, -most, most);
}

}  // namespace rampart
