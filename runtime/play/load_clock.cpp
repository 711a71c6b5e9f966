#include "runtime/play/load_clock.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace rampart {
namespace {

// s. What takes longer to repeat is not worth looking for.
constexpr std::int64_t kLongestPeriod = 1'000'000;
constexpr double kSameCount = 1e-6;  // ns

std::optional<std::int64_t> whole_nanoseconds(double seconds) {
  const double count = seconds * 1e9;
  if (count < 1 || seconds > static_cast<double>(kLongestPeriod)) return std::nullopt;
  const double whole = std::round(count);
  if (std::abs(count - whole) > kSameCount + 1e-15 * count) return std::nullopt;
  return static_cast<std::int64_t>(whole);
}

}  // namespace

std::optional<Nanoseconds> common_period(const std::vector<std::unique_ptr<RailRun>>& rails) {
  constexpr std::int64_t kLongest = kLongestPeriod * 1'000'000'000;
  std::int64_t common = 0;
  for (const auto& rail : rails) {
    if (!rail->has_clock()) continue;
    for (const double period : rail->circuit().periods()) {
      const std::optional<std::int64_t> own = whole_nanoseconds(period);
      if (!own) return std::nullopt;
      const std::int64_t times = common == 0 ? 1 : *own / std::gcd(common, *own);
      const std::int64_t so_far = common == 0 ? *own : common;
      if (so_far > kLongest / times) return std::nullopt;
      common = so_far * times;
    }
  }
  if (common == 0) return std::nullopt;
  return Nanoseconds{common};
}

std::int64_t phase_units(std::optional<Nanoseconds> period, const Instant& length) {
  if (!period || length.rest != 0 || length.whole.count() <= 0) return 1;
  const std::int64_t units = period->count() / std::gcd(period->count(), length.whole.count());
  return units <= kMaxPhaseUnits ? units : 1;
}

std::int64_t unlike_passes(const PassEnded& pass, std::optional<Nanoseconds> period) {
  if (!period || pass.length.count() <= 0) return std::min(pass.remaining, pass.unit - 1);
  const std::int64_t units = period->count() / std::gcd(period->count(), pass.length.count());
  if (units > kMaxPhaseUnits) return pass.remaining;
  return std::min(pass.remaining, std::max(units, pass.unit) - 1);
}

}  // namespace rampart
