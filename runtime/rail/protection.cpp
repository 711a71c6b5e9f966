#include "runtime/rail/protection.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace rampart {
namespace {

using circuit::Circuit;
using circuit::Curve;
using circuit::Mode;
using circuit::ProductCurve;
using circuit::SignalCurve;

// "Strictly above" means by more than rounding.
constexpr double kStrictly = 1e-9;
// Two ways to one instant differ by less.
constexpr double kSameTime = 1e-12;
// What stays below this share of its level for the whole piece does not reach it, whatever its rounding.
constexpr double kFar = 0.9;
constexpr double kNever = std::numeric_limits<double>::infinity();

double same_time(double delay) {
  return kSameTime * (1 + delay);
}

bool in_limit(Mode mode) {
  return mode == Mode::ConstantCurrent || mode == Mode::Clamped;
}

// Is the curve above zero from the start of the piece on? Where the course before has come to a change, a value this
// near to the level does not refute it: the new piece reads the same state with its own rounding, and to ask again
// would bring the same change at the same instant without end.
bool holds_at_start(const Curve& curve, double noise, double level, std::optional<bool> next, bool before) {
  const double value = curve.value(0);
  const double certain = next ? std::max(noise, kStrictly * level) : noise;
  if (value > certain) return true;
  if (value < -certain) return false;
  const double slope = curve.slope(0);
  if (slope > noise) return true;
  return slope < -noise ? false : next.value_or(before);
}

// When the condition changes, as a share of the piece; never if it does not.
double change_of(const Curve& curve, double noise, bool holds) {
  if (!holds) return first_rise(curve, noise).value_or(kNever);
  class Negative final : public Curve {
   public:
    explicit Negative(const Curve& inner) : inner_(inner) {}
    double value(double t) const override { return -inner_.value(t); }
    double slope(double t) const override { return -inner_.slope(t); }
    circuit::Bounds bounds(double from, double to) const override { return turned(inner_.bounds(from, to)); }
    circuit::Bounds slope_bounds(double from, double to) const override {
      return turned(inner_.slope_bounds(from, to));
    }
    double rounding() const override { return inner_.rounding(); }

   private:
    static circuit::Bounds turned(const circuit::Bounds& bounds) { return {-bounds.high, -bounds.low}; }
    const Curve& inner_;
  };
  return first_rise(Negative(curve), noise).value_or(kNever);
}

}  // namespace

void DelayedTrip::update(bool holds, const Instant& now, const Doing& doing) {
  if (holds && !holds_) since_ = now;
  if (!holds && holds_) note(now, doing);
  holds_ = holds;
}

bool DelayedTrip::due(const Instant& now) const {
  return acts_ && holds_ && held(now) >= delay_ - same_time(delay_);
}

void DelayedTrip::note(const Instant& now, const Doing& doing) {
  if (!holds_) return;
  const double time = held(now);
  if (time > longest_.value + same_time(time)) longest_ = {time, now.seconds(), doing.statement, doing.passes};
}

RailProtection::RailProtection(const Protection& protection, const RailDeviation& deviation) {
  const auto seconds = [](Nanoseconds time) { return static_cast<double>(time.count()) / 1e9; };
  if (protection.fuse) {
    fuse_.emplace(TripCause::Fuse, deviated(seconds(protection.fuse->delay.value), deviation.fuse_delay),
                  deviation.fuse_acts);
    if (protection.fuse->current) fuse_current_ = protection.fuse->current->value.to_double();
  }
  if (protection.overpower) {
    overpower_.emplace(TripCause::Overpower, seconds(protection.overpower->delay.value), deviation.overpower_acts);
    power_ = protection.overpower->power.value.to_double();
  }
  if (protection.overvoltage) {
    overvoltage_ = deviated(std::abs(protection.overvoltage->value.to_double()), deviation.overvoltage);
  }
}

RailProtection::Condition RailProtection::fuse_condition(const Circuit& circuit) const {
  const double level = *fuse_current_;
  const double noise = 1e-13 * level + 1e-15 * circuit.piece().regulator_current.magnitude();
  // Reaching the level is enough, so the curve lies a little higher.
  const double lift = 1e-12 * level + 2 * noise;
  return {std::make_unique<SignalCurve>(circuit.piece().regulator_current.plus_line(lift - level, 0)), noise};
}

RailProtection::Condition RailProtection::overpower_condition(const Circuit& circuit) const {
  const circuit::Piece& piece = circuit.piece();
  const double noise =
      1e-13 * power_ + 1e-15 * piece.terminal_voltage.magnitude() * piece.regulator_current.magnitude();
  const double level = power_ * (1 + kStrictly) + 2 * noise;
  return {std::make_unique<ProductCurve>(piece.terminal_voltage, piece.regulator_current, 1, level), noise};
}

RailProtection::Condition RailProtection::overvoltage_condition(const Circuit& circuit) const {
  const double noise = 1e-13 * *overvoltage_ + 1e-15 * circuit.piece().terminal_voltage.magnitude();
  const double level = *overvoltage_ * (1 + kStrictly) + 2 * noise;
  return {std::make_unique<SignalCurve>(circuit.piece().terminal_voltage.plus_line(-level, 0)), noise};
}

