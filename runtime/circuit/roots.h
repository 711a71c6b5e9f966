#pragma once

#include <optional>

#include "runtime/circuit/signal.h"

// Where a curve first rises above zero, and how high it comes. Both split the piece until bounds on the value or on the
// slope settle the matter, so that no pair of crossings is stepped over.
namespace rampart::circuit {

struct ValueAndSlope {
  double value = 0;
  double slope = 0;
};

// A function of time on [0, 1] that can say what it and its slope keep within.
class Curve {
 public:
  virtual ~Curve() = default;
  [[nodiscard]] virtual double value(double t) const = 0;
  [[nodiscard]] virtual double slope(double t) const = 0;
  // Both at once: what they have in common may be found once.
  [[nodiscard]] virtual ValueAndSlope at(double t) const { return {value(t), slope(t)}; }
  [[nodiscard]] virtual Bounds bounds(double from, double to) const = 0;
  [[nodiscard]] virtual Bounds slope_bounds(double from, double to) const = 0;
  // How much of a value may be rounding.
  [[nodiscard]] virtual double rounding() const { return 0; }
};

// The derivative of a signal, made when it is first asked for: most curves are settled by the bounds of their values.
class LazySlope {
 public:
  [[nodiscard]] const Signal& of(const Signal& signal) const {
    if (!slope_) slope_ = signal.derivative();
    return *slope_;
  }

 private:
  mutable std::optional<Signal> slope_;  // follows from the signal, and few need it
};

// Rounding of a sum against the magnitudes of its parts.
inline constexpr double kRoundingShare = 1e-15;

class SignalCurve final : public Curve {
 public:
  explicit SignalCurve(Signal signal) : signal_(std::move(signal)) {}
  [[nodiscard]] double value(double t) const override { return signal_.value(t); }
  [[nodiscard]] double slope(double t) const override { return slope_.of(signal_).value(t); }
  [[nodiscard]] ValueAndSlope at(double t) const override {
    const auto [value, slope] = values(signal_, slope_.of(signal_), t);
    return {value, slope};
  }
  [[nodiscard]] Bounds bounds(double from, double to) const override { return signal_.bounds(from, to); }
  [[nodiscard]] Bounds slope_bounds(double from, double to) const override {
    return slope_.of(signal_).bounds(from, to);
  }
  [[nodiscard]] double rounding() const override { return kRoundingShare * signal_.magnitude(); }

 private:
  Signal signal_;
  LazySlope slope_;
};

// factor * (a b - offset)
class ProductCurve final : public Curve {
 public:
  ProductCurve(Signal a, Signal b, double factor, double offset)
      : a_(std::move(a)), b_(std::move(b)), factor_(factor), offset_(offset) {}
  [[nodiscard]] double value(double t) const override { return factor_ * (a_.value(t) * b_.value(t) - offset_); }
  [[nodiscard]] double slope(double t) const override {
    return factor_ * (a_slope_.of(a_).value(t) * b_.value(t) + a_.value(t) * b_slope_.of(b_).value(t));
  }
  [[nodiscard]] Bounds bounds(double from, double to) const override;
  [[nodiscard]] Bounds slope_bounds(double from, double to) const override;
  [[nodiscard]] double rounding() const override;

 private:
  Signal a_;
  Signal b_;
  LazySlope a_slope_;
  LazySlope b_slope_;
  double factor_;
  double offset_;
};

// The first time in (from, 1] at which the curve has risen from zero or below by more than `tolerance`; the time is
// that of the zero itself. A curve that only comes near to zero, or starts there and falls, gives none.
[[nodiscard]] std::optional<double> first_rise(const Curve& curve, double tolerance, double from = 0);

struct Maximum {
  double value = 0;
  double time = 0;
};
// The greatest value on [from, to] if it is above `known` by more than `tolerance`.
[[nodiscard]] std::optional<Maximum> maximum_above(const Curve& curve, double known, double tolerance, double from = 0,
                                                   double to = 1);

[[nodiscard]] Bounds times(const Bounds& a, const Bounds& b);
[[nodiscard]] Bounds plus(const Bounds& a, const Bounds& b);

}  // namespace rampart::circuit
