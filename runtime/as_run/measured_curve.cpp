#include "runtime/as_run/measured_curve.h"

#include <utility>

namespace rampart::as_run {
namespace {

void join(std::optional<Band>& all, const std::optional<Band>& one) {
  if (!one) return;
  if (all) {
    all->include(*one);
  } else {
    all = one;
  }
}

void join(MeasuredPoint& all, const MeasuredPoint& one) {
  all.to_s = one.to_s;
  join(all.volts, one.volts);
  join(all.amps, one.amps);
  join(all.watts, one.watts);
}

std::optional<Band> band_of(const std::optional<double>& value) {
  return value ? std::optional(Band{*value, *value}) : std::nullopt;
}

}  // namespace

void MeasuredCurve::take(const RailReading& reading, double run_s, double sign) {
  MeasuredPoint point{run_s, run_s, band_of(reading.volts), band_of(reading.amps), {}};
  if (reading.volts && reading.amps) point.watts = band_of(sign * *reading.volts * *reading.amps);
  if (!points_.empty() && count_ < each_) {
    join(points_.back(), point);
    ++count_;
    return;
  }
  if (points_.size() == kMostPoints) {
    std::vector<MeasuredPoint> half;
    for (std::size_t i = 0; i < points_.size(); ++i) {
      if (i % 2 == 0) {
        half.push_back(points_[i]);
      } else {
        join(half.back(), points_[i]);
      }
    }
    points_ = std::move(half);
    each_ *= 2;
  }
  points_.push_back(point);
  count_ = 1;
}

}  // namespace rampart::as_run
