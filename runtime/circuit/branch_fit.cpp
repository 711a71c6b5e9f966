#include <algorithm>
#include <cmath>

#include "runtime/circuit/branch_circuit.h"

// Whether a piece of polynomials holds between its nodes.
//
// The error that the steps are chosen by speaks of the states. What users see are currents, voltages and losses, which
// follow from the states by Kirchhoff's law and may bend more: the current of a diode grows e-fold within 26 mV, and
// behind a few mOhm a voltage that is right to 1e-9 leaves a current that is not. So at three instants
// between the nodes the law is solved anew from the states' polynomials, and what it gives is compared with the
// polynomials of the currents, voltages and losses themselves, and the change of the stored energy with the power that
// brings it. misfit() is the worst of these as a share of what is allowed. Above 1 the step is taken again, shorter.
//
// What rounding alone makes of each comparison is allowed on top, or steps would shrink without end: a current is a
// difference of voltages times a conductance, what charges the output capacitance behind a sensed load follows from the
// rates of the load's states, and a voltage that rests on a corner lies on either side of it by turns.
namespace rampart::circuit {
namespace {

// How far currents and voltages may lie from the polynomials through the nodes, relative to their size.
constexpr double kFit = 1e-9;
constexpr double kRounding = 1e-12;
// Share of the power that may be missing from the balance: a fifth of what docs/simulation.md allows a run.
constexpr double kUnbalanced = 2e-7;
// What rounding leaves of a state, and what follows from it by a conductance or by its change.
constexpr double kStateRounding = 1e-14;
// Where not everything is followed, errors may be this many times as large.
constexpr double kRough = 1e4;

}  // namespace

// No capacitance holds the port's voltage, and the current into it is given.
bool BranchCircuit::gives_current() const {
  if (network_.port_index()) return false;
  const Drive kind = drive_of(mode_);
  return kind == Drive::WireCurrent || (!network_.terminal_index() && (kind == Drive::Current || kind == Drive::Off));
}

double BranchCircuit::roughness() const {
  return follow_ == Follow::All ? 1 : kRough;
}

// W that flow into capacitances and coils and are missing from the change of what these store.
double BranchCircuit::unbalance_at(double share, const NetworkPoint& at, const std::vector<double>& state) const {
  std::vector<double> expected(count_ + 1);
  network_.rates_at(at, driving_of(mode_).slope, state.data(), expected.data());
  const auto missing = [&](std::size_t i) {
    return std::abs(piece_.states[i].derivative().value(share) / piece_.length - expected[i]);
  };
  double sum = network_.port_index() ? network_.port_capacitance() * std::abs(state[*network_.port_index()]) *
                                           missing(*network_.port_index())
                                     : 0;
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    const double slope = network_.parts().branches[i]->stored_slope(network_.own(state.data(), i));
    if (slope != 0) sum += std::abs(slope) * missing(network_.offset(i));
  }
  return sum;
}

double BranchCircuit::wrong_loss_at(double share, double port, const std::vector<double>& state) const {
  double sum = 0;
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    sum += std::abs(network_.parts().branches[i]->loss(port, network_.own(state.data(), i)) - losses_[i].value(share));
  }
  return sum;
}

// As a share of what is allowed.
double BranchCircuit::misfit_at(double share, const Scales& scales) const {
  const auto& [volts, amps, power, stored] = scales;
  std::vector<double> state(count_ + 1);
  for (std::size_t i = 0; i <= count_; ++i) state[i] = piece_.states[i].value(share);
  double guess = port_guess_;
  const NetworkPoint at = network_.point(imposed(mode_), state.data(), guess);
  // Currents are differences of voltages over small resistances: their rounding is no misfit.
  const double conductance = network_.flow(at.port, state.data()).slope +
                             (network_.parts().wire > 0 && !gives_current() ? 1 / network_.parts().wire : 0);
  const double rounding = kRounding * volts * std::abs(conductance) + network_.corner_noise(at.port, state.data());
  const double noise = kFit * roughness() * amps + rounding;
  const double regulator_noise = noise + network_.regulator_noise(drive_of(mode_), at, state.data());
  const double volts_by_amps = conductance > 0 ? amps / conductance : 0;
  const double volt_noise = kFit * roughness() * volts + kRounding * volts_by_amps;
  const double watts = kUnbalanced * roughness() * power;
  const double watts_noise =
      volts * network_.corner_noise(at.port, state.data()) +
      kStateRounding * (volts * volts * std::abs(conductance) + amps * volts_by_amps + stored / piece_.length);
  return std::max({std::abs(at.port - piece_.port_voltage.value(share)) / volt_noise,
                   std::abs(at.terminal - piece_.terminal_voltage.value(share)) / volt_noise,
                   std::abs(at.regulator - piece_.regulator_current.value(share)) / regulator_noise,
                   std::abs(at.wire_current - piece_.terminal_current.value(share)) / noise,
                   wrong_loss_at(share, at.port, state) / (watts + watts_noise),
                   unbalance_at(share, at, state) / (watts + watts_noise)});
}

double BranchCircuit::misfit() const {
  Scales scales;
  scales.volts = piece_.terminal_voltage.magnitude() + piece_.port_voltage.magnitude() + 1e-6;
  scales.amps = piece_.regulator_current.magnitude() + 1e-3 * std::abs(setting_.limit);
  scales.power = scales.volts * scales.amps;
  for (const Signal& loss : losses_) scales.power += loss.magnitude();
  scales.stored = stored_energy();
  double worst = 0;
  for (const double share : {0.11, 0.57, 0.96}) worst = std::max(worst, misfit_at(share, scales));
  return worst;
}

}  // namespace rampart::circuit
