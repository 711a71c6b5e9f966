#include "runtime/figures.h"

#include <cmath>

namespace rampart {
namespace {

using circuit::integral;
using circuit::integral_of_product;
using circuit::Mode;
using circuit::Network;
using circuit::Piece;
using circuit::Signal;

void add_elements(const Network& network, const Piece& piece, RailSums& sums) {
  const circuit::Parts& parts = network.parts();
  const double length = piece.length;
  const Signal& port = piece.port_voltage;
  if (parts.elements == 0) return;
  const double squared = length * integral_of_product(port, port);
  for (const auto& [resistor, element] : parts.resistors) sums.elements[element].add(squared / resistor.resistance);
  for (std::size_t i = 0; i < parts.capacitors.size(); ++i) {
    const auto& [capacitor, element] = parts.capacitors[i];
    const auto state = network.capacitor_state(i);
    if (state) {
      const Signal& own = piece.states[*state];
      const Signal across = port.minus(own);
      sums.elements[element].add(length * integral_of_product(across, across) / capacitor.esr);
      if (capacitor.leakage) {
        sums.elements[element].add(length * integral_of_product(own, own) / *capacitor.leakage);
      }
    } else if (capacitor.leakage) {
      sums.elements[element].add(squared / *capacitor.leakage);
    }
  }
  for (std::size_t i = 0; i < parts.inductors.size(); ++i) {
    const auto& [inductor, element] = parts.inductors[i];
    const Signal& current = piece.states[network.inductor_state(i)];
    sums.elements[element].add(length * inductor.resistance * integral_of_product(current, current));
  }
  for (const auto& [source, element] : parts.sources) {
    sums.elements[element].add((squared - length * source.voltage * integral(port)) / source.resistance);
  }
}

}  // namespace

void Sum::add(double term) {
  const double total = sum_ + term;
  lost_ += std::abs(sum_) >= std::abs(term) ? (sum_ - total) + term : (term - total) + sum_;
  sum_ = total;
}

void RailSums::repeat_since(const RailSums& then, double times) {
  const auto repeat = [&](Sum& sum, const Sum& before) { sum.add(times * (sum.value() - before.value())); };
  repeat(energy, then.energy);
  repeat(returned, then.returned);
  repeat(charge, then.charge);
  repeat(cc_time, then.cc_time);
  repeat(wire, then.wire);
  for (std::size_t i = 0; i < elements.size(); ++i) repeat(elements[i], then.elements[i]);
}

void add_piece(const circuit::RailCircuit& circuit, RailSums& sums) {
  const Piece& piece = circuit.piece();
  const Signal& voltage = piece.terminal_voltage;
  const Signal& current = piece.terminal_current;
  const double energy = piece.length * integral_of_product(voltage, current);
  sums.energy.add(energy);
  // Pieces end where the current changes its direction.
  if (current.value(0.5) < 0) sums.returned.add(-energy);
  sums.charge.add(piece.length * integral(current));
  const bool limited = circuit.mode() == Mode::ConstantCurrent || circuit.mode() == Mode::Clamped;
  if (limited) sums.cc_time.add(piece.length);
  const double wire = circuit.network().parts().wire;
  if (wire > 0) sums.wire.add(piece.length * wire * integral_of_product(current, current));
  add_elements(circuit.network(), piece, sums);
}

}  // namespace rampart
