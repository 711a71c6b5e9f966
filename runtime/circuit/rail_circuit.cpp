#include "runtime/circuit/rail_circuit.h"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

namespace rampart::circuit {
namespace {

auto figures(const Resistor& part) {
  return std::tuple(part.resistance);
}
auto figures(const Capacitor& part) {
  return std::tuple(part.capacitance, part.esr, part.leakage, part.initial_voltage);
}
auto figures(const Inductor& part) {
  return std::tuple(part.inductance, part.resistance, part.initial_current);
}
auto figures(const Source& part) {
  return std::tuple(part.voltage, part.resistance);
}

template <class Part>
bool same_parts(const std::vector<Numbered<Part>>& a, const std::vector<Numbered<Part>>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const Numbered<Part>& one, const Numbered<Part>& other) {
    return one.element == other.element && figures(one.part) == figures(other.part);
  });
}

bool same_parts(const Parts& a, const Parts& b) {
  const auto alone = [](const Parts& parts) {
    return std::tuple(parts.wire, parts.output_capacitance, parts.output_voltage, parts.off_resistance, parts.elements);
  };
  return alone(a) == alone(b) && same_parts(a.resistors, b.resistors) && same_parts(a.capacitors, b.capacitors) &&
         same_parts(a.inductors, b.inductors) && same_parts(a.sources, b.sources);
}

using Ways = std::array<std::shared_ptr<const Propagator>, kDriveCount>;

// A network and the ways through it that were asked for.
struct Solved {
  std::shared_ptr<const Network> network;
  Ways ways;
};

// The networks that a thread has come to last. Runs of one profile come to the same few again and again, and what is
// found of a network follows from its parts alone.
class LastSolved {
 public:
  std::shared_ptr<const Network> network_of(Parts parts) {
    for (const Solved& one : solved_) {
      if (same_parts(one.network->parts(), parts)) return one.network;
    }
    auto network = std::make_shared<const Network>(std::move(parts));
    if (solved_.size() < kMost) solved_.emplace_back();
    solved_[next_] = {network, {}};
    next_ = (next_ + 1) % kMost;
    return network;
  }

  std::shared_ptr<const Propagator> way(const std::shared_ptr<const Network>& network, Drive drive) {
    for (Solved& one : solved_) {
      if (one.network != network) continue;
      std::shared_ptr<const Propagator>& place = one.ways[static_cast<std::size_t>(drive)];
      if (!place) place = std::make_shared<const Propagator>(*network, drive);
      return place;
    }
    return std::make_shared<const Propagator>(*network, drive);
  }

 private:
  static constexpr std::size_t kMost = 32;
  std::vector<Solved> solved_;
  std::size_t next_ = 0;
};

LastSolved& last_solved() {
  thread_local LastSolved solved;
  return solved;
}

}  // namespace

RailCircuit::RailCircuit(Parts parts, OutputTraits traits)
    : Circuit(traits), network_(last_solved().network_of(std::move(parts))), state_(network_->initial_state()) {}

std::unique_ptr<Circuit> RailCircuit::copy() const {
  auto result = std::make_unique<RailCircuit>(*this);
  result->gains_.assign(state_.size(), {});
  return result;
}

Circuit::Reading RailCircuit::read(const Form& form, const StateEquations& equations, const Driving& driving) const {
  // Value and sum of magnitudes of a form at the present instant.
  const auto evaluate = [&](const Form& f) {
    Fine value = f.drive * driving.value + f.slope * driving.slope + f.constant;
    Fine size = std::abs(f.drive * driving.value) + std::abs(f.slope * driving.slope) + std::abs(f.constant);
    for (std::size_t i = 0; i < state_.size(); ++i) {
      value += f.state[i] * state_[i];
      size += std::abs(f.state[i] * state_[i]);
    }
    return std::pair(value, size);
  };
  const auto [value, size] = evaluate(form);
  Fine slope = form.drive * driving.slope;
  Fine slope_size = std::abs(slope);
  for (std::size_t i = 0; i < state_.size(); ++i) {
    if (form.state[i] == 0) continue;
    const auto [rate, rate_size] = evaluate(equations.rates[i]);
    slope += form.state[i] * rate;
    slope_size += std::abs(form.state[i]) * rate_size;
  }
  return {static_cast<double>(value), static_cast<double>(slope), static_cast<double>(1e-14 * size),
          static_cast<double>(1e-13 * slope_size)};
}

