#include "runtime/circuit/network.h"

#include <cmath>

#include "lang/text/overloaded.h"

namespace rampart::circuit {
namespace {

// Sums and multiples of forms, so that Kirchhoff's laws below read as they are written on paper.
class Algebra {
 public:
  explicit Algebra(std::size_t states) : states_(states) {}

  [[nodiscard]] Form zero() const { return {std::vector<Fine>(states_, 0), 0, 0, 0}; }
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
  [[nodiscard]] Form constant(Fine value) const {
    Form form = zero();
    form.constant = value;
    return form;
  }

 private:
  std::size_t states_;
};

Form combine(const Form& a, const Form& b, Fine factor) {
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
Form operator*(Fine factor, const Form& a) {
  return combine(Form{std::vector<Fine>(a.state.size(), 0), 0, 0, 0}, a, factor);
}

}  // namespace

void Parts::add(const LinearPart& part, std::size_t element) {
  std::visit(Overloaded{
                 [&](const Resistor& one) {
                   resistors.push_back({one, element});
                 },
                 [&](const Capacitor& one) {
                   capacitors.push_back({one, element});
                 },
                 [&](const Inductor& one) {
                   inductors.push_back({one, element});
                 },
                 [&](const Source& one) {
                   sources.push_back({one, element});
                 },
             },
             part);
}

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
  double charge = parts_.wire == 0 ? parts_.output_capacitance * parts_.output_voltage : 0;
  for (std::size_t i = 0; i < parts_.capacitors.size(); ++i) {
    const Capacitor& capacitor = parts_.capacitors[i].part;
    if (capacitor_states_[i]) {
      state[*capacitor_states_[i]] = capacitor.initial_voltage;
    } else {
      charge += capacitor.capacitance * capacitor.initial_voltage;
    }
  }
  // Capacitors side by side have shared their charge by the time the run begins.
  if (port_state_) state[*port_state_] = charge / storage_[*port_state_];
  if (terminal_state_ && terminal_state_ != port_state_) state[*terminal_state_] = parts_.output_voltage;
  for (std::size_t i = 0; i < parts_.inductors.size(); ++i) {
    state[inductor_states_[i]] = parts_.inductors[i].part.initial_current;
  }
  return state;
}

// A conductance from the port to a potential.
struct Network::Leg {
  Fine conductance = 0;
  Form potential;
  bool charges = false;  // the potential is that of a capacitor
};

std::vector<Network::Leg> Network::legs() const {
  const Algebra algebra(storage_.size());
  std::vector<Leg> result;
  for (std::size_t i = 0; i < parts_.capacitors.size(); ++i) {
    const Capacitor& capacitor = parts_.capacitors[i].part;
    if (capacitor_states_[i]) {
      result.push_back({1 / Fine(capacitor.esr), algebra.state(*capacitor_states_[i]), true});
    } else if (capacitor.leakage) {
      result.push_back({1 / Fine(*capacitor.leakage), algebra.zero(), false});
    }
  }
  for (const auto& [resistor, element] : parts_.resistors)
    result.push_back({1 / Fine(resistor.resistance), algebra.zero(), false});
  for (const auto& [source, element] : parts_.sources) {
    result.push_back({1 / Fine(source.resistance), algebra.constant(source.voltage), false});
  }
  return result;
}

namespace {

// The port without a capacitance: where the currents of all legs and the one that is brought in add up to nothing. Sums
// of differences of potentials, so that legs of very unlike conductance lose no digits to each other.
class PortNode {
 public:
  explicit PortNode(Form brought) : brought_(std::move(brought)) {}

  void add(Fine conductance, Form potential) {
    total_ += conductance;
    std::vector<std::size_t> states = states_in(potential);
    legs_.push_back({conductance, std::move(potential), std::move(states)});
  }
  [[nodiscard]] bool has_conductance() const { return total_ > 0; }

  // The port's voltage above a potential. Most potentials are one state each, and no other counts in their difference.
  [[nodiscard]] Form above(const Form& potential) const {
    Form sum = brought_;
    const std::vector<std::size_t> own = states_in(potential);
    for (const auto& [conductance, other, states] : legs_) {
      for (const std::size_t i : states) sum.state[i] += conductance * (other.state[i] - potential.state[i]);
      for (const std::size_t i : own) {
        if (other.state[i] == 0) sum.state[i] -= conductance * potential.state[i];
      }
      sum.drive += conductance * (other.drive - potential.drive);
      sum.slope += conductance * (other.slope - potential.slope);
      sum.constant += conductance * (other.constant - potential.constant);
    }
    return (1 / total_) * sum;
  }

 private:
  struct Leg {
    Fine conductance;
    Form potential;
    std::vector<std::size_t> states;  // that it depends on
  };

