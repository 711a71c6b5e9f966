#include "runtime/rail/heat.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>

namespace rampart {
namespace {

using circuit::Basis;
using circuit::Bounds;

using Complex = std::complex<double>;

// Two temperatures that differ by less, against the limit, are the same.
constexpr double kSame = 1e-12;
// How far below its limit, as a share of it, a temperature surely does not trip.
constexpr double kRoom = 1e-9;

// c u^power exp(-rate u); a signal is the real part of a sum of these.
struct Decaying {
  Complex factor;
  Complex rate;
  std::size_t power = 0;
};

std::vector<Decaying> terms_of(const circuit::Signal& signal) {
  std::vector<Decaying> result;
  const Basis& basis = signal.basis();
  for (std::size_t n = 0; n <= basis.degree(); ++n) {
    if (signal.weights()[n] != 0) result.push_back({signal.weights()[n], 0, n});
  }
  for (std::size_t j = 0; j < basis.poles().size(); ++j) {
    const Basis::Pole& pole = basis.poles()[j];
    const std::size_t place = basis.place_of(j);
    // a cos(w u) + b sin(w u) is the real part of (a - i b) exp(i w u).
    const Complex factor(signal.weights()[place], pole.frequency == 0 ? 0 : -signal.weights()[place + 1]);
    if (factor != 0.0) result.push_back({factor, {pole.decay, -pole.frequency}, 0});
  }
  return result;
}

// Integral from 0 to 1 of exp(-memory (1 - u)) u^power exp(-rate u).
Complex fading(double memory, Complex rate, std::size_t power) {
  const Complex k = rate - memory;
  const Complex end = std::exp(-rate);
  if (std::abs(k) > static_cast<double>(power) + 8) {
    Complex result = (std::exp(-memory) - end) / k;
    for (std::size_t n = 1; n <= power; ++n) result = (static_cast<double>(n) * result - end) / k;
    return result;
  }
  // Where the recursion cancels, the series exp(-k) sum k^m / ((n+1) ... (n+1+m)).
  Complex term = end / static_cast<double>(power + 1);
  Complex sum = term;
  for (std::size_t m = 1; m < 200 && std::abs(term) > 1e-18 * std::abs(sum); ++m) {
    term *= k / static_cast<double>(power + 1 + m);
    sum += term;
  }
  return sum;
}

}  // namespace

// The temperature during a piece, exact: the power is a product of two sums of known functions.
class OutputHeat::Course final : public circuit::Curve {
 public:
  Course(const OutputHeat& heat, const circuit::Piece& piece)
      : heat_(heat),
        memory_(piece.length / heat.time_constant_),
        gain_(heat.resistance_),
        power_(piece.terminal_voltage.times(-heat.voltage_share_).plus_line(heat.internal_voltage_, 0),
               piece.regulator_current.times(heat.current_share_), 1, 0) {
    const circuit::Signal across =
        piece.terminal_voltage.times(-heat.voltage_share_).plus_line(heat.internal_voltage_, 0);
    const std::vector<Decaying> left = terms_of(across);
    const std::vector<Decaying> right = terms_of(piece.regulator_current.times(heat.current_share_));
    for (const Decaying& a : left) {
      for (const Decaying& b : right) {
        // Re a Re b = Re(a b + a b*) / 2.
        add({a.factor * b.factor / 2.0, a.rate + b.rate, a.power + b.power});
        add({a.factor * std::conj(b.factor) / 2.0, a.rate + std::conj(b.rate), a.power + b.power});
      }
    }
  }

  double value(double t) const override {
    const double memory = memory_ * t;
    double heating = 0;
    for (const Decaying& term : products_) {
      const Complex part = term.factor * fading(memory, term.rate * t, term.power);
      heating += part.real() * std::pow(t, static_cast<double>(term.power));
    }
    return heat_.ambient_ + (heat_.temperature_ - heat_.ambient_) * std::exp(-memory) + gain_ * memory * heating;
  }
  double slope(double t) const override { return memory_ * (target(power_.value(t)) - value(t)); }
  // It stays between where it is and what the power drives it to, and gets there no faster than its time constant.
  Bounds bounds(double from, double to) const override {
    const double start = value(from);
    const Bounds power = power_.bounds(from, to);
    const Bounds ends{std::min(start, target(power.low)), std::max(start, target(power.high))};
    const double share = memory_ * (to - from);
    return {std::max(ends.low, start - share * std::max(0.0, ends.high - target(power.low))),
            std::min(ends.high, start + share * std::max(0.0, target(power.high) - ends.low))};
  }
  Bounds slope_bounds(double from, double to) const override {
    const Bounds power = power_.bounds(from, to);
    const Bounds own = bounds(from, to);
    return {memory_ * (target(power.low) - own.high), memory_ * (target(power.high) - own.low)};
  }

