#pragma once

#include <memory>
#include <optional>

#include "runtime/load/elements/capacitor.h"
#include "runtime/load/elements/element.h"

namespace rampart {

// A filament: R = R0 (T/T0)^exponent, C dT/dt = v i - k (T^4 - T0^4), with k such that the rated point is at rest.
struct LampElement {
  Toleranced rated_voltage;
  Toleranced rated_power;
  Toleranced cold_resistance;
  Toleranced heat_capacity;
  double cold_temperature = 300;
  double exponent = 1.2;
  friend bool operator==(const LampElement&, const LampElement&) = default;

  [[nodiscard]] static const ElementKind<LampElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  [[nodiscard]] std::optional<CapacitorElement> left_when_off(double port_voltage) const;
};

}  // namespace rampart
