#pragma once

#include <optional>
#include <vector>

#include "lang/values/instant.h"
#include "runtime/rail/protection.h"

namespace rampart {

// How long an output has been at its current limit without a break, and the longest time that it was.
class LimitedSpell {
 public:
  void begin(const Instant& now) { since_ = now; }
  void end(const Instant& now, const Doing& doing);
  // The run is over: what goes on has lasted until now.
  void note(const Instant& now, const Doing& doing);
  [[nodiscard]] bool lasts() const { return since_.has_value(); }
  // How long it has lasted, s; 0 while there is none.
  [[nodiscard]] double held(const Instant& now) const { return since_ ? now.since(*since_) : 0; }
  [[nodiscard]] const Peak& longest() const { return longest_; }

  // Passes were added: what has begun since `pass_began` began later. A spell older than the pass fills it, and goes on
  // through all that were added.
  void shift(const Instant& by, const Instant& pass_began);
  // Goes on as another would, `by` later. What began before the other's last pass did, and the longest, is its own.
  void continue_as(const LimitedSpell& other, const Instant& by, const Instant& pass_began);
  // How long ago it began, s; less than 0 if before the pass.
  void add_ages(const Instant& now, const Instant& pass_began, std::vector<double>& ages) const;

 private:
  std::optional<Instant> since_;
  Peak longest_;
};

}  // namespace rampart
