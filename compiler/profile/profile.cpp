#include "compiler/profile/profile.h"

namespace rampart {

std::string parameter_text(const Quantity& value, const Range<Quantity>& range) {
  const bool whole = value.value.is_whole() && range.low.value.is_whole() && range.high.value.is_whole();
  if (value.dimension != dimension::kNone || whole) return to_text(value);
  return to_text(Quantity{value.value * Rational(100), dimension::kNone}) + " %";
}

}  // namespace rampart
