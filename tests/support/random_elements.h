#pragma once

#include "tests/support/dice.h"
#include "tests/support/load_elements.h"

// Elements of a load that are drawn. Each draw has a statement of its own: in which order the arguments of a call are
// computed differs between compilers, and with it the case. Seeds that once found something rely on this order.
namespace rampart::test {

inline LoadElement random_inductor(Dice& dice, double least_henries, double most_henries, double most_ohms) {
  const double ohms = dice.between(0.1, most_ohms);
  return inductor(dice.between(least_henries, most_henries), ohms);
}

inline LoadElement random_converter(Dice& dice) {
  const double starts = dice.between(2, 20);
  const double quiescent = dice.chance(0.5) ? 0 : 0.01;
  const double soft_start = dice.chance(0.5) ? 0 : dice.between(1e-3, 0.1);
  const double farads = dice.between(1e-6, 1e-3);
  const double stops = starts * dice.between(0.5, 0.99);
  return converter(dice.between(0.1, 50), starts, stops, farads, soft_start, quiescent);
}

inline LoadElement random_diode(Dice& dice) {
  const int in_series = 1 + dice.up_to(5);
  const double resistance = dice.chance(0.4) ? 0 : dice.between(0.01, 1);
  const double ideality = dice.between(1, 2);
  return diode(dice.between(1e-15, 1e-7), ideality, resistance, 300, in_series);
}

inline LoadElement random_curve(Dice& dice) {
  const double bend = dice.between(0.5, 3);
  const double volts = dice.between(4, 10);
  return curve({{0, 0}, {bend, 0.01}, {volts, dice.between(0.02, 2)}});
}

inline LoadElement random_pulses(Dice& dice) {
  const double period = dice.between(5e-3, 1);
  const double rest = dice.chance(0.5) ? 0 : 0.01;
  const double on = period * dice.between(0.1, 0.9);
  return pulses(dice.between(0.05, 2), on, period, rest);
}

inline LoadElement random_load_profile(Dice& dice) {
  const double rise = dice.between(1e-3, 0.3);
  const double amps = dice.between(0.1, 2);
  return load_profile(dice.between(1, 10), {{0, 0.02}, {rise, amps}});
}

}  // namespace rampart::test
