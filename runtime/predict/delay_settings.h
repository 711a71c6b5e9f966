#pragma once

#include <cmath>
#include <optional>

#include "compiler/bench/bench.h"

namespace rampart {

// The delays that a protection of a channel can be set to, in s.
struct DelaySettings {
  double low = 0;
  double high = HUGE_VAL;
  std::optional<double> step;  // none: any delay, told with four digits and no finer than 1 us

  // The shortest that is `time` or longer; none where the channel has no delay that long.
  [[nodiscard]] std::optional<double> at_least(double time) const;
  // The longest that is `time` or shorter, and that is shorter; 0 where none is that short.
  [[nodiscard]] double at_most(double time) const;
  [[nodiscard]] double below(double time) const;

 private:
  [[nodiscard]] double step_at(double time) const;
};

// Any delay where the bench gives none.
[[nodiscard]] DelaySettings delay_settings(const std::optional<Placed<SteppedRange<Seconds>>>& given);

}  // namespace rampart
