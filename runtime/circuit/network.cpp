#include "runtime/circuit/network.h"

#include <cmath>

namespace rampart::circuit {
namespace {

// Sums and multiples of forms, so that Kirchhoff's laws below read as they are written on paper.
class Algebra {
 public:
  explicit Algebra(std::size_t states) : states_(states) {}

  [[nodiscard]] Form zero() const { return {std::vector<double>(states_, 0.0), 0, 0, 0}; }
  [[nodiscard]] Form state(std::size_t index) const {
    Form form = zero();
    form.state[index] = 1;
    return form;
  }
  [[nodiscard]] Form drive() const {
    Form form = zero();
    form.drive = 1;
    return form;
  }
  [[nodiscard]] Form slope() const {
    Form form = zero();
    form.slope = 1;
    return form;
  }
  [[nodiscard]] Form constant(double value) const {
    Form form = zero();
    form.constant = value;
    return form;
  }

 private:
  std::size_t states_;
};

Form combine(const Form& a, const Form& b, double factor) {
  Form result = a;
  for (std::size_t i = 0; i < result.state.size(); ++i) result.state[i] += factor * b.state[i];
  result.drive += factor * b.drive;
  result.slope += factor * b.slope;
  result.constant += factor * b.constant;
  return result;
}

Form operator+(const Form& a, const Form& b) {
  return combine(a, b, 1);
}
Form operator-(const Form& a, const Form& b) {
  return combine(a, b, -1);
}
Form operator*(double factor, const Form& a) {
  return combine(Form{std::vector<double>(a.state.size(), 0.0), 0, 0, 0}, a, factor);
}

}  // namespace

Network::Network(Parts parts) : parts_(std::move(parts)) {
  double merged = parts_.wire == 0 ? parts_.output_capacitance : 0;
  for (const auto& [capacitor, element] : parts_.capacitors) {
    if (capacitor.esr > 0) {
      capacitor_states_.emplace_back(storage_.size());
      storage_.push_back(capacitor.capacitance);
      conductance_ += 1 / capacitor.esr;
    } else {
      capacitor_states_.emplace_back(std::nullopt);
      port_capacitance_ += capacitor.capacitance;
      if (capacitor.leakage) conductance_ += 1 / *capacitor.leakage;
    }
  }
  for (const auto& [inductor, element] : parts_.inductors) {
    inductor_states_.push_back(storage_.size());
    storage_.push_back(inductor.inductance);
  }
  for (const auto& [resistor, element] : parts_.resistors) conductance_ += 1 / resistor.resistance;
  for (const auto& [source, element] : parts_.sources) conductance_ += 1 / source.resistance;
  merged += port_capacitance_;
  if (merged > 0) {
    port_state_ = storage_.size();
    storage_.push_back(merged);
  }
  if (parts_.wire == 0) {
    terminal_state_ = port_state_;
  } else if (parts_.output_capacitance > 0) {
    terminal_state_ = storage_.size();
    storage_.push_back(parts_.output_capacitance);
  }
  load_storage_ = storage_;
  if (port_state_) load_storage_[*port_state_] = port_capacitance_;
  if (terminal_state_ && terminal_state_ != port_state_) load_storage_[*terminal_state_] = 0;
  for (std::size_t drive = 0; drive < kDriveCount; ++drive) {
    equations_.push_back(derive(static_cast<Drive>(drive)));
  }
}

bool Network::keeps_charge() const {
  if (!parts_.resistors.empty() || !parts_.sources.empty() || !parts_.inductors.empty()) return false;
  for (const auto& [capacitor, element] : parts_.capacitors) {
    if (capacitor.leakage) return false;
  }
  return port_state_ || terminal_state_ || !parts_.capacitors.empty();
}

std::vector<double> Network::initial_state() const {
  std::vector<double> state(storage_.size(), 0.0);
  double charge = 0;
  for (std::size_t i = 0; i < parts_.capacitors.size(); ++i) {
    const Capacitor& capacitor = parts_.capacitors[i].part;
    if (capacitor_states_[i]) {
      state[*capacitor_states_[i]] = capacitor.initial_voltage;
    } else {
      charge += capacitor.capacitance * capacitor.initial_voltage;
    }
  }
  // Capacitors side by side have shared their charge by the time the run begins.
  if (port_capacitance_ > 0) state[*port_state_] = charge / storage_[*port_state_];
  for (std::size_t i = 0; i < parts_.inductors.size(); ++i) {
    state[inductor_states_[i]] = parts_.inductors[i].part.initial_current;
  }
  return state;
}

StateEquations Network::derive(Drive drive) const {
  const Algebra algebra(storage_.size());
  const double wire = parts_.wire;
  const bool off = drive == Drive::Off || drive == Drive::OffShorted;
  const bool voltage = drive == Drive::Voltage;
  const bool sensed = drive == Drive::SensedVoltage;
  const double off_conductance = off && parts_.off_resistance ? 1 / *parts_.off_resistance : 0;
  const Form imposed_current = drive == Drive::Current ? algebra.drive() : algebra.zero();

  // The current into the elements at the port is conductance * v + inner.
  Form inner = algebra.zero();
  for (std::size_t i = 0; i < parts_.capacitors.size(); ++i) {
    if (capacitor_states_[i])
      inner = inner - (1 / parts_.capacitors[i].part.esr) * algebra.state(*capacitor_states_[i]);
  }
  for (const std::size_t state : inductor_states_) inner = inner + algebra.state(state);
  for (const auto& [source, element] : parts_.sources) {
    inner = inner - algebra.constant(source.voltage / source.resistance);
  }
  // Only inductors: the currents must go on adding up to the imposed one, which fixes the voltage.
  Form inductor_voltage = algebra.zero();
  double inverse_inductance = 0;
  for (std::size_t i = 0; i < inductor_states_.size(); ++i) {
    const Inductor& inductor = parts_.inductors[i].part;
    inverse_inductance += 1 / inductor.inductance;
    inductor_voltage =
        inductor_voltage + (inductor.resistance / inductor.inductance) * algebra.state(inductor_states_[i]);
  }
  if (drive == Drive::Current) inductor_voltage = inductor_voltage + algebra.slope();
  if (inverse_inductance > 0) inductor_voltage = (1 / inverse_inductance) * inductor_voltage;

  StateEquations result;
  result.rates.assign(storage_.size(), algebra.zero());
  Form port = algebra.zero();
  Form terminal = algebra.zero();
  Form wire_current = algebra.zero();
  const bool separate_terminal = wire > 0 && terminal_state_.has_value();

  if (drive == Drive::OffShorted) {
    terminal = separate_terminal ? algebra.state(*terminal_state_) : algebra.zero();
    if (wire > 0) wire_current = (1 / wire) * terminal;
  } else if (voltage || sensed) {
    if (sensed || wire == 0) {
      port = algebra.drive();
    } else if (port_state_) {
      port = algebra.state(*port_state_);
    } else {
      port = (1 / (conductance_ * wire + 1)) * (algebra.drive() - wire * inner);
    }
    wire_current = conductance_ * port + inner;
    if (sensed || wire == 0) wire_current = wire_current + port_capacitance_ * algebra.slope();
    terminal = voltage ? algebra.drive() : port + wire * wire_current;
    if (voltage && wire > 0) wire_current = (1 / wire) * (terminal - port);
  } else {
    if (port_state_) {
      port = algebra.state(*port_state_);
    }
    if (separate_terminal) {
      terminal = algebra.state(*terminal_state_);
      if (!port_state_) port = (1 / (conductance_ * wire + 1)) * (terminal - wire * inner);
      wire_current = (1 / wire) * (terminal - port);
    } else {
      const double spread = 1 + off_conductance * wire;
      if (!port_state_) {
        const double total = conductance_ * spread + off_conductance;
        if (total > 0) {
          port = (1 / total) * (imposed_current - spread * inner);
        } else {
          port = inductor_voltage;
        }
      }
      wire_current = (1 / spread) * (imposed_current - off_conductance * port);
      terminal = port + wire * wire_current;
    }
  }

  result.port_voltage = port;
  result.port_current = conductance_ * port + inner;
  result.terminal_voltage = terminal;
  result.terminal_current = wire_current;

  for (std::size_t i = 0; i < parts_.capacitors.size(); ++i) {
    if (!capacitor_states_[i]) continue;
    const Capacitor& capacitor = parts_.capacitors[i].part;
    const Form own = algebra.state(*capacitor_states_[i]);
    Form rate = (1 / (capacitor.capacitance * capacitor.esr)) * (port - own);
    if (capacitor.leakage) rate = rate - (1 / (capacitor.capacitance * *capacitor.leakage)) * own;
    result.rates[*capacitor_states_[i]] = rate;
  }
  for (std::size_t i = 0; i < inductor_states_.size(); ++i) {
    const Inductor& inductor = parts_.inductors[i].part;
    result.rates[inductor_states_[i]] =
        (1 / inductor.inductance) * (port - inductor.resistance * algebra.state(inductor_states_[i]));
  }
  if (port_state_) {
    Form& rate = result.rates[*port_state_];
    if (voltage && wire == 0) {
      rate = algebra.slope();
      result.imposed = port_state_;
    } else if (sensed) {
      rate = algebra.slope();
      result.imposed = port_state_;
    } else if (drive != Drive::OffShorted) {
      rate = (1 / storage_[*port_state_]) * (wire_current - result.port_current);
      // Without a wire, the part of the current that the output capacitance gives does come out of the terminals.
      if (wire == 0) result.terminal_current = result.port_current + port_capacitance_ * rate;
    }
  }
  result.regulator_current = result.terminal_current;
  if (separate_terminal) {
    Form& rate = result.rates[*terminal_state_];
    if (voltage) {
      rate = algebra.slope();
      result.imposed = terminal_state_;
      result.regulator_current = wire_current + parts_.output_capacitance * algebra.slope();
    } else if (sensed) {
      rate = algebra.zero();
    } else {
      rate = (1 / parts_.output_capacitance) * (imposed_current - off_conductance * terminal - result.terminal_current);
    }
  } else if (voltage && wire == 0 && terminal_state_) {
    result.regulator_current = wire_current + parts_.output_capacitance * algebra.slope();
  }
  if (drive == Drive::Current) result.regulator_current = imposed_current;
  if (off) result.regulator_current = algebra.zero();
  return result;
}

}  // namespace rampart::circuit
