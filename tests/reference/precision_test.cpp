#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "runtime/circuit/rail_circuit.h"
#include "tests/support/dice.h"

using namespace rampart::circuit;
using rampart::test::Dice;

// The energy balance over the extremes of all values together: what leaves the terminals is what the wire and each
// element turn to heat and what is stored more.
namespace {

struct Row {
  double length = 0;
  Setting setting;
};

double unbalance(const Parts& parts, const OutputTraits& traits, const std::vector<Row>& rows) {
  RailCircuit circuit(parts, traits);
  double delivered = 0;
  double given = 0;
  double wire = 0;
  std::vector<double> lost(parts.elements, 0.0);
  const double stored = circuit.stored_energy();
  for (const Row& row : rows) {
    circuit.set(row.setting);
    const auto settle = [&](std::optional<Mode> next) {
      circuit.settle(next);
      if (const auto jump = circuit.take_jump()) lost[jump->element] += jump->lost;
    };
    settle(std::nullopt);
    double rest = row.length;
    for (int pieces = 0; rest > 0 && pieces < 1000; ++pieces) {
      circuit.plan(rest);
      const Piece& piece = circuit.piece();
      const double energy = piece.length * integral_of_product(piece.terminal_voltage, piece.terminal_current);
      delivered += energy;
      given += std::max(energy, 0.0);
      wire += piece.length * parts.wire * integral_of_product(piece.terminal_current, piece.terminal_current);
      circuit.add_losses(lost);
      rest -= piece.length;
      const std::optional<Mode> next = circuit.changes_to();
      circuit.advance();
      if (next) settle(next);
    }
  }
  const double more = circuit.stored_energy() - stored;
  double gone = wire;
  for (const double one : lost) {
    gone += one;
    given += std::max(-one, 0.0);
  }
  given += std::max(-more, 0.0);
  return std::abs(delivered - gone - more) / std::max(given, 1e-12);
}

// Up, a second and an hour there, half down, off.
std::vector<Row> rows(double limit) {
  return {{10e-3, {0, 1200, limit, 0, true}},  {1, {12, 0, limit, 0, true}}, {3600, {12, 0, limit, 0, true}},
          {10e-3, {12, -600, limit, 0, true}}, {1, {6, 0, limit, 0, true}},  {10, {0, 0, limit, 0, false}}};
}

}  // namespace

TEST_CASE("the balance of a linear load closes at the extremes of all values") {
  double worst = 0;
  for (const double wire : {0.0, 1e-6, 1e-3, 1.0, 1e3}) {
    for (const double output : {0.0, 1e-9, 1e-4}) {
      for (const double resistance : {1e-3, 1.0, 1e3, 1e6, 1e9, 1e12}) {
        for (const double capacitance : {1e-12, 1e-9, 1e-7, 1e-6, 1e-3, 1.0, 1e3}) {
          for (const double esr : {0.0, 1e-6, 1e-3, 1.0, 1e3}) {
            for (const double limit : {1e-3, 1.0, 100.0}) {
              CAPTURE(wire);
              CAPTURE(output);
              CAPTURE(resistance);
              CAPTURE(capacitance);
              CAPTURE(esr);
              CAPTURE(limit);
              Parts parts;
              parts.wire = wire;
              parts.output_capacitance = output;
              parts.resistors.push_back({{resistance}, 0});
              parts.capacitors.push_back({{capacitance, esr, std::nullopt, 0}, 1});
              parts.elements = 2;
              const double error = unbalance(parts, {}, rows(limit));
              worst = std::max(worst, error);
              CHECK(error < 1e-9);
            }
          }
        }
      }
    }
  }
  CHECK(worst > 0);
}

// Two capacitors, a leakage, a coil, a source, a sink, remote sense. What flows beside a coil or a source at rest is a
// small difference of what they hold: there no resistor is more than a megohm.
TEST_CASE("the balance of a linear load closes for any parts") {
  double worst = 0;
  for (std::uint32_t seed = 1; seed <= 3000; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    Parts parts;
    OutputTraits traits;
    std::size_t next = 0;
    const bool is_coil = dice.chance(0.2);
    const bool is_source = dice.chance(0.2);
    const double most = is_coil || is_source ? 1e6 : 1e10;
    const auto resistance = [&](double least, double greatest) {
      return Resistor{dice.between(least, std::min(greatest, most))};
    };
    if (dice.chance(0.8)) parts.wire = resistance(1e-3, 10).resistance;
    if (dice.chance(0.5)) parts.output_capacitance = dice.between(1e-9, 1e-2);
    if (dice.chance(0.3)) parts.off_resistance = resistance(1, 1e9).resistance;
    if (dice.chance(0.3)) traits.headroom = dice.between(1e-2, 10);
    if (dice.chance(0.3)) traits.sink = dice.between(1e-3, 10);
    if (dice.chance(0.8)) parts.resistors.push_back({resistance(1e-2, 1e10), next++});
    for (int i = 0; i < 2; ++i) {
      if (dice.chance(0.4)) continue;
      Capacitor capacitor;
      capacitor.capacitance = dice.between(1e-9, 0.1);
      if (dice.chance(0.6)) capacitor.esr = resistance(1e-3, 1e3).resistance;
      if (dice.chance(0.5)) capacitor.leakage = resistance(1, 1e10).resistance;
      if (dice.chance(0.3)) capacitor.initial_voltage = dice.between(1e-3, 10);
      parts.capacitors.push_back({capacitor, next++});
    }
    if (is_coil) parts.inductors.push_back({{dice.between(1e-6, 10), dice.between(1e-3, 1e3), 0}, next++});
    if (is_source) parts.sources.push_back({{dice.between(0.1, 20), dice.between(1e-2, 1e3)}, next++});
    parts.elements = next;
    const double error = unbalance(parts, traits, rows(dice.between(1e-3, 100)));
    worst = std::max(worst, error);
    CHECK(error < 1e-9);
  }
  CHECK(worst > 0);
}
