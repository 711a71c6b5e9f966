#include "runtime/fold.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

constexpr double kSame = 1e-12;

bool same_rail(const RailRun::State& a, const RailRun::State& b, double between) {
  if (a.rest != b.rest || a.numbers.size() != b.numbers.size()) return false;
  for (std::size_t i = 0; i < a.numbers.size(); ++i) {
    const double size = std::max({std::abs(a.numbers[i]), std::abs(b.numbers[i]), b.scales[i]});
    if (std::abs(a.numbers[i] - b.numbers[i]) > kSame * size) return false;
  }
  // A limit phase that spans the ends of passes has its full length once it is as old at each; one that fills whole
  // passes only grows.
  const double age = std::max(a.limited_for, b.limited_for);
  return b.limited_for >= between || std::abs(a.limited_for - b.limited_for) <= kSame * age + 1e-15;
}

}  // namespace

bool same_state(const PassState& a, const PassState& b) {
  if (a.outer != b.outer || a.to_pass_end != b.to_pass_end || a.table != b.table || a.rules != b.rules) return false;
  const double between = b.time.since(a.time);
  return std::equal(a.rails.begin(), a.rails.end(), b.rails.begin(), b.rails.end(),
                    [&](const auto& one, const auto& other) { return same_rail(one, other, between); });
}

}  // namespace rampart