Circuit::Reading RailCircuit::read(Quantity quantity, Mode mode) const {
  const StateEquations& equations = network_->equations(drive_of(mode));
  switch (quantity) {
    case Quantity::TerminalVoltage:
      return read(equations.terminal_voltage, equations, driving_of(mode));
    case Quantity::TerminalCurrent:
      return read(equations.terminal_current, equations, driving_of(mode));
    case Quantity::RegulatorCurrent:
      return read(equations.regulator_current, equations, driving_of(mode));
    case Quantity::PortVoltage:
      break;
  }
  return read(equations.port_voltage, equations, driving_of(mode));
}

std::optional<double> RailCircuit::held_voltage() const {
  const bool at_load = sensed() && !compensates();
  const std::optional<std::size_t> held = at_load ? network_->port_state() : network_->terminal_state();
  if (held) return state_[*held];
  if (!held_terminals()) return std::nullopt;
  return read(Quantity::PortVoltage, Mode::Holding).value;
}

void RailCircuit::hold(double voltage) {
  const std::optional<std::size_t> held = sensed() ? network_->port_state() : network_->terminal_state();
  if (held) put(*held, voltage);
}

std::optional<double> RailCircuit::held_terminals() const {
  if (!sensed() || !network_->terminal_state()) return std::nullopt;
  return state_[*network_->terminal_state()];
}

Mode RailCircuit::decide_off(std::optional<Mode> expected) const {
  if (!network_->has_inductors()) return Mode::Off;
  if (network_->current_is_state() && !network_->parts().off_resistance) {
    double current = 0;
    for (std::size_t i = 0; i < network_->parts().inductors.size(); ++i) current += state_[network_->inductor_state(i)];
    return current > kSameAmps ? Mode::OffFreewheel : Mode::Off;
  }
  const Reading voltage = read(Quantity::PortVoltage, Mode::Off);
  const int side = side_of(voltage.value, voltage.value_noise + kSameVolts, voltage.slope, voltage.slope_noise);
  if (side < 0 || (side == 0 && expected == Mode::OffFreewheel)) return Mode::OffFreewheel;
  return Mode::Off;
}

void RailCircuit::settle(std::optional<Mode> expected) {
  mode_ = decide(expected);
  if (leads_terminals(mode_)) put(*network_->terminal_state(), terminal_voltage());
  if (mode_ == Mode::OffFreewheel && network_->port_state()) {
    const double before = stored_energy();
    put(*network_->port_state(), 0);
    note_jump(before - stored_energy());
  }
  change_.reset();
}

const Propagator& RailCircuit::propagator(Mode mode) {
  const Drive drive = drive_of(mode);
  std::shared_ptr<const Propagator>& place = propagators_[static_cast<std::size_t>(drive)];
  if (!place) place = last_solved().way(network_, drive);
  return *place;
}

