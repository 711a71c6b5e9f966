#include "runtime/as_run/excursions.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace rampart::as_run {
namespace {

constexpr std::size_t kEarly = 32;
// Factors between units, as a wrong one gives them.
constexpr std::array<double, 4> kFactors{1e-3, 1e3, 1e-6, 1e6};
// A reading below this share of what was predicted is nothing.
constexpr double kNothing = 0.02;
// Most readings of a stretch have to agree on what it is.
constexpr double kMost = 0.9;
// Readings in a row that an excursion does not explain end it.
constexpr std::int64_t kContradictions = 2;

bool is_within(double value, const Band& band) {
  return value >= band.low && value <= band.high;
}

double half_width(const Band& band) {
  return (band.high - band.low) / 2;
}

}  // namespace

ExcursionTrack::ExcursionTrack(RailId rail, Measured quantity, double interval, double farthest, Surroundings& around)
    : rail_(rail), quantity_(quantity), interval_(interval), farthest_(farthest), around_(&around) {}

void ExcursionTrack::take(const Judged& reading) {
  if (reading.is_outside()) {
    add(reading);
    return;
  }
  if (open_.count == 1) ++single_;
  if (open_.count > 1) close();
  open_ = Stretch{};
  check_last(reading);
}

void ExcursionTrack::finish() {
  if (open_.count == 1) ++single_;
  if (open_.count > 1) close();
  open_ = Stretch{};
}

void ExcursionTrack::add(const Judged& reading) {
  Stretch& open = open_;
  const double width = std::max(half_width(reading.band), 1e-12);
  const double beyond = std::max(reading.band.low - reading.measured, reading.measured - reading.band.high);
  if (open.count == 0) {
    open.first = reading;
    open.measured = {reading.measured, reading.measured};
    open.predicted = {reading.predicted, reading.predicted};
    if (reading.amps) open.amps = {*reading.amps, *reading.amps};
  }
  open.last = reading;
  if (open.count == 0 || beyond / width > open.worst_share) {
    open.worst = reading;
    open.worst_share = beyond / width;
  }
  ++open.count;
  const double d = reading.measured - reading.predicted;
  open.d += d;
  open.dd += d * d;
  open.p += reading.predicted;
  open.pp += reading.predicted * reading.predicted;
  open.pd += reading.predicted * d;
  open.error += reading.error;
  open.width += width;
  open.measured.include(reading.measured);
  open.predicted.include(reading.predicted);
  if (std::abs(reading.measured) <= std::max(reading.error, kNothing * std::abs(reading.predicted))) ++open.zero;
  if (is_within(-reading.measured, reading.band)) ++open.turned;
  for (std::size_t i = 0; i < kFactors.size(); ++i) {
    if (is_within(reading.measured / kFactors[i], reading.band)) ++open.scaled[i];
  }
  if (const std::optional<std::size_t> other = around_->rail_like(quantity_, reading)) {
    if (open.other && *open.other != *other) open.like = 0;
    open.other = other;
    ++open.like;
  }
  if (reading.amps) {
    ++open.with_amps;
    open.amps_off += *reading.amps - reading.predicted_amps;
    open.limit += reading.limit;
    open.amps.include(*reading.amps);
    open.amps_error += reading.amps_error;
  }
  open.limited = open.limited || reading.limited;
  if (open.early.size() < kEarly) {
    open.early.push_back(reading);
    if (open.early.size() == kEarly) look_for_lateness();
  } else if (open.late) {
    const double late = (open.late->low + open.late->high) / 2;
    if (!is_within(reading.measured, around_->band_if_late(quantity_, reading, late))) open.late.reset();
  }
}

bool ExcursionTrack::fits_late(double late) {
  return std::all_of(open_.early.begin(), open_.early.end(), [&](const Judged& reading) {
    return is_within(reading.measured, around_->band_if_late(quantity_, reading, late));
  });
}

