#include "runtime/rail/figures.h"

#include <cmath>

namespace rampart {
using circuit::integral;
using circuit::integral_of_product;
using circuit::Mode;
using circuit::Piece;
using circuit::Signal;

void Sum::add(double term) {
  const double total = sum_ + term;
  lost_ += std::abs(sum_) >= std::abs(term) ? (sum_ - total) + term : (term - total) + sum_;
  sum_ = total;
}

// In the order of values().
std::vector<Sum*> RailSums::all() {
  std::vector<Sum*> sums = {&energy, &returned, &charge, &i2t, &cc_time, &wire};
  for (Sum& element : elements) sums.push_back(&element);
  return sums;
}

std::vector<double> RailSums::values() const {
  std::vector<double> result;
  for (const Sum* sum : {&energy, &returned, &charge, &i2t, &cc_time, &wire}) {
    result.push_back(sum->value());
  }
  for (const Sum& element : elements) result.push_back(element.value());
  return result;
}

void RailSums::repeat_since(const RailSums& then, double times) {
  const std::vector<double> before = then.values();
  const std::vector<Sum*> sums = all();
  for (std::size_t i = 0; i < sums.size(); ++i) sums[i]->add(times * (sums[i]->value() - before[i]));
}

void RailSums::add(const RailSums& other, double factor) {
  const std::vector<double> values = other.values();
  const std::vector<Sum*> sums = all();
  for (std::size_t i = 0; i < sums.size(); ++i) sums[i]->add(factor * values[i]);
}

void add_piece(const circuit::Circuit& circuit, RailSums& sums) {
  const Piece& piece = circuit.piece();
  const Signal& voltage = piece.terminal_voltage;
  const Signal& current = piece.terminal_current;
  const double energy = piece.length * integral_of_product(voltage, current);
  sums.energy.add(energy);
  // Pieces end where the current changes its direction, and the terminals never go below 0 V.
  if (energy < 0) sums.returned.add(-energy);
  sums.charge.add(piece.length * integral(current));
  const bool limited = circuit.mode() == Mode::ConstantCurrent || circuit.mode() == Mode::Clamped;
  if (limited) sums.cc_time.add(piece.length);
  const double squared = piece.length * integral_of_product(current, current);
  sums.i2t.add(squared);
  if (circuit.wire() > 0) sums.wire.add(circuit.wire() * squared);
  sums.losses.assign(sums.elements.size(), 0.0);
  circuit.add_losses(sums.losses);
  for (std::size_t i = 0; i < sums.losses.size(); ++i) sums.elements[i].add(sums.losses[i]);
}

}  // namespace rampart
