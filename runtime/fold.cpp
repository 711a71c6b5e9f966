#include "runtime/fold.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

constexpr double kSame = 1e-12;

bool same_rail(const circuit::Snapshot& a, const circuit::Snapshot& b) {
  if (a.rest != b.rest || a.numbers.size() != b.numbers.size()) return false;
  for (std::size_t i = 0; i < a.numbers.size(); ++i) {
    const double size = std::max({std::abs(a.numbers[i]), std::abs(b.numbers[i]), b.scales[i]});
    if (std::abs(a.numbers[i] - b.numbers[i]) > kSame * size) return false;
  }
  return true;
}

}  // namespace

bool same_state(const PassState& a, const PassState& b) {
  return a.outer == b.outer && a.to_pass_end == b.to_pass_end && a.table == b.table &&
         std::equal(a.rails.begin(), a.rails.end(), b.rails.begin(), b.rails.end(), same_rail);
}

}  // namespace rampart
