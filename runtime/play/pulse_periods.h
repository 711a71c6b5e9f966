#pragma once

#include <cstdint>
#include <optional>

#include "runtime/play/pass_state.h"

namespace rampart {

// Adds whole periods of the loads' pulses. Between two rows pulses go on by themselves: once the run stands as it did a
// period ago, the periods up to the next row are added.
class PulsePeriods {
 public:
  explicit PulsePeriods(const Rails& rails) { read(rails); }
  PulsePeriods() = default;

  // After which the pulses of all loads together do the same again.
  [[nodiscard]] std::optional<Nanoseconds> period() const { return period_; }
  // Loads that were followed are so no more, or their pulses are others.
  [[nodiscard]] bool have_changed(const Rails& rails) const;
  void read(const Rails& rails);

  // The run goes on towards the next row.
  void begin_way();
  // Looks at the present instant, and adds periods if there are some to add before `target`.
  void follow(const FoldSite& site, const Instant& target);
  // It is time to look, for which all rails have to stand.
  [[nodiscard]] bool is_due(const Instant& now) const { return check_ && check_->since(now) <= kShortestStep; }
  // When to look next.
  [[nodiscard]] const std::optional<Instant>& next_check() const { return check_; }

 private:
  // The state at the beginning of the period that is being gone through.
  struct Start {
    PassState state;
    std::int64_t events = 0;
  };
  void add(const FoldSite& site, const Instant& target, const PassState& state) const;

  std::optional<Nanoseconds> period_;
  std::int64_t clocks_ = 0;  // rails whose loads go on by time alone, as far as followed
  std::optional<Start> start_;
  std::optional<Instant> check_;
};

}  // namespace rampart
