#include "runtime/as_run/excursions.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

namespace rampart::as_run {
namespace {

constexpr std::size_t kEarly = 32;
// So many shifts are tried for one quantity of a rail, in readings; after that only the shift of the last excursion.
constexpr std::int64_t kMostTries = 2000;
// Readings before a stretch that are kept.
constexpr std::size_t kBefore = 64;
// Factors between units, as a wrong one gives them.
constexpr std::array<double, 4> kFactors{1e-3, 1e3, 1e-6, 1e6};
// A reading below this share of what was predicted is nothing.
constexpr double kNothing = 0.02;
// Most readings of a stretch have to agree on what it is.
constexpr double kMost = 0.9;
// Readings between these shares of a level tell an offset from a gain; below, an output that is at nothing tells
// neither.
constexpr double kLowLevel = 0.05;
constexpr double kHighLevel = 0.8;
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

void ExcursionTrack::Sums::add(const Judged& reading) {
  const double off = reading.measured - reading.predicted;
  if (count == 0) predicted = {reading.predicted, reading.predicted};
  predicted.include(reading.predicted);
  count += 1;
  d += off;
  dd += off * off;
  p += reading.predicted;
  pp += reading.predicted * reading.predicted;
  pd += reading.predicted * off;
  error += reading.error;
  width += half_width(reading.band);
}

void ExcursionTrack::Sums::add(const Sums& other) {
  predicted.include(other.predicted);
  count += other.count;
  d += other.d;
  dd += other.dd;
  p += other.p;
  pp += other.pp;
  pd += other.pd;
  error += other.error;
  width += other.width;
}

void ExcursionTrack::take(const Judged& reading) {
  if (reading.is_outside()) {
    add(reading);
    return;
  }
  if (open_.count == 1) ++single_;
  if (open_.count > 1) close(&reading);
  open_ = Stretch{};
  before_.push_back(reading);
  if (before_.size() > kBefore) before_.pop_front();
  check_last(reading);
}

void ExcursionTrack::finish() {
  if (open_.count == 1) ++single_;
  if (open_.count > 1) close(nullptr);
  open_ = Stretch{};
}

void ExcursionTrack::add(const Judged& reading) {
  Stretch& open = open_;
  const double width = std::max(half_width(reading.band), 1e-12);
  const double beyond = std::max(reading.band.low - reading.measured, reading.measured - reading.band.high);
  if (open.count == 0) {
    open.first = reading;
    open.measured = {reading.measured, reading.measured};
    if (reading.amps) open.amps = {*reading.amps, *reading.amps};
  }
  open.last = reading;
  if (open.count == 0 || beyond / width > open.worst_share) {
    open.worst = reading;
    open.worst_share = beyond / width;
  }
  ++open.count;
  open.sums.add(reading);
  open.measured.include(reading.measured);
  if (std::abs(reading.measured) <= std::max(reading.error, kNothing * std::abs(reading.predicted))) ++open.zero;
  // Where nothing is expected, any small reading would be another one turned round or divided.
  if (!is_within(0, reading.band)) {
    if (is_within(-reading.measured, reading.band)) ++open.turned;
    for (std::size_t i = 0; i < kFactors.size(); ++i) {
      if (is_within(reading.measured / kFactors[i], reading.band)) ++open.scaled[i];
    }
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
  ++tries_;
  return std::all_of(open_.early.begin(), open_.early.end(), [&](const Judged& reading) {
    return is_within(reading.measured, around_->band_if_late(quantity_, reading, late));
  });
}

// Only where the rail is moving: a constant is not late.
void ExcursionTrack::look_for_lateness() {
  open_.late_known = true;
  Band predicted{open_.early.front().predicted, open_.early.front().predicted};
  for (const Judged& reading : open_.early) predicted.include(reading.predicted);
  const double error = open_.sums.error / open_.sums.count;
  const bool moved = predicted.high - predicted.low > 2 * error || open_.measured.high - open_.measured.low > 2 * error;
  if (!moved) return;
  const bool was_late = last_.cause == Cause::Late || last_.cause == Cause::Early;
  if (was_late && last_.amount && take_lateness(last_.cause == Cause::Late ? *last_.amount : -*last_.amount)) return;
  const double step = lateness_step();
  for (double size = step; size <= farthest_ && tries_ < kMostTries; size += step) {
    if (take_lateness(size) || take_lateness(-size)) return;
  }
}

double ExcursionTrack::lateness_step() const {
  return std::max(interval_ / 4, farthest_ / 1000);
}

// With what lies beside it and fits as well; false where this does not.
bool ExcursionTrack::take_lateness(double late) {
  if (!fits_late(late)) return false;
  const double step = late > 0 ? lateness_step() : -lateness_step();
  Band all{late, late};
  for (double more = late + step; std::abs(more) <= farthest_ && fits_late(more); more += step) all.include(more);
  for (double less = late - step; less * step > 0 && fits_late(less); less -= step) all.include(less);
  open_.late = all;
  return true;
}

// A rail that rests at its old level would fit any greater lateness: the reading at which it is where it should be
// again tells which.
void ExcursionTrack::narrow_lateness(const Judged& after) {
  std::optional<Band> narrowed;
  const double step = lateness_step();
  const bool is_late = open_.late->low > 0;
  const double least = is_late ? open_.late->low : -open_.late->high;
  const double most = is_late ? open_.late->high : -open_.late->low;
  for (double size = least; size <= most + step / 2; size += step) {
    const double late = is_late ? size : -size;
    if (!is_within(after.measured, around_->band_if_late(quantity_, after, late))) break;
    if (narrowed) {
      narrowed->include(late);
    } else {
      narrowed = Band{late, late};
    }
  }
  if (narrowed) open_.late = narrowed;
}

std::optional<ExcursionTrack::Explanation> ExcursionTrack::explain_limit() const {
  if (open_.with_amps < open_.count) return std::nullopt;
  const auto count = static_cast<double>(open_.count);
  const double error = open_.amps_error / count;
  const double limit = open_.limit / count;
  const double mean_off = open_.amps_off / count;
  const double amps = (open_.amps.low + open_.amps.high) / 2;
  const bool is_flat = open_.amps.high - open_.amps.low <= 4 * error;
  const bool is_limited = open_.limited || around_->limited_between(open_.first.run_s, open_.last.run_s);
  if (!is_flat || limit <= 0) return std::nullopt;
  // Near its limit, and not where the limit is: then it is another limit. Where it is, something else draws too much.
  if (is_limited && std::abs(amps - limit) > error && std::abs(mean_off) > error) {
    return Explanation{Cause::Limit, amps - limit, 2 * error, {}};
  }
  if (!is_limited && quantity_ == Measured::Voltage && std::abs(open_.sums.p + open_.sums.d) < std::abs(open_.sums.p) &&
      amps < limit - error && amps > 0.8 * limit) {
    return Explanation{Cause::Limit, amps - limit, 2 * error, {}};
  }
  return std::nullopt;
}

// An offset or a gain, whichever leaves less.
std::optional<ExcursionTrack::Explanation> ExcursionTrack::explain_line(const Sums& sums) const {
  const double offset = sums.d / sums.count;
  const double offset_left = std::sqrt(std::max(0.0, sums.dd / sums.count - offset * offset));
  const double width = sums.width / sums.count;
  double gain = 0;
  double gain_left = std::numeric_limits<double>::infinity();
  if (sums.pp > 0) {
    gain = sums.pd / sums.pp;
    gain_left = std::sqrt(std::max(0.0, (sums.dd - gain * sums.pd) / sums.count));
  }
  const double most = std::max(std::abs(sums.predicted.low), std::abs(sums.predicted.high));
  // Of nothing there is no share, and none is below all of it.
  if (most <= width || gain < -1) gain_left = std::numeric_limits<double>::infinity();
  if (std::min(offset_left, gain_left) > width) return std::nullopt;
  if (std::isinf(gain_left)) return Explanation{Cause::Offset, offset, width, {}};
  const bool can_tell = sums.predicted.high - sums.predicted.low > 0.2 * most;
  const bool by_gain =
      can_tell ? gain_left < offset_left : quantity_ == Measured::Current || is_gain_before(offset, gain, most);
  if (!by_gain) return Explanation{Cause::Offset, offset, width, {}};
  const Cause cause = quantity_ == Measured::Current ? Cause::OtherLoad : Cause::Gain;
  return Explanation{cause, gain, width / std::max(most, 1e-12), {}};
}

bool ExcursionTrack::is_gain_before(double offset, double gain, double level) const {
  double by_offset = 0;
  double by_gain = 0;
  for (const Judged& reading : before_) {
    const double size = std::abs(reading.predicted);
    if (size < kLowLevel * level || size > kHighLevel * level) continue;
    const double off = reading.measured - reading.predicted;
    by_offset += (off - offset) * (off - offset);
    by_gain += (off - gain * reading.predicted) * (off - gain * reading.predicted);
  }
  return by_gain < by_offset;
}

std::optional<ExcursionTrack::Explanation> ExcursionTrack::joined(const Explanation& explanation) const {
  const auto is_line = [](Cause cause) {
    return cause == Cause::Offset || cause == Cause::Gain || cause == Cause::OtherLoad;
  };
  if (last_is_over_ || excursions_.empty() || !is_line(explanation.cause) || !is_line(last_.cause)) return std::nullopt;
  Sums both = last_sums_;
  both.add(open_.sums);
  return explain_line(both);
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
      open_.sums.predicted.high - open_.sums.predicted.low > 2 * open_.sums.error / open_.sums.count) {
    return {Cause::Stuck, {}, 0, {}};
  }
  if (const auto line = explain_line(open_.sums)) return *line;
  const bool is_lower = std::abs(open_.sums.p + open_.sums.d) < std::abs(open_.sums.p);
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

void ExcursionTrack::note_worst(Excursion& excursion) {
  last_worst_share_ = open_.worst_share;
  excursion.worst = place_of_reading(open_.worst);
  excursion.measured = open_.worst.measured;
  excursion.predicted = open_.worst.predicted;
  excursion.expected = open_.worst.band;
}

// `after`: the reading that ends the stretch; null at the end of the log.
void ExcursionTrack::close(const Judged* after) {
  if (!open_.late_known) look_for_lateness();
  if (open_.late && after != nullptr) narrow_lateness(*after);
  const Explanation explanation = explain();
  const std::optional<Explanation> both = joined(explanation);
  if (both || merges(explanation)) {
    Excursion& last = excursions_.back();
    if (both) {
      last_ = *both;
      last.cause = both->cause;
      last.amount = both->amount;
    }
    last_sums_.add(open_.sums);
    if (open_.worst_share > last_worst_share_) note_worst(last);
    last.to = place_of_reading(open_.last);
    last.readings += open_.count;
    ++last.stretches;
    contradicted_ = 0;
    return;
  }
  last_ = explanation;
  last_sums_ = open_.sums;
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
  note_worst(excursion);
  excursion.cause = explanation.cause;
  excursion.amount = explanation.amount;
  excursion.other = explanation.other;
  excursions_.push_back(std::move(excursion));
}

// A reading that is where it should be may still be one that the last excursion would explain as well.
void ExcursionTrack::check_last(const Judged& reading) {
  if (last_is_over_) return;
  const double level = std::max(std::abs(last_sums_.predicted.low), std::abs(last_sums_.predicted.high));
  if (std::abs(reading.predicted) < kLowLevel * level) return;
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

void drop_consequences(std::vector<Excursion>& excursions, double interval) {
  const auto follows = [interval](const Excursion& one, const Excursion& other) {
    const double room = 4 * interval;
    if (one.rail != other.rail || one.quantity == other.quantity || other.cause == Cause::Tripped) return false;
    if (one.from.run_s > other.to.run_s + room || one.to.run_s < other.from.run_s - room) return false;
    if (one.quantity == Measured::Voltage) return one.cause == Cause::Limit && other.cause == Cause::Limit;
    return other.cause == Cause::Late || other.cause == Cause::Early || other.cause == Cause::OutputOff;
  };
  std::vector<Excursion> kept;
  for (const Excursion& one : excursions) {
    const bool is_consequence =
        std::any_of(excursions.begin(), excursions.end(), [&](const Excursion& other) { return follows(one, other); });
    if (!is_consequence) kept.push_back(one);
  }
  excursions = std::move(kept);
}

void drop_repeats(std::vector<Excursion>& excursions, double interval) {
  std::vector<Excursion> kept;
  for (const Excursion& one : excursions) {
    const bool is_told = std::any_of(kept.begin(), kept.end(), [&](const Excursion& other) {
      const double room = 4 * interval;
      return one.log != other.log && one.rail == other.rail && one.quantity == other.quantity &&
             one.cause == other.cause && one.from.run_s <= other.to.run_s + room &&
             one.to.run_s >= other.from.run_s - room;
    });
    if (!is_told) kept.push_back(one);
  }
  excursions = std::move(kept);
}

}  // namespace rampart::as_run
