#pragma once

#include <complex>
#include <cstddef>
#include <functional>
#include <memory>
#include <vector>

namespace rampart::circuit {

// How the rates of a load's states change with them. Elements stand side by side at one port, so each knows its own
// state and the port's voltage V alone:
//   rate of state i = own_i x_i + by_port_i V + ...,   V = port . x + ...
// and only the few states that stand at a node (a capacitance at the port or at the terminals) see all the others.
struct StateSlopes {
  std::vector<double> own;
  std::vector<double> by_port;
  std::vector<double> port;
  struct Row {
    std::size_t state = 0;
    std::vector<double> slopes;  // by each state
  };
  std::vector<Row> rows;  // in place of `own` and `by_port`

  // Everything zero, for so many states.
  void reset(std::size_t states);
  // The row of a node's state, zero.
  [[nodiscard]] std::vector<double>& add_row(std::size_t state);
  // J x
  void multiply(const double* x, double* result) const;
};

// Solves (I - m J) x = r for one m, in time proportional to the number of states: with V and the nodes' states kept as
// unknowns each other state follows from its own row, which leaves a system of three at most.
class ShiftedSlopes {
 public:
  ShiftedSlopes();
  ~ShiftedSlopes();
  // `slopes` has to outlive the solving.
  void prepare(const StateSlopes& slopes, std::complex<double> m);
  // In place.
  void solve(std::complex<double>* values) const;

 private:
  struct Core;
  const StateSlopes* slopes_ = nullptr;
  std::vector<std::complex<double>> inverse_;  // 1 / (1 - m own)
  std::vector<std::complex<double>> by_port_;  // m by_port / (1 - m own)
  std::complex<double> m_;
  std::unique_ptr<Core> core_;
};

using RateSlopes = std::function<void(const double* state, StateSlopes& slopes)>;

}  // namespace rampart::circuit