// Only where the rail is moving: a constant is not late.
void ExcursionTrack::look_for_lateness() {
  open_.late_known = true;
  Band predicted{open_.early.front().predicted, open_.early.front().predicted};
  for (const Judged& reading : open_.early) predicted.include(reading.predicted);
  const double error = open_.error / static_cast<double>(open_.count);
  const bool moved = predicted.high - predicted.low > 2 * error || open_.measured.high - open_.measured.low > 2 * error;
  if (!moved) return;
  const double step = std::max(interval_ / 4, farthest_ / 1000);
  for (double size = step; size <= farthest_; size += step) {
    for (const double sign : {1.0, -1.0}) {
      if (!fits_late(sign * size)) continue;
      Band late{sign * size, sign * size};
      for (double more = size + step; more <= farthest_ && fits_late(sign * more); more += step) {
        late.include(sign * more);
      }
      open_.late = late;
      return;
    }
  }
}

std::optional<ExcursionTrack::Explanation> ExcursionTrack::explain_limit() const {
  if (open_.with_amps < open_.count) return std::nullopt;
  const auto count = static_cast<double>(open_.count);
  const double error = open_.amps_error / count;
  const double limit = open_.limit / count;
  const double mean_off = open_.amps_off / count;
  const double amps = (open_.amps.low + open_.amps.high) / 2;
  const bool is_below = quantity_ == Measured::Current || std::abs(open_.d) > 0;
  const bool is_flat = open_.amps.high - open_.amps.low <= 4 * error;
  const bool is_limited = open_.limited || around_->limited_between(open_.first.run_s, open_.last.run_s);
  if (!is_below || !is_flat || limit <= 0) return std::nullopt;
  // Near its limit, and not where the limit is: then it is another limit. Where it is, something else draws too much.
  if (is_limited && std::abs(amps - limit) > error && std::abs(mean_off) > 0) {
    return Explanation{Cause::Limit, amps - limit, 2 * error, {}};
  }
  if (!is_limited && quantity_ == Measured::Voltage && std::abs(open_.measured.high) < std::abs(open_.predicted.high) &&
      amps < limit - error && amps > 0.8 * limit) {
    return Explanation{Cause::Limit, amps - limit, 2 * error, {}};
  }
  return std::nullopt;
}

// An offset or a gain, whichever leaves less.
std::optional<ExcursionTrack::Explanation> ExcursionTrack::explain_line() const {
  const auto count = static_cast<double>(open_.count);
  const double offset = open_.d / count;
  const double offset_left = std::sqrt(std::max(0.0, open_.dd / count - offset * offset));
  const double width = open_.width / count;
  const double moved = open_.predicted.high - open_.predicted.low;
  double gain = 0;
  double gain_left = std::numeric_limits<double>::infinity();
  if (open_.pp > 0) {
    gain = open_.pd / open_.pp;
    gain_left = std::sqrt(std::max(0.0, (open_.dd - gain * open_.pd) / count));
  }
  const double most = std::max(std::abs(open_.predicted.low), std::abs(open_.predicted.high));
  const bool can_tell = moved > 0.2 * most;
  const Cause scaled = quantity_ == Measured::Current ? Cause::OtherLoad : Cause::Gain;
  const bool by_gain = can_tell ? gain_left < offset_left : quantity_ == Measured::Current;
  if (std::min(offset_left, gain_left) > width) return std::nullopt;
  if (by_gain) return Explanation{scaled, gain, width / std::max(most, 1e-12), {}};
  return Explanation{Cause::Offset, offset, width, {}};
}

ExcursionTrack::Explanation ExcursionTrack::explain() {
  const double most = kMost * static_cast<double>(open_.count);
  const auto agree = [most](std::int64_t count) { return static_cast<double>(count) >= most; };
  if (agree(open_.zero) && std::abs(open_.worst.predicted) > open_.worst.error) return {Cause::OutputOff, {}, 0, {}};
  if (open_.late) {
    const double late = (open_.late->low + open_.late->high) / 2;
    const double room = half_width(*open_.late) + interval_ / 2;
    return {late > 0 ? Cause::Late : Cause::Early, std::abs(late), room, {}};
  }
  if (agree(open_.turned)) return {Cause::Sign, {}, 0, {}};
  for (std::size_t i = 0; i < kFactors.size(); ++i) {
    if (agree(open_.scaled[i])) return {Cause::Format, kFactors[i], 0, {}};
  }
  if (open_.other && agree(open_.like)) return {Cause::Swapped, {}, 0, std::to_string(*open_.other)};
  if (const auto limit = explain_limit()) return *limit;
  if (open_.count > 8 && open_.measured.high == open_.measured.low &&
      open_.predicted.high - open_.predicted.low > 2 * open_.error / static_cast<double>(open_.count)) {
    return {Cause::Stuck, {}, 0, {}};
  }
  if (const auto line = explain_line()) return *line;
  const bool is_lower = std::abs(open_.p + open_.d) < std::abs(open_.p);
  if (quantity_ == Measured::Voltage && is_lower) {
    return {Cause::Sag, std::abs(open_.worst.measured - open_.worst.predicted), 0, {}};
  }
  return {};
}

