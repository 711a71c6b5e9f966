#include "runtime/circuit/roots.h"

#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

// Pieces shorter than this share of the whole are not split further: far below what rounding leaves of a time.
constexpr double kShortestSpan = 1e-15;
constexpr int kMaxNewtonSteps = 100;
// A curve that needs more splits comes near to zero so often that it might as well not reach it.
constexpr int kMaxSplits = 200'000;

// The zero of a curve that rises from `low` to `high` with value(low) <= 0 < value(high).
double rising_zero(const Curve& curve, double low, double high, double offset) {
  double t = (low + high) / 2;
  for (int step = 0; step < kMaxNewtonSteps; ++step) {
    const auto [height, slope] = curve.at(t);
    const double value = height - offset;
    if (value > 0) {
      high = t;
    } else {
      low = t;
    }
    double next = slope > 0 ? t - value / slope : (low + high) / 2;
    if (!(next > low && next < high)) next = (low + high) / 2;
    if (std::abs(next - t) <= 4e-16 * t || high - low <= 4e-16 * high) return next;
    t = next;
  }
  return t;
}

struct RiseSearch {
  const Curve& curve;
  double tolerance;
  int splits = 0;

  // The first rise above `tolerance` on [from, to], where value(from) <= tolerance.
  std::optional<double> find(double from, double to) {
    if (curve.bounds(from, to).high <= tolerance) return std::nullopt;
    const Bounds slope = curve.slope_bounds(from, to);
    const bool ends_above = curve.value(to) > tolerance;
    if (slope.high <= 0) return std::nullopt;
    if (slope.low >= 0) {
      if (!ends_above) return std::nullopt;
      return rising_zero(curve, from, to, tolerance);
    }
    if (to - from <= kShortestSpan) {
      if (ends_above) return to;
      return std::nullopt;
    }
    const double middle = from + (to - from) / 2;
    if (middle <= from || middle >= to || ++splits > kMaxSplits)
      return ends_above ? std::optional<double>(to) : std::nullopt;
    if (const std::optional<double> early = find(from, middle)) return early;
    if (curve.value(middle) > tolerance) return middle;
    return find(middle, to);
  }
};

}  // namespace

Bounds times(const Bounds& a, const Bounds& b) {
  const double corners[] = {a.low * b.low, a.low * b.high, a.high * b.low, a.high * b.high};
  return {*std::min_element(corners, corners + 4), *std::max_element(corners, corners + 4)};
}

Bounds plus(const Bounds& a, const Bounds& b) {
  return {a.low + b.low, a.high + b.high};
}

Bounds ProductCurve::bounds(double from, double to) const {
  const Bounds product = times(a_.bounds(from, to), b_.bounds(from, to));
  return times({product.low - offset_, product.high - offset_}, {factor_, factor_});
}

Bounds ProductCurve::slope_bounds(double from, double to) const {
  const Bounds left = times(a_slope_.of(a_).bounds(from, to), b_.bounds(from, to));
  const Bounds right = times(a_.bounds(from, to), b_slope_.of(b_).bounds(from, to));
  return times(plus(left, right), {factor_, factor_});
}

double ProductCurve::rounding() const {
  return kRoundingShare * std::abs(factor_) * (a_.magnitude() * b_.magnitude() + std::abs(offset_));
}

std::optional<double> first_rise(const Curve& curve, double tolerance, double from) {
  RiseSearch search{curve, std::max(tolerance, curve.rounding())};
  const std::optional<double> found = search.find(from, 1);
  if (!found) return std::nullopt;
  // One step back from where the tolerance is passed to the zero itself.
  const double slope = curve.slope(*found);
  if (slope <= 0) return found;
  const double back = *found - curve.value(*found) / slope;
  return back >= from && back <= 1 ? back : *found;
}

namespace {

struct MaximumSearch {
  const Curve& curve;
  double tolerance;
  Maximum best;
  bool found = false;
  int splits = 0;

  void offer(double time, double value) {
    if (value <= best.value + tolerance) return;
    best = {value, time};
    found = true;
  }

  // Both ends have been offered, and what lies between is below `high`.
  void search(double from, double to, double high) {
    if (high <= best.value + tolerance) return;
    const Bounds slope = curve.slope_bounds(from, to);
    const double middle = from + (to - from) / 2;
    if (slope.low >= 0 || slope.high <= 0 || middle <= from || middle >= to || to - from <= kShortestSpan) return;
    if (++splits > kMaxSplits) return;
    const double value = curve.value(middle);
    offer(middle, value);
    // Near a flat top the slope says more than the bounds.
    const double rise = (to - from) / 2 * std::max(-slope.low, slope.high);
    if (value + rise <= best.value + tolerance) return;
    search(from, middle, curve.bounds(from, middle).high);
    search(middle, to, curve.bounds(middle, to).high);
  }
};

}  // namespace

std::optional<Maximum> maximum_above(const Curve& curve, double known, double tolerance, double from, double to) {
  MaximumSearch search{curve, std::max(tolerance, curve.rounding()), {known, from}};
  const double high = curve.bounds(from, to).high;
  if (high <= known + search.tolerance) return std::nullopt;
  search.offer(from, curve.value(from));
  search.offer(to, curve.value(to));
  search.search(from, to, high);
  if (!search.found) return std::nullopt;
  return search.best;
}

}  // namespace rampart::circuit
