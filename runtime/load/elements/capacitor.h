#pragma once

#include <memory>
#include <optional>

#include "runtime/load/elements/element.h"
#include "runtime/load/elements/linear_part.h"

namespace rampart {

// C dw/dt = (v - w) / esr - w / leakage, where w is the voltage of the ideal capacitor.
struct CapacitorElement {
  Toleranced capacitance;
  Toleranced esr;                     // 0: none
  std::optional<Toleranced> leakage;  // resistance across the ideal capacitor
  double initial_voltage = 0;
  friend bool operator==(const CapacitorElement&, const CapacitorElement&) = default;

  [[nodiscard]] static const ElementKind<CapacitorElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  [[nodiscard]] circuit::LinearPart linear() const;
  void start_from(double volts) { initial_voltage = volts; }
};

}  // namespace rampart
