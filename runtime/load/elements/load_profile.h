#pragma once

#include <memory>
#include <optional>

#include "runtime/load/elements/capacitor.h"
#include "runtime/load/elements/element.h"

namespace rampart {

// Draws by a clock that starts when the voltage reaches `power_good`, and nothing once it has fallen a tenth below
// that.
struct LoadProfileElement {
  Toleranced power_good;
  Points draws;  // s since power-good, A from then on
  std::optional<Toleranced> input_capacitance;
  friend bool operator==(const LoadProfileElement&, const LoadProfileElement&) = default;

  [[nodiscard]] static const ElementKind<LoadProfileElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  [[nodiscard]] std::optional<CapacitorElement> left_when_off(double port_voltage) const;
};

}  // namespace rampart
