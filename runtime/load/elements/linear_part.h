#pragma once

#include <optional>
#include <variant>

// What an element without kinks, clocks or heat is to a circuit. SI units.
namespace rampart::circuit {

struct Resistor {
  double resistance = 0;
};
struct Capacitor {
  double capacitance = 0;
  double esr = 0;                 // 0: the capacitor sits at the port itself
  std::optional<double> leakage;  // resistance across the ideal capacitor
  double initial_voltage = 0;
};
struct Inductor {
  double inductance = 0;
  double resistance = 0;  // in series
  double initial_current = 0;
};
struct Source {
  double voltage = 0;
  double resistance = 0;
};

using LinearPart = std::variant<Resistor, Capacitor, Inductor, Source>;

}  // namespace rampart::circuit
