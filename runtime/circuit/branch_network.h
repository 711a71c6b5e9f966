#pragma once

#include <optional>
#include <vector>

#include "runtime/circuit/network.h"
#include "runtime/circuit/owned.h"
#include "runtime/circuit/state_slopes.h"
#include "runtime/load/elements/branch.h"

namespace rampart::circuit {

// What the courses may be wrong by, when two values are compared.
inline constexpr double kTie = 1e-9;

struct BranchParts {
  double wire = 0;
  double output_capacitance = 0;
  double output_voltage = 0;  // what that is charged to at first
  std::optional<double> off_resistance;
  std::vector<Owned<Branch>> branches;
  std::vector<std::size_t> elements;  // of each branch: its place in the load's list
};

// What an output does to its load. The value that it holds, V or A, is the last of the states.
struct Imposed {
  Drive kind{};
  double slope = 0;    // of that value, a second
  double highest = 0;  // V: its setpoint, where nothing takes the current that it gives
};

// What a network does at one instant: V, A, and how fast the voltages change, V/s.
struct NetworkPoint {
  double terminal = 0;
  double wire_current = 0;
  double regulator = 0;
  double port = 0;
  double port_rate = 0;
  double terminal_rate = 0;
};

// The branches of a load side by side behind a wire: what they do at one instant, from their states, and how fast the
// states change.
//
// The unknown is the port's voltage. Where a capacitance holds it, it is a state; else Kirchhoff's law gives it at
// every instant, with currents that rise with the voltage and so have one solution.
class BranchNetwork {
 public:
  // `has_sense`: the output measures at the load, which makes a difference where there is a wire.
  BranchNetwork(BranchParts parts, bool has_sense);

  [[nodiscard]] const BranchParts& parts() const { return parts_; }
  [[nodiscard]] std::vector<Owned<Branch>>& branches() { return parts_.branches; }
  // Voltages at which the slope of a flow jumps, rising.
  [[nodiscard]] const std::vector<double>& corners() const { return corners_; }
  [[nodiscard]] bool has_inductors() const { return has_inductors_; }
  // At the port itself, of the load alone, F.
  [[nodiscard]] double port_capacitance() const { return port_capacitance_; }

  // Every list of states has the output's value behind them.
  [[nodiscard]] std::size_t state_count() const { return count_; }
  [[nodiscard]] std::vector<double> first_states() const;
  // The voltages of the port and of the terminals, where a capacitance holds them.
  [[nodiscard]] std::optional<std::size_t> port_index() const { return port_index_; }
  [[nodiscard]] std::optional<std::size_t> terminal_index() const { return terminal_index_; }
  // Of a branch: its states.
  [[nodiscard]] std::size_t offset(std::size_t branch) const { return offsets_[branch]; }
  [[nodiscard]] const double* own(const double* state, std::size_t branch) const { return state + offsets_[branch]; }
  [[nodiscard]] double* own(double* state, std::size_t branch) const { return state + offsets_[branch]; }
  // See Network::compensates().
  [[nodiscard]] bool compensates() const { return is_sensed_ && terminal_index_ && port_index_; }

  // What flows into the branches at that voltage of the port.
  [[nodiscard]] Flow flow(double volts, const double* state) const;
  // `guess` is for the port's voltage, and then is that voltage: what is asked for next is near.
  [[nodiscard]] NetworkPoint point(const Imposed& imposed, const double* state, double& guess) const;
  // Of the states and the output's value, a second.
  void rates(const Imposed& imposed, const double* state, double* rates, double& guess) const;
  void rates_at(const NetworkPoint& now, double slope, const double* state, double* rates) const;
  // How those change with the states.
  void rate_slopes(const Imposed& imposed, const double* state, StateSlopes& slopes, double& guess) const;
  // By how much the current may jump, A, where the voltage rests on a corner of an element and rounding decides on
  // which side of it.
  [[nodiscard]] double corner_noise(double volts, const double* state) const;
  // What rounding leaves of the regulator's current, A, where that charges the output capacitance as fast as the load's
  // voltage or current changes: such a rate is a small difference times the rates of the fastest branch.
  [[nodiscard]] double regulator_noise(Drive kind, const NetworkPoint& at, const double* state) const;

 private:
  // How some of a point changes with each state.
  struct PointSlopes {
    std::vector<double> port;
    std::vector<double> wire_current;
    std::vector<double> port_flow;  // into the branches
  };

  // How fast what flows into the branches changes where the voltage does so at a given rate, A/s.
  [[nodiscard]] double flow_rate(double volts, double volts_rate, const double* state) const;
  // What rounding leaves of that at a given voltage, A/s.
  [[nodiscard]] double flow_rate_noise(double volts, const double* state) const;
  [[nodiscard]] double untaken_voltage(double current, double highest) const;
  [[nodiscard]] double ungiven_voltage() const;
  // The port's voltage where flow(v) + conductance * v = current, looked for from `guess`.
  [[nodiscard]] double solve_port(double current, double conductance, double highest, const double* state,
                                  double& guess) const;
  [[nodiscard]] PointSlopes point_slopes(Drive kind, const NetworkPoint& at, const double* state) const;

  BranchParts parts_;
  bool is_sensed_;
  std::size_t count_;
  std::vector<std::size_t> offsets_;
  double port_capacitance_ = 0;
  std::optional<std::size_t> port_index_;
  std::optional<std::size_t> terminal_index_;
  bool has_inductors_ = false;
  double stray_ = 0;  // S
  std::vector<double> corners_;
};

}  // namespace rampart::circuit
