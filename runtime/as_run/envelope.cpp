#include "runtime/as_run/envelope.h"

#include <algorithm>
#include <cmath>

namespace rampart::as_run {

RailEnvelope::RailEnvelope(const Recordings& recordings, std::size_t rail, bool at_load, double kept, double pulse)
    : pulse_(pulse) {
  const WaveQuantity voltage = at_load ? WaveQuantity::LoadVoltage : WaveQuantity::TerminalVoltage;
  windows_.emplace_back(recordings.nominal.waveforms.rails[rail], voltage, kept);
  for (const Recording& end : recordings.ends) windows_.emplace_back(end.waveforms.rails[rail], voltage, kept);
  for (const LoadEnd& end : recordings.loads) {
    if (end.rail == rail) loads_.push_back({end.value, {end.recording.waveforms.rails[rail], voltage, kept}});
  }
}

Stamp RailEnvelope::ends_of(const RailMeter& meter, const Stamp& stamp) const {
  return {stamp.from - meter.latency_high() - pulse_ / 2, stamp.to - meter.latency_low() + pulse_ / 2};
}

RailEnvelope::Expected RailEnvelope::expect(Measured quantity, const RailMeter& meter, const Stamp& stamp) {
  const Stamp ends = ends_of(meter, stamp);
  const double middle = (ends.from + ends.to) / 2;
  Expected result;
  result.band = windows_.front().means(quantity, ends.from, ends.to, meter.window());
  result.predicted = mean(windows_.front(), quantity, middle, meter.window());
  const Band nominal = result.band;
  for (std::size_t i = 1; i < windows_.size(); ++i) {
    result.band.include(windows_[i].means(quantity, ends.from, ends.to, meter.window()));
  }
  // To first order what the values of the load do adds up; of each value the end counts that does most.
  for (std::size_t i = 0; i < loads_.size();) {
    Band moved{0, 0};
    for (const std::size_t value = loads_[i].value; i < loads_.size() && loads_[i].value == value; ++i) {
      const Band one = loads_[i].window.means(quantity, ends.from, ends.to, meter.window());
      moved.include({one.low - nominal.low, one.high - nominal.high});
    }
    result.band.low += std::min(0.0, moved.low);
    result.band.high += std::max(0.0, moved.high);
  }
  result.error = meter.error_at(result.predicted);
  result.band.low -= meter.error_at(result.band.low);
  result.band.high += meter.error_at(result.band.high);
  return result;
}

std::optional<bool> RailEnvelope::is_on(const RailMeter& meter, const Stamp& stamp) {
  const Stamp ends = ends_of(meter, stamp);
  const std::optional<bool> first = windows_.front().is_on(ends.from - meter.window(), ends.to);
  if (!first) return std::nullopt;
  for (CourseWindow& window : windows_) {
    if (window.is_on(ends.from - meter.window(), ends.to) != first) return std::nullopt;
  }
  return first;
}

double RailEnvelope::conductance(const RailMeter& meter, const Stamp& stamp) {
  const Stamp ends = ends_of(meter, stamp);
  const double middle = (ends.from + ends.to) / 2;
  const double volts = mean(windows_.front(), Measured::Voltage, middle, meter.window());
  const double amps = mean(windows_.front(), Measured::Current, middle, meter.window());
  double most = 0;
  double slope = 0;
  for (std::size_t i = 1; i < windows_.size(); ++i) {
    const double apart = mean(windows_[i], Measured::Voltage, middle, meter.window()) - volts;
    if (std::abs(apart) <= most) continue;
    most = std::abs(apart);
    slope = (mean(windows_[i], Measured::Current, middle, meter.window()) - amps) / apart;
  }
  // Without such runs the load is taken as a resistor.
  constexpr double kLeastApart = 1e-6;
  if (most > kLeastApart) return slope;
  return std::abs(volts) > kLeastApart ? amps / volts : 0;
}

}  // namespace rampart::as_run
