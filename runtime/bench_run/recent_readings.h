#pragma once

#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/mailbox.h"
#include "runtime/bench_run/plan.h"

namespace rampart::bench_run {

// The last readings of each channel, put together to quantities of rails.
class RecentReadings {
 public:
  // The plan has to live as long.
  explicit RecentReadings(const Plan& plan) : plan_(plan), readings_(plan.channels.size()) {}

  void take(const Reading& reading);
  void clear();
  // The mean of each rail over the readings that began at `since` or later, in words: " logic 3.3 V 275 mA".
  [[nodiscard]] std::string means(Clock::time_point since) const;
  // Whether a condition holds by the last readings (`back` 0) or by those before (1), if they began at `since` or
  // later.
  [[nodiscard]] std::optional<bool> holds(const ConditionWait& condition, std::size_t back,
                                          Clock::time_point since) const;

 private:
  // The readings of one channel that a measurement may take.
  static constexpr std::size_t kMost = 100'000;

  [[nodiscard]] std::optional<double> measured(const ConditionTerm& term, std::size_t back,
                                               Clock::time_point since) const;

  const Plan& plan_;
  std::vector<std::deque<Reading>> readings_;  // by channel, the last one at the back
};

}  // namespace rampart::bench_run
