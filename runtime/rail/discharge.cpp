#include "runtime/rail/discharge.h"

#include "runtime/circuit/roots.h"

namespace rampart {
namespace {

// Longer than anyone waits, s.
constexpr double kLongestDischarge = 86'400;
// A discharge takes some hundreds of pieces at most. What takes more goes on by a clock of the load.
constexpr int kMostPieces = 1000;

}  // namespace

std::optional<double> time_to_fall(circuit::Circuit& circuit, double volts, bool at_load) {
  double gone = 0;
  for (int piece = 0; piece < kMostPieces && gone < kLongestDischarge; ++piece) {
    circuit.plan(kLongestDischarge - gone);
    const circuit::Piece& plan = circuit.piece();
    const circuit::Signal below = (at_load ? plan.port_voltage : plan.terminal_voltage).times(-1).plus_line(volts, 0);
    if (below.value(0) >= 0) return gone;
    if (const auto at = circuit::first_rise(circuit::SignalCurve(below), 1e-13)) {
      return gone + *at * plan.length;
    }
    gone += plan.length;
    const std::optional<circuit::Mode> next = circuit.changes_to();
    circuit.advance();
    if (next) circuit.settle(next);
  }
  return std::nullopt;
}

}  // namespace rampart
