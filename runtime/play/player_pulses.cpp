#include "runtime/play/player.h"

#include <algorithm>

#include "runtime/play/load_clock.h"

namespace rampart {
namespace {

// Time without rows that is worth looking for alike periods of the loads' pulses.
constexpr double kFewestPeriods = 3;

}  // namespace

void Player::follow_pulses(const Instant& target) {
  if (period_ && clocks() != clocks_) read_clocks();
  const auto runs = [](const auto& rail) { return rail->clock_runs(); };
  if (!period_ || std::none_of(rails_.begin(), rails_.end(), runs)) {
    pulse_check_.reset();
    return;
  }
  if (pulse_check_ && pulse_check_->since(now_) > kShortestStep) return;
  const bool was_due = pulse_check_.has_value();
  pulse_check_.reset();
  const auto rests = [&](const auto& rail) { return rail->rests(now_); };
  const double periods = target.since(now_) / (1e-9 * static_cast<double>(period_->count()));
  if (periods < kFewestPeriods || !std::all_of(rails_.begin(), rails_.end(), rests)) return;
  if (!was_due) {
    // Away from the edges of pulses, which may well come with the rows.
    pulse_check_ = now_.plus(Nanoseconds{period_->count() / 8 * 3 + 1});
    return;
  }
  for (const auto& rail : rails_) rail->settle_pending(now_);
  if (recorder_ != nullptr) recorder_->split();
  PassState state = state_of(rails_, rules_, now_);
  if (pulses_since_ && same_state(pulses_since_->state, state)) add_periods(target, state);
  pulses_since_ = Pulsing{state_of(rails_, rules_, now_), events_.count()};
  pulse_check_ = now_.plus(*period_);
}

std::int64_t Player::clocks() const {
  return std::count_if(rails_.begin(), rails_.end(), [](const auto& rail) { return rail->has_clock(); });
}

void Player::read_clocks() {
  period_ = common_period(rails_);
  pass_states_.clear();
  clocks_ = clocks();
}

void Player::add_periods(const Instant& target, const PassState& state) {
  const double length = 1e-9 * static_cast<double>(period_->count());
  const auto most = static_cast<std::int64_t>(target.since(now_) / length) - 1;
  if (most <= 0) return;
  const std::int64_t times = times_to_add(most, pulses_since_->state, state);
  if (times == 0) return;
  if (recorder_ != nullptr) recorder_->repeat(pulses_since_->state.time, now_, times);
  events_.leave_out(times * (events_.count() - pulses_since_->events));
  now_ = now_.plus(repeat(rails_, rules_, pulses_since_->state, state, times));
}

}  // namespace rampart