void RailCircuit::plan(double length) {
  const Propagator& way = propagator(mode_);
  const Driving driving = driving_of(mode_);
  way.solve(state_, driving, length, piece_);
  change_.reset();
  double first = 2;
  watched_.clear();
  if (follow_ != Follow::Nothing) find_watches(watched_);
  for (Watch& watch : watched_) {
    const double tolerance = std::max(kPassed * watch.scale, 1e-15 * watch.signal.magnitude()) + kSameAmps;
    const SignalCurve curve(std::move(watch.signal));
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
  if (first <= 1) way.shorten(state_, driving, first, piece_);
}

// Where only inductors take current, their sum is the imposed one itself; rounding must not let it drift away.
void RailCircuit::keep_limit() {
  const bool is_imposed = (mode_ == Mode::ConstantCurrent && network_->current_is_state()) ||
                          (mode_ == Mode::HeadroomLimited && network_->only_inductors());
  if (!is_imposed) return;
  double missing = driving_of(mode_).value;
  double inverse = 0;
  const auto& inductors = network_->parts().inductors;
  for (std::size_t i = 0; i < inductors.size(); ++i) {
    missing -= state_[network_->inductor_state(i)];
    inverse += 1 / inductors[i].part.inductance;
  }
  for (std::size_t i = 0; i < inductors.size(); ++i) {
    const std::size_t place = network_->inductor_state(i);
    put(place, state_[place] + missing / inverse / inductors[i].part.inductance);
  }
}

void RailCircuit::put(std::size_t place, double value, double change) {
  const double before = std::exchange(state_[place], value);
  if (gains_.empty()) return;
  double jump = value - before;
  if (std::abs(jump) <= kSame * std::max(std::abs(before), std::abs(value))) jump = 0;
  gains_[place].gained += jump + change;
  gains_[place].moved += std::abs(jump) + std::abs(change);
}

void RailCircuit::cut(double length) {
  if (length >= piece_.length) return;
  propagator(mode_).shorten(state_, driving_of(mode_), length / piece_.length, piece_);
  change_.reset();
}

void RailCircuit::advance() {
  for (std::size_t i = 0; i < state_.size(); ++i) {
    if (!gains_.empty()) put(i, piece_.states[i].value(0), piece_.states[i].change());
    state_[i] = piece_.states[i].value(1);
  }
  setting_.voltage += setting_.voltage_slope * piece_.length;
  setting_.limit += setting_.limit_slope * piece_.length;
  keep_limit();
}

double RailCircuit::stored_energy() const {
  double sum = 0;
  for (std::size_t i = 0; i < state_.size(); ++i) sum += network_->load_storage()[i] * state_[i] * state_[i] / 2;
  return sum;
}

void RailCircuit::add_losses(std::vector<double>& elements) const {
  const Parts& parts = network_->parts();
  const double length = piece_.length;
  const Signal& port = piece_.port_voltage;
  if (parts.elements == 0) return;
  const double squared = length * integral_of_product(port, port);
  for (const auto& [resistor, element] : parts.resistors) elements[element] += squared / resistor.resistance;
  for (std::size_t i = 0; i < parts.capacitors.size(); ++i) {
    const auto& [capacitor, element] = parts.capacitors[i];
    const auto state = network_->capacitor_state(i);
    if (state) {
      const Signal& own = piece_.states[*state];
      const Signal across = port.minus(own);
      elements[element] += length * integral_of_product(across, across) / capacitor.esr;
      if (capacitor.leakage) {
        elements[element] += length * integral_of_product(own, own) / *capacitor.leakage;
      }
    } else if (capacitor.leakage) {
      elements[element] += squared / *capacitor.leakage;
    }
  }
  for (std::size_t i = 0; i < parts.inductors.size(); ++i) {
    const auto& [inductor, element] = parts.inductors[i];
    const Signal& current = piece_.states[network_->inductor_state(i)];
    elements[element] += length * inductor.resistance * integral_of_product(current, current);
  }
  for (const auto& [source, element] : parts.sources) {
    const Signal across = port.plus_line(-source.voltage, 0);
    elements[element] += length * integral_of_product(port, across) / source.resistance;
  }
}

double RailCircuit::held_by(std::size_t element) const {
  const Parts& parts = network_->parts();
  for (std::size_t i = 0; i < parts.capacitors.size(); ++i) {
    const std::optional<std::size_t> state = network_->capacitor_state(i);
    if (parts.capacitors[i].element == element && state) return state_[*state];
  }
  for (std::size_t i = 0; i < parts.inductors.size(); ++i) {
    if (parts.inductors[i].element == element) return state_[network_->inductor_state(i)];
  }
  return port_voltage();
}

Snapshot RailCircuit::snapshot(double volts, double amps) const {
  Snapshot result;
  result.numbers = state_;
  result.scales.assign(result.numbers.size(), volts);
  for (std::size_t i = 0; i < network_->parts().inductors.size(); ++i)
    result.scales[network_->inductor_state(i)] = amps;
  return result;
}

}  // namespace rampart::circuit
