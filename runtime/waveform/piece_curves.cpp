#include "runtime/waveform/piece_curves.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

using circuit::Bounds;

double largest(const Bounds& bounds) {
  return std::max(std::abs(bounds.low), std::abs(bounds.high));
}

// Times are halved no further than doubles tell them apart.
constexpr int kMaxHalvings = 50;

class Halving {
 public:
  Halving(const PieceCurves& curves, const WaveValues& error,
          const std::function<bool(double, const WaveValues&)>& take)
      : curves_(curves), error_(error), take_(take) {}

  // False once nothing more is wanted.
  bool cover(double from, double to, int halvings) {
    if (halvings >= kMaxHalvings || is_straight(from, to)) return take_(to, curves_.at(to));
    const double middle = from + (to - from) / 2;
    return cover(from, middle, halvings + 1) && cover(middle, to, halvings + 1);
  }

 private:
  [[nodiscard]] bool is_straight(double from, double to) const { return curves_.is_straight(from, to, error_); }

  const PieceCurves& curves_;
  const WaveValues& error_;
  const std::function<bool(double, const WaveValues&)>& take_;
};

}  // namespace

PieceCurves::PieceCurves(const circuit::Circuit& circuit, double sign)
    : sign_(sign),
      setpoint_(circuit.setting().on ? circuit.setting().voltage : 0),
      setpoint_slope_(circuit.setting().on ? circuit.setting().voltage_slope * circuit.piece().length : 0),
      limit_(circuit.setting().on ? circuit.setting().limit : 0),
      limit_slope_(circuit.setting().on ? circuit.setting().limit_slope * circuit.piece().length : 0),
      terminal_(circuit.piece().terminal_voltage),
      load_(circuit.piece().port_voltage),
      current_(circuit.piece().terminal_current) {}

WaveValues PieceCurves::at(double time) const {
  const double terminal = terminal_.value.value(time);
  const double current = current_.value.value(time);
  return {sign_ * (setpoint_ + setpoint_slope_ * time),
          limit_ + limit_slope_ * time,
          sign_ * terminal,
          sign_ * load_.value.value(time),
          current,
          terminal * current};
}

// A chord is off by at most an eighth of the largest curvature times its length squared, and by no more than what the
// values range over (from memory; the error of linear interpolation).
double PieceCurves::bend_of(const Bent& signal, double from, double to) {
  const double length = to - from;
  const double by_curvature = length * length / 8 * largest(signal.curvature.bounds(from, to));
  if (by_curvature == 0) return 0;
  const Bounds range = signal.value.bounds(from, to);
  return std::min(by_curvature, range.high - range.low);
}

double PieceCurves::bend_of_power(double from, double to) const {
  const Bounds voltage = terminal_.value.bounds(from, to);
  const Bounds current = current_.value.bounds(from, to);
  const double curvature = largest(terminal_.curvature.bounds(from, to)) * largest(current) +
                           2 * largest(terminal_.slope.bounds(from, to)) * largest(current_.slope.bounds(from, to)) +
                           largest(voltage) * largest(current_.curvature.bounds(from, to));
  if (curvature == 0) return 0;
  const Bounds range = circuit::times(voltage, current);
  return std::min((to - from) * (to - from) / 8 * curvature, range.high - range.low);
}

bool PieceCurves::is_straight(double from, double to, const WaveValues& error) const {
  const auto allowed = [&error](WaveQuantity quantity) { return error[static_cast<std::size_t>(quantity)]; };
  return bend_of(terminal_, from, to) <= allowed(WaveQuantity::TerminalVoltage) &&
         bend_of(load_, from, to) <= allowed(WaveQuantity::LoadVoltage) &&
         bend_of(current_, from, to) <= allowed(WaveQuantity::Current) &&
         (std::isinf(allowed(WaveQuantity::Power)) || bend_of_power(from, to) <= allowed(WaveQuantity::Power));
}

bool sample(const PieceCurves& curves, const WaveValues& error,
            const std::function<bool(double time, const WaveValues& values)>& take) {
  return Halving(curves, error, take).cover(0, 1, 0);
}

}  // namespace rampart
