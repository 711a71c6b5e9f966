#pragma once

#include <memory>
#include <optional>

#include "runtime/load/elements/capacitor.h"
#include "runtime/load/elements/element.h"

namespace rampart {

// A converter: takes the same power at every voltage while it runs. It starts at `starts_at` and stops at `stops_at`;
// its input capacitance sits at the port.
struct ConstantPowerElement {
  Toleranced power;
  Toleranced starts_at;
  Toleranced stops_at;
  Toleranced input_capacitance;
  double initial_voltage = 0;
  double soft_start = 0;  // s, from 0 to full power
  Toleranced quiescent_current;
  friend bool operator==(const ConstantPowerElement&, const ConstantPowerElement&) = default;

  [[nodiscard]] static const ElementKind<ConstantPowerElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  void start_from(double volts) { initial_voltage = volts; }
  [[nodiscard]] std::optional<CapacitorElement> left_when_off(double port_voltage) const;
};

}  // namespace rampart
