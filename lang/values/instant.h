#pragma once

#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "lang/values/quantity.h"

namespace rampart {

// A time in a run: whole nanoseconds, at which rows happen, and what lies between them. Two instants that rows are
// counted from differ exactly, however long the run is.
struct Instant {
  Nanoseconds whole{0};
  double rest = 0;  // s

  // Seconds from `earlier` to here.
  [[nodiscard]] double since(const Instant& earlier) const {
    return static_cast<double>((whole - earlier.whole).count()) / 1e9 + (rest - earlier.rest);
  }
  [[nodiscard]] double seconds() const { return static_cast<double>(whole.count()) / 1e9 + rest; }
  [[nodiscard]] Instant plus(Nanoseconds time) const { return {whole + time, rest}; }
  // A stretch of time is counted like an instant.
  [[nodiscard]] Instant plus(const Instant& time) const { return {whole + time.whole, rest + time.rest}; }
  // The rest stays below a nanosecond: one that grew would round what is counted from here to 1e-13 s and worse.
  [[nodiscard]] Instant plus_seconds(double time) const {
    const double sum = rest + time;
    if (!(std::abs(sum) < 1e6)) return {whole, sum};
    const double nanoseconds = std::nearbyint(sum * 1e9);
    return {whole + Nanoseconds{static_cast<std::int64_t>(nanoseconds)}, sum - nanoseconds / 1e9};
  }
};

// Passes of the loops around an instant, outermost first; empty outside of loops.
using Passes = std::vector<std::int64_t>;

// " in pass 3".
[[nodiscard]] std::string in_pass(std::int64_t pass);
// The same of the innermost loop; empty outside of loops.
[[nodiscard]] std::string in_pass(const Passes& passes);

}  // namespace rampart
