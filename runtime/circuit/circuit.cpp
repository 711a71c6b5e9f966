#include "runtime/circuit/circuit.h"

#include <algorithm>
#include <cmath>

// Which limit an output follows, and when that changes.
//
// In each mode one quantity is imposed (Drive): the terminals' voltage, the regulator's current, or with remote sense
// the voltage at the load or the current through the wire. All others follow from the load. A mode ends when a quantity
// that it leaves free reaches a limit of its own: in constant voltage the current reaches the limit, in constant
// current the voltage reaches the setpoint, and so on. find_watches() lists these for the planned piece, each as a
// signal that rises through zero, with the mode that follows.
//
// decide() finds the mode of an instant from the state alone, after a jump of the setpoint or a change:
//   1. Off: no current, or a coil that keeps its own going.
//   2. Only coils take current: it cannot jump, so it is compared with the limit as it stands.
//   3. A capacitance holds the voltage that the output measures: below the setpoint the output gives the limit, above
//   it
//      nothing (or takes in what it can), at it the next step tells.
//   4. Else the mode is what the load would take in constant voltage: over the limit, under zero, or between.
//   5. With remote sense the drop on the wire is compared with the headroom likewise.
// Two values that differ by less than rounding are told apart by their slopes. Where these are equal too, the change
// that the course has found before is believed (`expected`): otherwise one and the same change would be found again
// without end.
namespace rampart::circuit {
namespace {

// A: too little to tell in which direction it flows.
constexpr double kNoCurrent = 1e-9;
// So many times what makes two voltages the same tells them apart for sure.
constexpr double kClear = 100;
// How often the state may contradict a change of mode before the change is believed.
constexpr int kRefusals = 3;

}  // namespace

int side_of(double value, double tolerance, double slope, double slope_noise) {
  if (value > tolerance) return 1;
  if (value < -tolerance) return -1;
  if (slope > slope_noise) return 1;
  return slope < -slope_noise ? -1 : 0;
}

Drive Circuit::drive_of(Mode mode) const {
  switch (mode) {
    case Mode::Off:
      return Drive::Off;
    case Mode::OffFreewheel:
      return Drive::OffShorted;
    case Mode::ConstantVoltage:
      return sensed() ? Drive::SensedVoltage : Drive::Voltage;
    case Mode::HeadroomLimited:
      return Drive::WireCurrent;
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
      return {headroom_current(), 0};
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

// How far the terminals stand above the load, against the headroom. Without capacitance at the terminals nothing keeps
// them from going there at once.
Circuit::Side Circuit::compare_headroom() const {
  const std::optional<double> held = held_terminals();
  if (!held) return Side::Within;
  const double excess = *held - read(Quantity::PortVoltage, Mode::Holding).value - *traits_.headroom;
  const double same = same_ * std::max(std::abs(*held), *traits_.headroom) + kSameVolts;
  if (excess > same) return Side::Over;
  return excess < -same ? Side::Under : Side::Within;
}

// At its headroom the output gives what the wire lets through and what its own capacitance needs to go with the load.
Mode Circuit::decide_headroom(std::optional<Mode> expected) const {
  const Reading current = read(Quantity::RegulatorCurrent, Mode::HeadroomLimited);
  const int over = side_of(current.value - setting_.limit, current.value_noise + kSame * setting_.limit,
                           current.slope - setting_.limit_slope, current.slope_noise);
  if (over > 0 || (over == 0 && expected == Mode::ConstantCurrent)) return Mode::ConstantCurrent;
  const int under = side_of(-traits_.sink - current.value, current.value_noise + kSame * traits_.sink + kSameAmps,
                            -current.slope, current.slope_noise);
  return under > 0 || (under == 0 && expected == above()) ? above() : Mode::HeadroomLimited;
}

// The load would take more than the limit, or its capacitance is still below the setpoint.
Mode Circuit::decide_over(std::optional<Mode> expected) const {
  if (!sensed()) return unless_clamped(Mode::ConstantCurrent, expected);
  switch (compare_headroom()) {
    case Side::Over:
      return unless_clamped(above(), expected);
    case Side::Within:
      return unless_clamped(decide_headroom(expected), expected);
    case Side::Under:
      break;
  }
  return unless_clamped(Mode::ConstantCurrent, expected);
}

// No output lets its terminals go below 0 V.
Mode Circuit::unless_clamped(Mode mode, std::optional<Mode> expected) const {
  if (!has_inductors()) return mode;
  const Reading voltage = read(Quantity::TerminalVoltage, mode);
  const int side = side_of(voltage.value, voltage.value_noise + kSameVolts, voltage.slope, voltage.slope_noise);
  return side < 0 || (side == 0 && expected == Mode::Clamped) ? Mode::Clamped : mode;
}

Circuit::Ceiling Circuit::ceiling() const {
  if (sensed() && headroom_current() < setting_.limit) return {Mode::HeadroomLimited, headroom_current(), 0};
  return {Mode::ConstantCurrent, setting_.limit, setting_.limit_slope};
}

// Only inductors take current, so it cannot jump to the limit.
Mode Circuit::decide_inductive(std::optional<Mode> expected) const {
  const Ceiling most = ceiling();
  const Reading current = read(Quantity::RegulatorCurrent, Mode::ConstantVoltage);
  const double tolerance = std::max(current.value_noise, kSame * std::abs(most.current)) + kSameAmps;
  const double excess = current.value - most.current;
  if (excess > tolerance) return Mode::Clamped;
  if (excess < -tolerance) return Mode::ConstantVoltage;
  const double noise = current.slope_noise + kSame * std::abs(most.slope);
  const double rise = current.slope - most.slope;
  if (rise < -noise || (rise <= noise && expected != most.mode)) return Mode::ConstantVoltage;
  const Reading clamped = read(Quantity::RegulatorCurrent, Mode::Clamped);
  return clamped.slope - most.slope > clamped.slope_noise ? Mode::Clamped : most.mode;
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
  if (const std::optional<double> held = held_voltage()) {
    const double wanted =
        compensates() ? read(Quantity::TerminalVoltage, Mode::ConstantVoltage).value : setting_.voltage;
    const double same = same_ * std::max(std::abs(*held), std::abs(wanted)) + kSameVolts;
    if (*held < wanted - same) return decide_over(expected);
    if (*held > wanted + same) return above();
    if (!compensates()) hold(setting_.voltage);
  }
  switch (compare_current(expected)) {
    case Side::Over:
      return decide_over(expected);
    case Side::Under:
      return above();
    case Side::Within:
      break;
  }
  return sensed() ? decide_sensed(expected) : Mode::ConstantVoltage;
}

// The load stands at the setpoint, and its current may be more than remote sense can bring there.
Mode Circuit::decide_sensed(std::optional<Mode> expected) const {
  const Reading current = read(Quantity::TerminalCurrent, Mode::ConstantVoltage);
  const double most = headroom_current();
  const int side = side_of(current.value - most, std::max(current.value_noise, kSame * most) + kSameAmps, current.slope,
                           current.slope_noise);
  if (side < 0 || (side == 0 && expected != Mode::HeadroomLimited)) return Mode::ConstantVoltage;
  if (compare_headroom() == Side::Over) return unless_clamped(above(), expected);
  return unless_clamped(decide_headroom(expected), expected);
}

// What the output measures, above what it is set to. Where it compensates, its terminals above where they have to be.
Signal Circuit::above_setpoint() const {
  const bool at_load = sensed() && !compensates();
  Signal above = (at_load ? piece_.port_voltage : piece_.terminal_voltage)
                     .plus_line(-setting_.voltage, -setting_.voltage_slope * piece_.length);
  if (!compensates()) return above;
  return above.minus(piece_.port_current.times(wire()))
      .plus_line(-wire() * port_capacitance() * setting_.voltage_slope, 0);
}

// The drop on the wire, above what remote sense may add.
Signal Circuit::above_headroom() const {
  return piece_.terminal_voltage.minus(piece_.port_voltage).plus_line(-*traits_.headroom, 0);
}

void Circuit::find_watches(std::vector<Watch>& found) const {
  const double length = piece_.length;
  const double top = setting_.voltage;
  const double top_slope = setting_.voltage_slope * length;
  const double limit_slope = setting_.limit_slope * length;
  const double volts = std::max(std::abs(top), std::abs(top + top_slope));
  const double amps = std::max(std::abs(setting_.limit), std::abs(setting_.limit + limit_slope));
  const Signal& current = piece_.regulator_current;
  // What stays below zero for the whole piece is not watched.
  const Bounds currents = current.bounds(0, 1);
  found.clear();
  const auto over_limit = [&](Mode next) {
    if (currents.high <= setting_.limit + std::min(limit_slope, 0.0)) return;
    found.push_back({current.plus_line(-setting_.limit, -limit_slope), amps, next});
  };
  const auto under_sink = [&] {
    if (-currents.low <= traits_.sink) return;
    Signal under = current.times(-1);
    under.add_line(-traits_.sink, 0);
    found.push_back({std::move(under), amps, above()});
  };
  switch (mode_) {
    case Mode::Off:
      if (has_inductors()) found.push_back({piece_.port_voltage.times(-1), volts, Mode::OffFreewheel});
      break;
    case Mode::OffFreewheel:
      if (!current_is_state()) found.push_back({piece_.port_current.times(-1), amps, Mode::Off});
      break;
    case Mode::ConstantVoltage:
      over_limit(Mode::ConstantCurrent);
      under_sink();
      if (sensed()) found.push_back({above_headroom(), volts, Mode::HeadroomLimited});
      break;
    case Mode::HeadroomLimited:
      over_limit(Mode::ConstantCurrent);
      under_sink();
      found.push_back({above_setpoint(), volts, Mode::ConstantVoltage});
      break;
    case Mode::ConstantCurrent:
      found.push_back({above_setpoint(), volts, Mode::ConstantVoltage});
      if (sensed()) found.push_back({above_headroom(), volts, Mode::HeadroomLimited});
      break;
    case Mode::Clamped: {
      const Ceiling most = ceiling();
      found.push_back({current.times(-1).plus_line(most.current, most.slope * length), amps, most.mode});
      break;
    }
    case Mode::Holding:
    case Mode::Sinking: {
      // Of the two that can make it hold, that which does.
      const double clear = kClear * same_ * (volts + std::abs(piece_.terminal_voltage.value(0)));
      const auto goes_over = [&](const Signal& excess) {
        const double start = excess.value(0);
        return start > clear || (start >= -clear && excess.derivative().value(0) > 0);
      };
      const Signal over = above_setpoint();
      const bool is_ahead = held_terminals() && goes_over(above_headroom());
      if (!is_ahead || goes_over(over)) found.push_back({over.times(-1), volts, Mode::ConstantVoltage});
      if (is_ahead) found.push_back({above_headroom().times(-1), volts, Mode::HeadroomLimited});
      break;
    }
  }
  const bool may_clamp = mode_ == Mode::ConstantCurrent || mode_ == Mode::HeadroomLimited ||
                         ((mode_ == Mode::Holding || mode_ == Mode::Sinking) && held_terminals());
  if (may_clamp && has_inductors()) found.push_back({piece_.terminal_voltage.times(-1), volts, Mode::Clamped});
}

// Where the terminals' current first changes its direction, as a share of the piece; above 1 if it does not. Pieces end
// there, so that the energy of a piece is either given or taken back.
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