  static std::vector<std::size_t> states_in(const Form& potential) {
    std::vector<std::size_t> states;
    for (std::size_t i = 0; i < potential.state.size(); ++i) {
      if (potential.state[i] != 0) states.push_back(i);
    }
    return states;
  }

  Form brought_;
  std::vector<Leg> legs_;
  Fine total_ = 0;
};

}  // namespace

// What is imposed, in terms of the port: a leg to a potential, or a current brought in.
struct Network::Feed {
  bool imposed_port = false;     // the port is held at the driving value
  bool compensates = false;      // the port closes in on the driving value
  std::optional<Form> terminal;  // a potential behind the wire
  Form current;                  // brought to the port
  Fine ground_conductance = 0;   // the off resistance behind the wire
};

Network::Feed Network::feed_of(Drive drive) const {
  const Algebra algebra(storage_.size());
  const bool off = drive == Drive::Off || drive == Drive::OffShorted;
  Feed feed{false, false, std::nullopt, algebra.zero(), 0};
  if (drive == Drive::WireCurrent) {
    feed.current = algebra.drive();
    return feed;
  }
  if (drive == Drive::SensedVoltage && compensates()) {
    feed.compensates = true;
  } else if (drive == Drive::SensedVoltage || (drive == Drive::Voltage && parts_.wire == 0)) {
    feed.imposed_port = true;
  } else if (drive == Drive::Voltage) {
    feed.terminal = algebra.drive();
  } else if (parts_.wire > 0 && terminal_state_) {
    feed.terminal = algebra.state(*terminal_state_);
  } else if (off && parts_.off_resistance) {
    feed.ground_conductance = 1 / (Fine(*parts_.off_resistance) + parts_.wire);
  } else if (drive == Drive::Current) {
    feed.current = algebra.drive();
  }
  return feed;
}

// Only inductors: their currents must go on adding up to the imposed one, which fixes the voltage.
Form Network::inductive_voltage(Drive drive) const {
  const Algebra algebra(storage_.size());
  const bool is_imposed = drive == Drive::Current || drive == Drive::WireCurrent;
  Form voltage = is_imposed ? algebra.slope() : algebra.zero();
  Fine inverse = 0;
  for (std::size_t i = 0; i < inductor_states_.size(); ++i) {
    const Inductor& inductor = parts_.inductors[i].part;
    inverse += 1 / Fine(inductor.inductance);
    voltage = voltage + (inductor.resistance / Fine(inductor.inductance)) * algebra.state(inductor_states_[i]);
  }
  return inverse > 0 ? (1 / inverse) * voltage : algebra.zero();
}

StateEquations Network::derive(Drive drive) const {
  const Algebra algebra(storage_.size());
  const Fine wire = parts_.wire;
  const bool off = drive == Drive::Off || drive == Drive::OffShorted;
  const Feed feed = feed_of(drive);
  Form coils = algebra.zero();
  for (const std::size_t state : inductor_states_) coils = coils + algebra.state(state);

  StateEquations result;
  PortNode node(feed.current - coils);
  for (const Leg& leg : legs()) node.add(leg.conductance, leg.potential);
  if (feed.terminal) node.add(1 / wire, *feed.terminal);
  if (feed.ground_conductance > 0) node.add(feed.ground_conductance, algebra.zero());

  // The port, and its voltage above any potential.
  Form port = algebra.zero();
  bool by_node = false;
  if (feed.imposed_port) {
    port = algebra.drive();
  } else if (drive == Drive::OffShorted) {
    port = algebra.zero();
  } else if (port_state_) {
    port = algebra.state(*port_state_);
  } else if (node.has_conductance()) {
    port = node.above(algebra.zero());
    by_node = true;
  } else {
    port = inductive_voltage(drive);
  }
  const auto above = [&](const Form& potential) { return by_node ? node.above(potential) : port - potential; };

  result.rates.assign(storage_.size(), algebra.zero());
  result.port_voltage = port;
  result.port_current = result.not_charging = coils;
  result.terminal_at_port = wire == 0 && drive != Drive::OffShorted;
  result.port_capacitance = port_capacitance_;
  if (drive == Drive::SensedVoltage) result.sensed_wire = parts_.wire;
  result.compensates = feed.compensates;
  if (feed.terminal && drive != Drive::OffShorted) result.lead_conductance = static_cast<double>(1 / wire);
  for (const Leg& leg : legs()) {
    const Form current = leg.conductance * above(leg.potential);
    result.port_current = result.port_current + current;
    if (!leg.charges) result.not_charging = result.not_charging + current;
  }

  // The current through the wire, and the terminals.
  Form wire_current = algebra.zero();
  if (feed.imposed_port) {
    wire_current = result.port_current + port_capacitance_ * algebra.slope();
  } else if (feed.compensates) {
    wire_current = result.port_current + port_capacitance_ * algebra.slope() + (1 / wire) * (algebra.drive() - port);
  } else if (feed.terminal) {
    wire_current = (-1 / wire) * above(*feed.terminal);
  } else if (feed.ground_conductance > 0) {
    wire_current = (-feed.ground_conductance) * port;
  } else {
    wire_current = feed.current;
  }
  result.terminal_voltage = feed.terminal ? *feed.terminal : port + wire * wire_current;
  if (feed.compensates) {
    result.terminal_voltage = algebra.drive() + wire * (result.port_current + port_capacitance_ * algebra.slope());
  }
  result.terminal_current = wire_current;

  for (std::size_t i = 0; i < parts_.capacitors.size(); ++i) {
    if (!capacitor_states_[i]) continue;
    const Capacitor& capacitor = parts_.capacitors[i].part;
    const Form own = algebra.state(*capacitor_states_[i]);
    Form rate = (1 / (Fine(capacitor.capacitance) * capacitor.esr)) * above(own);
    if (capacitor.leakage) rate = rate - (1 / (Fine(capacitor.capacitance) * *capacitor.leakage)) * own;
    result.charging.push_back(
        {*capacitor_states_[i], capacitor.capacitance, capacitor.leakage ? 1 / *capacitor.leakage : 0});
    result.rates[*capacitor_states_[i]] = rate;
  }
  for (std::size_t i = 0; i < inductor_states_.size(); ++i) {
    const Inductor& inductor = parts_.inductors[i].part;
    result.rates[inductor_states_[i]] =
        (1 / Fine(inductor.inductance)) * (port - inductor.resistance * algebra.state(inductor_states_[i]));
  }
  derive_nodes(drive, feed, wire_current, result);
  if (drive == Drive::Current) result.regulator_current = algebra.drive();
  if (off) result.regulator_current = algebra.zero();
  if (!separate_terminal() && drive == Drive::SensedVoltage && wire > 0) result.regulator_current = wire_current;
  return result;
}

// The voltages that capacitance holds at the port and at the terminals, and what the regulator gives to them.
void Network::derive_nodes(Drive drive, const Feed& feed, const Form& wire_current, StateEquations& result) const {
  const Algebra algebra(storage_.size());
  const Fine wire = parts_.wire;
  const bool off = drive == Drive::Off || drive == Drive::OffShorted;
  const Fine off_conductance = off && parts_.off_resistance ? 1 / Fine(*parts_.off_resistance) : 0;
  if (port_state_) {
    Form& rate = result.rates[*port_state_];
    if (feed.imposed_port) {
      rate = algebra.slope();
      result.imposed = port_state_;
    } else if (feed.compensates) {
      rate = (1 / (wire * port_capacitance_)) * (algebra.drive() - algebra.state(*port_state_)) + algebra.slope();
    } else if (drive != Drive::OffShorted) {
      rate = (1 / Fine(storage_[*port_state_])) * (wire_current - result.port_current);
      // Without a wire, the part of the current that the output capacitance gives does come out of the terminals.
      if (wire == 0) result.terminal_current = result.port_current + port_capacitance_ * rate;
    }
  }
  result.regulator_current = result.terminal_current;
  if (!terminal_state_) return;
  if (wire == 0) {
    if (drive == Drive::Voltage || drive == Drive::SensedVoltage) {
      result.regulator_current = wire_current + parts_.output_capacitance * algebra.slope();
    }
    return;
  }
  Form& rate = result.rates[*terminal_state_];
  if (drive == Drive::Voltage) {
    rate = algebra.slope();
    result.imposed = terminal_state_;
    result.regulator_current = wire_current + parts_.output_capacitance * algebra.slope();
  } else if (drive == Drive::SensedVoltage || drive == Drive::WireCurrent) {
    const Form& terminal = result.terminal_voltage;
    Form speed = terminal.drive * algebra.slope();
    for (std::size_t i = 0; i < storage_.size(); ++i) {
      if (terminal.state[i] != 0) speed = speed + terminal.state[i] * result.rates[i];
    }
    rate = speed;
    result.follows_terminal = terminal_state_;
    result.regulator_current = wire_current + parts_.output_capacitance * rate;
  } else {
    const Form brought = drive == Drive::Current ? algebra.drive() : algebra.zero();
    rate = (1 / Fine(parts_.output_capacitance)) *
           (brought - off_conductance * result.terminal_voltage - result.terminal_current);
  }
}

}  // namespace rampart::circuit