bool ExcursionTrack::merges(const Explanation& explanation) const {
  if (last_is_over_ || excursions_.empty() || explanation.cause != last_.cause || explanation.other != last_.other) {
    return false;
  }
  if (!explanation.amount || !last_.amount || explanation.cause == Cause::Sag) return true;
  return std::abs(*explanation.amount - *last_.amount) <= explanation.room + last_.room;
}

Place ExcursionTrack::place_of_reading(const Judged& reading) const {
  return {reading.run_s, reading.log_s, around_->statement_at(reading.run_s)};
}

void ExcursionTrack::close() {
  if (!open_.late_known) look_for_lateness();
  const Explanation explanation = explain();
  if (merges(explanation)) {
    Excursion& last = excursions_.back();
    last.to = place_of_reading(open_.last);
    last.readings += open_.count;
    ++last.stretches;
    contradicted_ = 0;
    return;
  }
  last_ = explanation;
  last_is_over_ = false;
  contradicted_ = 0;
  if (excursions_.size() >= kMostExcursions) {
    ++left_out_;
    last_is_over_ = true;
    return;
  }
  Excursion excursion;
  excursion.rail = rail_;
  excursion.quantity = quantity_;
  excursion.from = place_of_reading(open_.first);
  excursion.to = place_of_reading(open_.last);
  excursion.readings = open_.count;
  excursion.worst = place_of_reading(open_.worst);
  excursion.measured = open_.worst.measured;
  excursion.predicted = open_.worst.predicted;
  excursion.expected = open_.worst.band;
  excursion.cause = explanation.cause;
  excursion.amount = explanation.amount;
  excursion.other = explanation.other;
  excursions_.push_back(std::move(excursion));
}

// A reading that is where it should be may still be one that the last excursion would explain as well.
void ExcursionTrack::check_last(const Judged& reading) {
  if (last_is_over_) return;
  bool explains = false;
  switch (last_.cause) {
    case Cause::Offset:
      explains = is_within(reading.measured - *last_.amount, reading.band);
      break;
    case Cause::Gain:
    case Cause::OtherLoad:
      explains = is_within(reading.measured / (1 + *last_.amount), reading.band);
      break;
    case Cause::Late:
      explains = is_within(reading.measured, around_->band_if_late(quantity_, reading, *last_.amount));
      break;
    case Cause::Early:
      explains = is_within(reading.measured, around_->band_if_late(quantity_, reading, -*last_.amount));
      break;
    case Cause::OutputOff:
    case Cause::Stuck:
    case Cause::Tripped:
      explains = std::abs(reading.measured) <= std::max(reading.error, kNothing * std::abs(reading.predicted));
      break;
    case Cause::Sign:
      explains = is_within(-reading.measured, reading.band);
      break;
    case Cause::Format:
      explains = is_within(reading.measured / *last_.amount, reading.band);
      break;
    case Cause::Swapped:
      explains = around_->rail_like(quantity_, reading).has_value();
      break;
    case Cause::Limit:
    case Cause::Sag:
    case Cause::Unknown:
      // Nothing is known of where else it would show.
      explains = contradicted_ < 10;
      ++contradicted_;
      break;
  }
  if (explains) {
    if (last_.cause != Cause::Limit && last_.cause != Cause::Sag && last_.cause != Cause::Unknown) contradicted_ = 0;
    return;
  }
  if (++contradicted_ >= kContradictions) last_is_over_ = true;
}

}  // namespace rampart::as_run
