#include "compiler/rules/setpoint_lag.h"

#include <algorithm>

#include "compiler/table/staircase.h"
#include "lang/values/fitting.h"

namespace rampart::rules {
namespace {

// A part of the way from one value to another.
Rational share_of(const Rational& from, const Rational& to, std::int64_t part, std::int64_t whole) {
  const double near = (to.to_double() - from.to_double()) * (static_cast<double>(part) / static_cast<double>(whole));
  return fitting((to - from) * Rational::fraction(part, whole), near);
}

}  // namespace

void SetpointLag::begin(const std::vector<const Move*>& moves, Nanoseconds now) {
  find_instants(moves, now, state_, instants_);
  next_ = 0;
}

void SetpointLag::pass_until(Nanoseconds now, bool starts_segment) {
  while (next_ < instants_.size() && instants_[next_].time <= now) {
    const RailInstant& instant = instants_[next_++];
    const RailInstant* next = next_ < instants_.size() ? &instants_[next_] : nullptr;
    if (output_.grid().interpolation == Interpolation::Hold) {
      way_ = way_of_stairs(instant, next);
    } else {
      way_ = starts_segment ? std::nullopt : way_of_jump(instant, next);
    }
  }
}

// Until the end of the first stair the rail stands where it was.
std::optional<SetpointLag::Way> SetpointLag::way_of_stairs(const RailInstant& instant, const RailInstant* next) const {
  if (next == nullptr) return std::nullopt;
  const Rational& first = instant.after.voltage;
  const Rational& last = next->voltage_before;
  if (first == last || first.overflowed() || last.overflowed()) return std::nullopt;
  const std::int64_t stairs = std::max<std::int64_t>(stair_count(output_, instant, *next), 1);
  const Nanoseconds stair = std::max((next->time - instant.time) / stairs, Nanoseconds{1});
  return Way{instant.time, instant.time + stair, 0, share_of(first, last, 1, stairs)};
}

// Several jumps at one instant are one.
std::optional<SetpointLag::Way> SetpointLag::way_of_jump(const RailInstant& instant, const RailInstant* next) const {
  Rational height = instant.after.voltage - instant.voltage_before;
  if (way_ && way_->start == instant.time) height = height + way_->from;
  if (height.overflowed() || height.sign() == 0) return std::nullopt;
  Nanoseconds length = output_.grid().minimum_step;
  if (next != nullptr) length = std::min(length, next->time - instant.time);
  return Way{instant.time, instant.time + length, height, 0};
}

Rational SetpointLag::at(Nanoseconds time) const {
  if (!way_) return 0;
  if (time >= way_->end) return way_->to;
  const Rational way = share_of(way_->from, way_->to, (time - way_->start).count(), (way_->end - way_->start).count());
  return fitting(way_->from + way, way_->from.to_double() + way.to_double());
}

std::optional<Nanoseconds> SetpointLag::next_turn(Nanoseconds now) const {
  if (!way_ || way_->end <= now) return std::nullopt;
  return way_->end;
}

void SetpointLag::put_off(Nanoseconds by) {
  if (!way_) return;
  way_->start += by;
  way_->end += by;
}

SetpointLag::State SetpointLag::state(Nanoseconds now) const {
  return {now, at(now), next_turn(now) ? way_ : std::nullopt};
}

bool operator==(const SetpointLag::State& before, const SetpointLag::State& after) {
  if (before.way.has_value() != after.way.has_value()) return false;
  if (!before.way) return before.lag == after.lag;
  if (after.goes_on_from(before)) return true;
  SetpointLag::Way moved = *before.way;
  moved.start += after.now - before.now;
  moved.end += after.now - before.now;
  return moved == *after.way;
}

std::int64_t passes_before_turn(const SetpointLag::State& before, const SetpointLag::State& after, std::int64_t most) {
  const Nanoseconds pass = after.now - before.now;
  if (!after.goes_on_from(before) || pass.count() <= 0) return most;
  return std::min(most, (after.way->end - after.now - Nanoseconds{1}) / pass);
}

}  // namespace rampart::rules