 private:
  void add(const Decaying& term) {
    for (Decaying& known : products_) {
      if (known.power != term.power || known.rate != term.rate) continue;
      known.factor += term.factor;
      return;
    }
    products_.push_back(term);
  }
  double target(double power) const { return heat_.ambient_ + gain_ * power; }

  const OutputHeat& heat_;
  double memory_;  // the piece's length over the time constant
  double gain_;
  circuit::ProductCurve power_;
  std::vector<Decaying> products_;
};

namespace {

// The course less a level.
class Above final : public circuit::Curve {
 public:
  Above(const circuit::Curve& curve, double level) : curve_(curve), level_(level) {}
  double value(double t) const override { return curve_.value(t) - level_; }
  double slope(double t) const override { return curve_.slope(t); }
  Bounds bounds(double from, double to) const override {
    const Bounds inner = curve_.bounds(from, to);
    return {inner.low - level_, inner.high - level_};
  }
  Bounds slope_bounds(double from, double to) const override { return curve_.slope_bounds(from, to); }

 private:
  const circuit::Curve& curve_;
  double level_;
};

}  // namespace

OutputHeat::OutputHeat(const Channel& channel, double voltage_share, double current_share)
    : channel_(channel.name),
      internal_voltage_(channel.thermal->internal_supply.to_double()),
      resistance_(channel.thermal->resistance.to_double()),
      time_constant_(channel.thermal->time_constant.to_double()),
      ambient_(channel.thermal->ambient.to_double()),
      limit_(channel.thermal->limit.to_double()),
      voltage_share_(voltage_share),
      current_share_(current_share),
      temperature_(ambient_) {
  hottest_.value = ambient_;
}

double OutputHeat::time_to_limit(const circuit::Piece& piece) const {
  const Course course(*this, piece);
  const auto rise = circuit::first_rise(Above(course, limit_), 1e-13 * limit_);
  return rise ? *rise * piece.length : std::numeric_limits<double>::infinity();
}

void OutputHeat::advance(const circuit::Piece& piece, const Instant& from, const Doing& doing) {
  const Course course(*this, piece);
  if (const auto found = circuit::maximum_above(course, hottest_.value, 1e-12 * hottest_.value)) {
    hottest_ = {found->value, from.plus_seconds(found->time * piece.length).seconds(), doing.statement, doing.passes};
  }
  temperature_ = course.value(1);
}

// The last stretch changed T by d, the next does by a d, and so on, with a = exp(-length / tau): all steps have one
// sign.
std::int64_t OutputHeat::safe_repeats(double before, double length, std::int64_t most) const {
  const double rise = temperature_ - before;
  if (rise <= kSame * limit_) return most;
  const double memory = length / time_constant_;
  // The last of n stretches more begins warmer than the last one did by d (1 - a^n) / (1 - a). What is left of that
  // only fades within a stretch, so that its peak rises by no more.
  const double all = rise / -std::expm1(-memory);
  const double room = limit_ * (1 - kRoom) - hottest_.value;
  if (room <= 0) return 0;
  double times = static_cast<double>(most - 1);
  if (room < all) times = std::min(times, std::floor(-std::log1p(-room / all) / memory));
  return static_cast<std::int64_t>(std::max(times, 0.0));
}

void OutputHeat::repeat(double before, double length, std::int64_t times) {
  const double memory = length / time_constant_;
  const double rise = temperature_ - before;
  if (rise == 0 || memory <= 0) return;
  temperature_ += rise * std::exp(-memory) * std::expm1(-memory * static_cast<double>(times)) / std::expm1(-memory);
}

std::vector<OutputHeat> heat_of(const Table& table, const RailSetup& setup) {
  double volts = 0;
  double amps = 0;
  for (const ChannelId id : setup.members) {
    const OutputLimits& limits = table.bench()[id].limits;
    volts += limits.voltage.value.high.to_double();
    amps += limits.current.value.high.to_double();
  }
  std::vector<OutputHeat> result;
  for (const ChannelId id : setup.members) {
    const Channel& channel = table.bench()[id];
    if (!channel.thermal) continue;
    const bool series = setup.arrangement == Arrangement::Series;
    const bool parallel = setup.arrangement == Arrangement::Parallel;
    result.emplace_back(channel, series ? channel.limits.voltage.value.high.to_double() / volts : 1,
                        parallel ? channel.limits.current.value.high.to_double() / amps : 1);
  }
  return result;
}

}  // namespace rampart
