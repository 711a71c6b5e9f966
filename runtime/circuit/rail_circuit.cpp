#include "runtime/circuit/rail_circuit.h"

#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

// Two values that differ by less are the same: a thousand times what rounding leaves, far below what can be measured.
constexpr double kSame = 1e-12;
constexpr double kSameVolts = 1e-14;
constexpr double kSameAmps = 1e-15;
// How far a watched signal must pass its limit; far enough to stand out of rounding.
constexpr double kPassed = 1e-13;

// -1, 0 or 1: how a value lies to zero, with its slope where it cannot be told from zero.
int side_of(double value, double tolerance, double slope, double slope_noise) {
  if (value > tolerance) return 1;
  if (value < -tolerance) return -1;
  if (slope > slope_noise) return 1;
  return slope < -slope_noise ? -1 : 0;
}

}  // namespace

RailCircuit::RailCircuit(Parts parts, OutputTraits traits)
    : network_(std::move(parts)), traits_(traits), state_(network_.initial_state()) {}

Drive RailCircuit::drive_of(Mode mode) const {
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

Driving RailCircuit::driving_of(Mode mode) const {
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

RailCircuit::Reading RailCircuit::read(const Form& form, const StateEquations& equations,
                                       const Driving& driving) const {
  // Value and sum of magnitudes of a form at the present instant.
  const auto evaluate = [&](const Form& f) {
    double value = f.drive * driving.value + f.slope * driving.slope + f.constant;
    double size = std::abs(f.drive * driving.value) + std::abs(f.slope * driving.slope) + std::abs(f.constant);
    for (std::size_t i = 0; i < state_.size(); ++i) {
      value += f.state[i] * state_[i];
      size += std::abs(f.state[i] * state_[i]);
    }
    return std::pair(value, size);
  };
  Reading reading;
  const auto [value, size] = evaluate(form);
  reading.value = value;
  reading.value_noise = 1e-14 * size;
  reading.slope = form.drive * driving.slope;
  reading.slope_noise = std::abs(reading.slope);
  for (std::size_t i = 0; i < state_.size(); ++i) {
    if (form.state[i] == 0) continue;
    const auto [rate, rate_size] = evaluate(equations.rates[i]);
    reading.slope += form.state[i] * rate;
    reading.slope_noise += std::abs(form.state[i]) * rate_size;
  }
  reading.slope_noise *= 1e-13;
  return reading;
}

RailCircuit::Reading RailCircuit::read(Form StateEquations::*form, Mode mode) const {
  const StateEquations& equations = network_.equations(drive_of(mode));
  return read(equations.*form, equations, driving_of(mode));
}

// How the current that the load takes at the setpoint lies to what the output can give.
RailCircuit::Side RailCircuit::compare_current(std::optional<Mode> expected) const {
  const Reading current = read(&StateEquations::regulator_current, Mode::ConstantVoltage);
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

// The load would take more than the limit, or is below the setpoint and cannot follow at once.
Mode RailCircuit::decide_over(std::optional<Mode> expected) const {
  if (sensed()) {
    const Reading current = read(&StateEquations::regulator_current, Mode::HeadroomLimited);
    const int side = side_of(current.value - setting_.limit, current.value_noise + kSame * setting_.limit,
                             current.slope - setting_.limit_slope, current.slope_noise);
    if (side < 0 || (side == 0 && expected != Mode::ConstantCurrent)) return Mode::HeadroomLimited;
  }
  if (!network_.has_inductors()) return Mode::ConstantCurrent;
  const Reading voltage = read(&StateEquations::terminal_voltage, Mode::ConstantCurrent);
  const int side = side_of(voltage.value, voltage.value_noise + kSameVolts, voltage.slope, voltage.slope_noise);
  if (side < 0 || (side == 0 && expected == Mode::Clamped)) return Mode::Clamped;
  return Mode::ConstantCurrent;
}

// Only inductors take current, so it cannot jump to the limit.
Mode RailCircuit::decide_inductive(std::optional<Mode> expected) const {
  const Reading current = read(&StateEquations::regulator_current, Mode::ConstantVoltage);
  const double tolerance = std::max(current.value_noise, kSame * std::abs(setting_.limit)) + kSameAmps;
  const double excess = current.value - setting_.limit;
  if (excess > tolerance) return Mode::Clamped;
  if (excess < -tolerance) return Mode::ConstantVoltage;
  const double noise = current.slope_noise + kSame * std::abs(setting_.limit_slope);
  const double rise = current.slope - setting_.limit_slope;
  if (rise < -noise || (rise <= noise && expected != Mode::ConstantCurrent)) return Mode::ConstantVoltage;
  const Reading clamped = read(&StateEquations::regulator_current, Mode::Clamped);
  return clamped.slope - setting_.limit_slope > clamped.slope_noise ? Mode::Clamped : Mode::ConstantCurrent;
}

Mode RailCircuit::decide_off(std::optional<Mode> expected) const {
  if (!network_.has_inductors()) return Mode::Off;
  if (network_.current_is_state() && !network_.parts().off_resistance) {
    double current = 0;
    for (std::size_t i = 0; i < network_.parts().inductors.size(); ++i) current += state_[network_.inductor_state(i)];
    return current > kSameAmps ? Mode::OffFreewheel : Mode::Off;
  }
  const Reading voltage = read(&StateEquations::port_voltage, Mode::Off);
  const int side = side_of(voltage.value, voltage.value_noise + kSameVolts, voltage.slope, voltage.slope_noise);
  if (side < 0 || (side == 0 && expected == Mode::OffFreewheel)) return Mode::OffFreewheel;
  return Mode::Off;
}

Mode RailCircuit::decide(std::optional<Mode> expected) {
  if (!setting_.on) return decide_off(expected);
  if (network_.current_is_state()) return decide_inductive(expected);
  const Mode above = traits_.sink > 0 ? Mode::Sinking : Mode::Holding;
  const std::optional<std::size_t> held = sensed() ? network_.port_state() : network_.terminal_state();
  if (held) {
    const double voltage = state_[*held];
    const double same = kSame * std::max(std::abs(voltage), std::abs(setting_.voltage)) + kSameVolts;
    if (voltage < setting_.voltage - same) return decide_over(expected);
    if (voltage > setting_.voltage + same) return above;
    state_[*held] = setting_.voltage;
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
    const Reading terminal = read(&StateEquations::terminal_voltage, Mode::ConstantVoltage);
    const double excess = terminal.value - setting_.voltage - *traits_.headroom;
    const int side = side_of(excess, terminal.value_noise + kSameVolts, terminal.slope - setting_.voltage_slope,
                             terminal.slope_noise);
    if (side > 0 || (side == 0 && expected == Mode::HeadroomLimited)) return Mode::HeadroomLimited;
  }
  return Mode::ConstantVoltage;
}

void RailCircuit::settle(std::optional<Mode> expected) {
  mode_ = decide(expected);
  if (mode_ == Mode::OffFreewheel && network_.port_state()) state_[*network_.port_state()] = 0;
  change_.reset();
}

const Propagator& RailCircuit::propagator(Mode mode) {
  const Drive drive = drive_of(mode);
  std::optional<Propagator>& place = propagators_[static_cast<std::size_t>(drive)];
  if (!place) place.emplace(network_, drive);
  return *place;
}

std::vector<RailCircuit::Watch> RailCircuit::watches() const {
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
      if (network_.has_inductors()) result.push_back({piece_.port_voltage.times(-1), volts, Mode::OffFreewheel});
      break;
    case Mode::OffFreewheel:
      if (!network_.current_is_state()) result.push_back({piece_.port_current.times(-1), amps, Mode::Off});
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
      if (network_.has_inductors()) result.push_back({piece_.terminal_voltage.times(-1), volts, Mode::Clamped});
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

void RailCircuit::plan(double length, bool follow) {
  const Propagator& way = propagator(mode_);
  const Driving driving = driving_of(mode_);
  way.solve(state_, driving, std::min(length, way.longest_piece(state_, driving)), piece_);
  change_.reset();
  double first = 2;
  for (const Watch& watch : follow ? watches() : std::vector<Watch>{}) {
    const SignalCurve curve(watch.signal);
    const double tolerance = std::max(kPassed * watch.scale, 1e-15 * watch.signal.magnitude()) + 1e-300;
    const std::optional<double> rise = first_rise(curve, tolerance);
    if (rise && *rise < first) {
      first = *rise;
      change_ = watch.next;
    }
  }
  const double turn = turning_point();
  if (turn < first) {
    first = turn;
    change_.reset();
  }
  if (first <= 1) way.solve(state_, driving, first * piece_.length, piece_);
}

// Where the terminals' current first changes its direction; above 1 if it does not. What goes out and what comes back
// is told apart by pieces.
double RailCircuit::turning_point() const {
  const Signal& current = piece_.terminal_current;
  const double noise = 1e-13 * current.magnitude() + kSameAmps;
  const Bounds bounds = current.bounds(0, 1);
  if (bounds.low > -noise || bounds.high < noise) return 2;
  const double rise = first_rise(SignalCurve(current), noise).value_or(2);
  const double fall = first_rise(SignalCurve(current.times(-1)), noise).value_or(2);
  // A current that starts away from zero leaves it behind; only the later crossing is one.
  const double start = current.value(0);
  const double turn = start > noise ? fall : start < -noise ? rise : std::max(std::min(rise, fall), 1e-3);
  return turn > 1e-12 ? turn : 2;
}

void RailCircuit::cut(double length) {
  if (length >= piece_.length) return;
  propagator(mode_).solve(state_, driving_of(mode_), length, piece_);
  change_.reset();
}

void RailCircuit::advance() {
  for (std::size_t i = 0; i < state_.size(); ++i) state_[i] = piece_.states[i].value(1);
  setting_.voltage += setting_.voltage_slope * piece_.length;
  setting_.limit += setting_.limit_slope * piece_.length;
}

double RailCircuit::stored_energy() const {
  double sum = 0;
  for (std::size_t i = 0; i < state_.size(); ++i) sum += network_.load_storage()[i] * state_[i] * state_[i] / 2;
  return sum;
}

double RailCircuit::terminal_voltage() const {
  return read(&StateEquations::terminal_voltage, mode_).value;
}
double RailCircuit::terminal_current() const {
  return read(&StateEquations::terminal_current, mode_).value;
}
double RailCircuit::regulator_current() const {
  return read(&StateEquations::regulator_current, mode_).value;
}
double RailCircuit::port_voltage() const {
  return read(&StateEquations::port_voltage, mode_).value;
}

}  // namespace rampart::circuit
