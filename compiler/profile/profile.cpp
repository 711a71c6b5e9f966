#include "compiler/profile/profile.h"

#include <algorithm>

#include "lang/text/overloaded.h"

namespace rampart {

std::string parameter_text(const Quantity& value, const Range<Quantity>& range) {
  if (value.dimension != dimension::kNone) return to_text(value);
  const bool whole = value.value.is_whole() && range.low.value.is_whole() && range.high.value.is_whole();
  const bool is_share = !whole && abs(range.low.value) <= Rational(1) && abs(range.high.value) <= Rational(1);
  if (is_share) return to_text(Quantity{value.value * Rational(100), dimension::kNone}) + " %";
  const Int128 count = value.value.numerator();
  const bool is_count = value.value.is_whole() && count == static_cast<std::int64_t>(count);
  return is_count ? std::to_string(static_cast<std::int64_t>(count)) : to_text(value);
}

namespace {

void collect(const Program& program, std::vector<const Measurement*>& found) {
  for (const Statement& statement : program) {
    std::visit(Overloaded{[&](const Measurement& measurement) { found.push_back(&measurement); },
                          [&](const Repeat& loop) { collect(loop.body, found); },
                          [&](const Track& track) { collect(track.body, found); },
                          [&](const Together& together) {
                            for (const Program& branch : together.branches) collect(branch, found);
                          },
                          [](const auto&) {}},
               statement.what);
  }
}

}  // namespace

std::vector<const Measurement*> measurements_of(const Program& program) {
  std::vector<const Measurement*> found;
  collect(program, found);
  return found;
}

Nanoseconds longest_reading(const Program& program) {
  Nanoseconds longest{0};
  for (const Measurement* measurement : measurements_of(program)) longest = std::max(longest, measurement->over);
  return longest;
}

}  // namespace rampart
