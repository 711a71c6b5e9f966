#include "runtime/circuit/circuit.h"

#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

// A: too little to tell in which direction it flows.
constexpr double kNoCurrent = 1e-9;
// How often the state may contradict a change of mode before the change is believed.
constexpr int kRefusals = 3;

}  // namespace

int side_of(double value, double tolerance, double slope, double slope_noise) {
  if (value > tolerance) return 1;
  if (value < -tolerance) return -1;
  if (slope > slope_noise) return 1;
  return slope < -slope_noise ? -1 : 0;
}

Circuit::Circuit(const Circuit& other)
    : traits_(other.traits_),
      setting_(other.setting_),
      mode_(other.mode_),
      follow_(other.follow_),
      change_(other.change_),
      same_(other.same_),
      refused_(other.refused_) {}

Drive Circuit::drive_of(Mode mode) const {
  switch (mode) {
    case Mode::Off:
      return Drive::Off;
    case Mode::OffFreewheel:
      return Drive::OffShorted;
    case Mode::ConstantVoltage:
      return sensed() ? Drive::SensedVoltage : Drive::Voltage;
    case Mode::HeadroomLimited:
    case Mode::Clamped:
      return Drive::Voltage;
    case Mode::ConstantCurrent:
    case Mode::Holding:
    case Mode::Sinking:
      return Drive::Current;
  }
  return Drive::Off;
}

Driving Circuit::driving_of(Mode mode) const {
  switch (mode) {
    case Mode::ConstantVoltage:
      return {setting_.voltage, setting_.voltage_slope};
    case Mode::HeadroomLimited:
      return {setting_.voltage + traits_.headroom.value_or(0), setting_.voltage_slope};
    case Mode::ConstantCurrent:
      return {setting_.limit, setting_.limit_slope};
    case Mode::Sinking:
      return {-traits_.sink, 0};
    default:
      return {0, 0};
  }
}

void Circuit::note_jump(double lost) {
  if (lost == 0) return;
  jump_ = Jump{first_inductor(), lost + (jump_ ? jump_->lost : 0)};
}

// How the current that the load takes at the setpoint lies to what the output can give.
Circuit::Side Circuit::compare_current(std::optional<Mode> expected) const {
  const Reading current = read(Quantity::RegulatorCurrent, Mode::ConstantVoltage);
  const double tolerance = std::max(current.value_noise, kSame * std::abs(setting_.limit)) + kSameAmps;
  const int above = side_of(current.value - setting_.limit, tolerance, current.slope - setting_.limit_slope,
                            current.slope_noise + kSame * std::abs(setting_.limit_slope));
  if (above > 0) return Side::Over;
  const bool at_limit = std::abs(current.value - setting_.limit) <= tolerance;
  if (above == 0 && at_limit && expected == Mode::ConstantCurrent) return Side::Over;
  const double floor_tolerance = std::max(current.value_noise, kSame * traits_.sink) + kSameAmps;
  const int below = side_of(-traits_.sink - current.value, floor_tolerance, -current.slope, current.slope_noise);
  if (below > 0 && !(at_limit && above == 0)) return Side::Under;
  if (below == 0 && (expected == Mode::Holding || expected == Mode::Sinking)) return Side::Under;
  return Side::Within;
}

// Remote sense may bind at the headroom at once, unless an output capacitance has to be charged up to it.
bool Circuit::reaches_headroom() const {
  if (!sensed()) return false;
  const double most = setting_.voltage + *traits_.headroom;
  const std::optional<double> held = held_terminals();
  return !held || *held >= most - same_ * std::abs(most) - kSameVolts;
}

// The load would take more than the limit, or is below the setpoint and cannot follow at once.
Mode Circuit::decide_over(std::optional<Mode> expected) const {
  if (reaches_headroom()) {
    const Reading current = read(Quantity::RegulatorCurrent, Mode::HeadroomLimited);
    const int side = side_of(current.value - setting_.limit, current.value_noise + kSame * setting_.limit,
                             current.slope - setting_.limit_slope, current.slope_noise);
    if (side < 0 || (side == 0 && expected != Mode::ConstantCurrent)) return Mode::HeadroomLimited;
  }
  if (!has_inductors()) return Mode::ConstantCurrent;
  const Reading voltage = read(Quantity::TerminalVoltage, Mode::ConstantCurrent);
  const int side = side_of(voltage.value, voltage.value_noise + kSameVolts, voltage.slope, voltage.slope_noise);
  if (side < 0 || (side == 0 && expected == Mode::Clamped)) return Mode::Clamped;
  return Mode::ConstantCurrent;
}

// Only inductors take current, so it cannot jump to the limit.
Mode Circuit::decide_inductive(std::optional<Mode> expected) const {
  const Reading current = read(Quantity::RegulatorCurrent, Mode::ConstantVoltage);
  const double tolerance = std::max(current.value_noise, kSame * std::abs(setting_.limit)) + kSameAmps;
  const double excess = current.value - setting_.limit;
  if (excess > tolerance) return Mode::Clamped;
  if (excess < -tolerance) return Mode::ConstantVoltage;
  const double noise = current.slope_noise + kSame * std::abs(setting_.limit_slope);
  const double rise = current.slope - setting_.limit_slope;
  if (rise < -noise || (rise <= noise && expected != Mode::ConstantCurrent)) return Mode::ConstantVoltage;
  const Reading clamped = read(Quantity::RegulatorCurrent, Mode::Clamped);
  return clamped.slope - setting_.limit_slope > clamped.slope_noise ? Mode::Clamped : Mode::ConstantCurrent;
}

