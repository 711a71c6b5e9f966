#include "compiler/bench/switch_delay.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

// Instants that differ by less, s, are one.
constexpr double kSameInstant = 1e-15;
// Closings whose distances differ by less, s, are equally far off.
constexpr double kSameDistance = 1e-12;

}  // namespace

Nanoseconds time_in(const Range<Nanoseconds>& range, double position) {
  if (position >= 1) return range.high;
  const Nanoseconds width = range.high - range.low;
  if (position == 0) return range.low + width / 2;
  const double share = (std::max(position, -1.0) + 1) / 2;
  return range.low + Nanoseconds{std::llround(share * static_cast<double>(width.count()))};
}

Nanoseconds switch_delay(const Bench& bench, std::span<const ChannelId> members, const SwitchPositions& positions) {
  Nanoseconds longest{0};
  for (const ChannelId member : members) {
    const auto supply = static_cast<std::size_t>(bench[member].supply);
    longest = std::max(longest, time_in(bench.supplies[supply].timing.on_delay, positions[supply]));
  }
  return longest;
}

bool ContactState::waits_on(const ContactState& before) const {
  return due && before.due && due->since(*before.due) == 0;
}

bool operator==(const ContactState& before, const ContactState& after) {
  if (!before.due || !after.due) return before.due.has_value() == after.due.has_value();
  if (after.waits_on(before)) return true;
  return std::abs(before.due->since(before.now) - after.due->since(after.now)) <= kSameDistance;
}

std::int64_t passes_before_closing(const ContactState& before, const ContactState& after, std::int64_t most) {
  const double length = after.now.since(before.now);
  if (!after.waits_on(before) || length <= 0) return most;
  const double whole = std::floor(after.due->since(after.now) / length) - 1;
  return std::clamp(static_cast<std::int64_t>(std::min(whole, 1e18)), std::int64_t{0}, most);
}

void OutputSwitch::tell(bool on, const Instant& now) {
  if (on == told_on_) return;
  told_on_ = on;
  due_.reset();
  if (on && delay_.count() > 0) due_ = now.plus(delay_);
}

bool OutputSwitch::close_if_due(const Instant& now) {
  if (!due_ || due_->since(now) > kSameInstant) return false;
  due_.reset();
  return true;
}

void OutputSwitch::put_off(const Instant& by) {
  if (due_) due_ = due_->plus(by);
}

}  // namespace rampart
