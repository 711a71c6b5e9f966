#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "runtime/load/elements/linear_part.h"

// A linear load behind a wire, and the output capacitance in front of it, as equations of state.
namespace rampart::circuit {

// Where a part's figures come from: its place in the list it came from.
template <class Part>
struct Numbered {
  Part part;
  std::size_t element = 0;
};

// All in parallel behind the wire.
struct Parts {
  double wire = 0;
  double output_capacitance = 0;         // at the terminals, inside the supply
  double output_voltage = 0;             // what that is charged to at first
  std::optional<double> off_resistance;  // at the terminals while the output is off
  std::vector<Numbered<Resistor>> resistors;
  std::vector<Numbered<Capacitor>> capacitors;
  std::vector<Numbered<Inductor>> inductors;
  std::vector<Numbered<Source>> sources;
  std::size_t elements = 0;  // how many elements the figures are kept for

  void add(const LinearPart& part, std::size_t element);
};

// What the supply imposes on the network.
enum class Drive : std::uint8_t {
  Voltage,        // the terminal voltage
  Current,        // the regulator's current
  Off,            // no current, the off resistance across the terminals
  OffShorted,     // off, and the load's port held at 0 V by the current of an inductor
  SensedVoltage,  // the voltage at the load's port; see Network::compensates()
  WireCurrent     // the current through the wire, whatever the output capacitance takes
};
inline constexpr std::size_t kDriveCount = 6;

// Where a leg conducts a million times better than another, sums of both would keep too few digits of the lesser in
// double: what a capacitance loses to it, or that it stands still.
using Fine = long double;

// A quantity as a linear form of the state, the driving value, its slope, and 1.
struct Form {
  std::vector<Fine> state;
  Fine drive = 0;
  Fine slope = 0;
  Fine constant = 0;
};

// d(state)/dt and the quantities of interest under one drive. Matrices are rows of forms.
struct StateEquations {
  std::vector<Form> rates;  // one a state
  Form terminal_voltage;
  Form terminal_current;   // out of the supply's terminals
  Form regulator_current;  // before the output capacitance
  Form port_voltage;       // at the load
  Form port_current;       // into the elements at the port, a capacitor at the port left out
  // A state that the drive imposes: it equals the driving value.
  std::optional<std::size_t> imposed;
  // A state that is nothing but the terminal voltage: the output capacitance, where the load's side settles it.
  std::optional<std::size_t> follows_terminal;

  // The same current into the elements, for use over a stretch of time: the parts' own changes of charge, which small
  // series resistances cannot drown in rounding, and the rest.
  struct Charging {
    std::size_t state = 0;
    double capacitance = 0;
    double leakage = 0;  // conductance
  };
  std::vector<Charging> charging;
  Form not_charging;
  // Without a wire the terminals' current is that one, what a capacitor at the port takes, and nothing else.
  bool terminal_at_port = false;
  double port_capacitance = 0;  // of the load
  // Behind a wire it is also the voltage across that over its resistance: of the two sums the one is the more exact
  // where a capacitance charges through a few mOhm, the other where it hardly moves. 0: there is one way only.
  double lead_conductance = 0;
  // With a sensed voltage the terminals follow from that current and this resistance.
  double sensed_wire = 0;
  bool compensates = false;
};

class Network {
 public:
  explicit Network(Parts parts);

  [[nodiscard]] const Parts& parts() const { return parts_; }
  [[nodiscard]] std::size_t state_count() const { return storage_.size(); }
  // Capacitance or inductance of each state: half of it times the state squared is the stored energy.
  [[nodiscard]] const std::vector<double>& storage() const { return storage_; }
  // The same without the output capacitance, which is the supply's.
  [[nodiscard]] const std::vector<double>& load_storage() const { return load_storage_; }
  [[nodiscard]] std::vector<double> initial_state() const;
  [[nodiscard]] const StateEquations& equations(Drive drive) const {
    return equations_[static_cast<std::size_t>(drive)];
  }

  // A capacitance without anything in series holds the terminals: their voltage cannot jump.
  [[nodiscard]] std::optional<std::size_t> terminal_state() const { return terminal_state_; }
  [[nodiscard]] std::optional<std::size_t> port_state() const { return port_state_; }
  // An output capacitance with the wire between it and the port.
  [[nodiscard]] bool separate_terminal() const { return parts_.wire > 0 && terminal_state_.has_value(); }
  // With a capacitance on either side of the wire no output can hold the port at once: a sensed voltage then raises
  // the terminals by what the wire drops at the load's own current, and the port closes in on it with wire times
  // capacitance.
  [[nodiscard]] bool compensates() const { return separate_terminal() && port_state_.has_value(); }
  [[nodiscard]] double port_capacitance() const { return port_capacitance_; }
  // Only inductors take current at the port.
  [[nodiscard]] bool only_inductors() const { return !port_state_ && conductance_ == 0; }
  // The same at the terminals: it cannot jump, and a current drive sets the voltage by its slope alone.
  [[nodiscard]] bool current_is_state() const { return only_inductors() && !terminal_state_; }
  [[nodiscard]] bool has_inductors() const { return !parts_.inductors.empty(); }
  // Where the branches' states begin.
  [[nodiscard]] std::optional<std::size_t> capacitor_state(std::size_t capacitor) const {
    return capacitor_states_[capacitor];
  }
  [[nodiscard]] std::size_t inductor_state(std::size_t inductor) const { return inductor_states_[inductor]; }
  // True if under a current drive charge has nowhere to leak to.
  [[nodiscard]] bool keeps_charge() const;

 private:
  struct Leg;
  struct Feed;
  [[nodiscard]] std::vector<Leg> legs() const;
  [[nodiscard]] Feed feed_of(Drive drive) const;
  [[nodiscard]] Form inductive_voltage(Drive drive) const;
  [[nodiscard]] StateEquations derive(Drive drive) const;
  void derive_nodes(Drive drive, const Feed& feed, const Form& wire_current, StateEquations& result) const;

  Parts parts_;
  std::vector<double> storage_;
  std::vector<double> load_storage_;
  std::vector<std::optional<std::size_t>> capacitor_states_;  // none: merged into the port
  std::vector<std::size_t> inductor_states_;
  std::optional<std::size_t> port_state_;
  std::optional<std::size_t> terminal_state_;  // the port's where there is no wire
  double port_capacitance_ = 0;                // of the load alone
  double conductance_ = 0;                     // at the port
  std::vector<StateEquations> equations_;
};

}  // namespace rampart::circuit