// Rounding in the state may contradict a change that the solution has found. Where it does so again and again at one
// instant, the solution is right.
Mode Circuit::decide(std::optional<Mode> expected) {
  const Mode found = decide_by_state(expected);
  const bool refused = expected && found == mode_ && *expected != mode_;
  refused_ = refused ? refused_ + 1 : 0;
  if (refused_ < kRefusals) return found;
  refused_ = 0;
  return *expected;
}

Mode Circuit::decide_by_state(std::optional<Mode> expected) {
  if (!setting_.on) return decide_off(expected);
  if (current_is_state()) return decide_inductive(expected);
  const Mode above = traits_.sink > 0 ? Mode::Sinking : Mode::Holding;
  if (const std::optional<double> held = held_voltage()) {
    const double same = same_ * std::max(std::abs(*held), std::abs(setting_.voltage)) + kSameVolts;
    if (*held < setting_.voltage - same) return decide_over(expected);
    if (*held > setting_.voltage + same) return above;
    hold(setting_.voltage);
  }
  switch (compare_current(expected)) {
    case Side::Over:
      return decide_over(expected);
    case Side::Under:
      return above;
    case Side::Within:
      break;
  }
  if (sensed()) {
    const Reading terminal = read(Quantity::TerminalVoltage, Mode::ConstantVoltage);
    const double excess = terminal.value - setting_.voltage - *traits_.headroom;
    const int side = side_of(excess, terminal.value_noise + kSameVolts, terminal.slope - setting_.voltage_slope,
                             terminal.slope_noise);
    if (side > 0 || (side == 0 && expected == Mode::HeadroomLimited)) return Mode::HeadroomLimited;
  }
  return Mode::ConstantVoltage;
}

std::vector<Circuit::Watch> Circuit::watches() const {
  const double length = piece_.length;
  const double top = setting_.voltage;
  const double top_slope = setting_.voltage_slope * length;
  const double limit_slope = setting_.limit_slope * length;
  const double volts = std::max(std::abs(top), std::abs(top + top_slope));
  const double amps = std::max(std::abs(setting_.limit), std::abs(setting_.limit + limit_slope));
  const Signal& current = piece_.regulator_current;
  std::vector<Watch> result;
  const auto over_limit = [&](Mode next) {
    result.push_back({current.plus_line(-setting_.limit, -limit_slope), amps, next});
  };
  switch (mode_) {
    case Mode::Off:
      if (has_inductors()) result.push_back({piece_.port_voltage.times(-1), volts, Mode::OffFreewheel});
      break;
    case Mode::OffFreewheel:
      if (!current_is_state()) result.push_back({piece_.port_current.times(-1), amps, Mode::Off});
      break;
    case Mode::ConstantVoltage:
      over_limit(Mode::ConstantCurrent);
      result.push_back(
          {current.times(-1).plus_line(-traits_.sink, 0), amps, traits_.sink > 0 ? Mode::Sinking : Mode::Holding});
      if (sensed()) {
        result.push_back(
            {piece_.terminal_voltage.plus_line(-top - *traits_.headroom, -top_slope), volts, Mode::HeadroomLimited});
      }
      break;
    case Mode::HeadroomLimited:
      over_limit(Mode::ConstantCurrent);
      result.push_back({piece_.port_voltage.plus_line(-top, -top_slope), volts, Mode::ConstantVoltage});
      break;
    case Mode::ConstantCurrent:
      if (sensed()) {
        result.push_back({piece_.port_voltage.plus_line(-top, -top_slope), volts, Mode::ConstantVoltage});
        result.push_back(
            {piece_.terminal_voltage.plus_line(-top - *traits_.headroom, -top_slope), volts, Mode::HeadroomLimited});
      } else {
        result.push_back({piece_.terminal_voltage.plus_line(-top, -top_slope), volts, Mode::ConstantVoltage});
      }
      if (has_inductors()) result.push_back({piece_.terminal_voltage.times(-1), volts, Mode::Clamped});
      break;
    case Mode::Clamped:
      result.push_back({current.times(-1).plus_line(setting_.limit, limit_slope), amps, Mode::ConstantCurrent});
      break;
    case Mode::Holding:
    case Mode::Sinking: {
      const Signal& measured = sensed() ? piece_.port_voltage : piece_.terminal_voltage;
      result.push_back({measured.times(-1).plus_line(top, top_slope), volts, Mode::ConstantVoltage});
      break;
    }
  }
  return result;
}

// Where the terminals' current first changes its direction; above 1 if it does not. What goes out and what comes back
// is told apart by pieces.
double Circuit::turning_point() const {
  const Signal& current = piece_.terminal_current;
  const double noise = 1e-13 * current.magnitude() + kNoCurrent + current_noise();
  const Bounds bounds = current.bounds(0, 1);
  if (bounds.low > -noise || bounds.high < noise) return 2;
  const double rise = first_rise(SignalCurve(current), noise).value_or(2);
  const double fall = first_rise(SignalCurve(current.times(-1)), noise).value_or(2);
  // The direction it takes first is its own; the other one is the turn.
  const double start = current.value(0);
  const bool outward = start > noise || (start >= -noise && rise < fall);
  const double turn = outward ? fall : rise;
  return turn > 1e-12 ? turn : 2;
}

}  // namespace rampart::circuit