void RailProtection::update(const Circuit& circuit, const Instant& now, const Doing& doing) {
  if (!circuit.setting().on) {
    clear(now, doing);
    return;
  }
  if (fuse_) {
    bool holds = in_limit(circuit.mode());
    if (fuse_current_) {
      const Condition condition = fuse_condition(circuit);
      holds = holds_at_start(*condition.curve, condition.noise, *fuse_current_, fuse_next_, fuse_->holds());
    }
    fuse_->update(holds, now, doing);
  }
  const circuit::Piece& piece = circuit.piece();
  if (overpower_) {
    far_from_power_ =
        circuit::times(piece.terminal_voltage.bounds(0, 1), piece.regulator_current.bounds(0, 1)).high < kFar * power_;
    bool holds = false;
    if (!far_from_power_) {
      const Condition condition = overpower_condition(circuit);
      holds = holds_at_start(*condition.curve, condition.noise, power_, overpower_next_, overpower_->holds());
    }
    overpower_->update(holds, now, doing);
  }
  if (overvoltage_) {
    far_from_voltage_ = piece.terminal_voltage.bounds(0, 1).high < kFar * *overvoltage_;
    over_voltage_ = false;
  }
  if (overvoltage_ && !far_from_voltage_) {
    const Condition condition = overvoltage_condition(circuit);
    over_voltage_ = holds_at_start(*condition.curve, condition.noise, *overvoltage_, overvoltage_next_, false);
  }
  forget_course();
}

void RailProtection::forget_course() {
  fuse_next_.reset();
  overpower_next_.reset();
  overvoltage_next_.reset();
}

std::optional<TripCause> RailProtection::acts(const Instant& now) const {
  if (over_voltage_) return TripCause::Overvoltage;
  if (overpower_ && overpower_->due(now)) return TripCause::Overpower;
  if (fuse_ && fuse_->due(now)) return TripCause::Fuse;
  return std::nullopt;
}

double RailProtection::quiet_time(const Circuit& circuit, const Instant& now) {
  const double length = circuit.piece().length;
  fuse_change_ = overpower_change_ = overvoltage_change_ = kNever;
  if (!circuit.setting().on) return length;
  double quiet = length;
  // Of two ways to the same instant the change of the condition goes first: a condition that ends then does not trip.
  const auto consider = [&](const std::optional<DelayedTrip>& trip, double change) {
    quiet = std::min(quiet, change);
    if (!trip || !trip->acts() || !trip->holds()) return;
    const double left = trip->delay() - trip->held(now);
    if (left < quiet - same_time(trip->delay())) quiet = std::max(left, 0.0);
  };
  if (fuse_ && fuse_current_) {
    const Condition condition = fuse_condition(circuit);
    fuse_change_ = length * change_of(*condition.curve, condition.noise, fuse_->holds());
  }
  if (overpower_ && !far_from_power_) {
    const Condition condition = overpower_condition(circuit);
    overpower_change_ = length * change_of(*condition.curve, condition.noise, overpower_->holds());
  }
  if (overvoltage_ && !far_from_voltage_) {
    const Condition condition = overvoltage_condition(circuit);
    overvoltage_change_ = length * change_of(*condition.curve, condition.noise, false);
  }
  consider(std::nullopt, overvoltage_change_);
  consider(overpower_, overpower_change_);
  consider(fuse_, fuse_change_);
  return quiet;
}

void RailProtection::advanced(double length) {
  const auto reached = [&](double change) { return change <= length + same_time(length) * 1e-3; };
  if (fuse_ && reached(fuse_change_)) fuse_next_ = !fuse_->holds();
  if (overpower_ && reached(overpower_change_)) overpower_next_ = !overpower_->holds();
  if (reached(overvoltage_change_)) overvoltage_next_ = true;
}

void RailProtection::clear(const Instant& now, const Doing& doing) {
  if (fuse_) fuse_->update(false, now, doing);
  if (overpower_) overpower_->update(false, now, doing);
  over_voltage_ = false;
}

void RailProtection::shift(const Instant& by) {
  if (fuse_) fuse_->shift(by);
  if (overpower_) overpower_->shift(by);
}

void RailProtection::add_memory(const Instant& now, std::vector<double>& memory) const {
  for (const std::optional<DelayedTrip>& timer : {fuse_, overpower_}) {
    if (timer) memory.insert(memory.end(), {timer->holds() ? 1.0 : 0.0, timer->held(now)});
  }
  for (const bool flag : {over_voltage_, far_from_power_, far_from_voltage_}) memory.push_back(flag ? 1 : 0);
  memory.insert(memory.end(), {fuse_change_, overpower_change_, overvoltage_change_});
  for (const std::optional<bool>& next : {fuse_next_, overpower_next_, overvoltage_next_}) {
    memory.push_back(next ? (*next ? 1 : 0) : -1);
  }
}

void RailProtection::continue_as(const RailProtection& other, const Instant& by) {
  if (fuse_) fuse_->continue_as(*other.fuse_, by);
  if (overpower_) overpower_->continue_as(*other.overpower_, by);
  over_voltage_ = other.over_voltage_;
  far_from_power_ = other.far_from_power_;
  far_from_voltage_ = other.far_from_voltage_;
  fuse_change_ = other.fuse_change_;
  overpower_change_ = other.overpower_change_;
  overvoltage_change_ = other.overvoltage_change_;
  fuse_next_ = other.fuse_next_;
  overpower_next_ = other.overpower_next_;
  overvoltage_next_ = other.overvoltage_next_;
}

void RailProtection::note(const Instant& now, const Doing& doing) {
  if (fuse_) fuse_->note(now, doing);
  if (overpower_) overpower_->note(now, doing);
}

}  // namespace rampart
