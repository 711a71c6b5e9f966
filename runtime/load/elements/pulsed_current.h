#pragma once

#include <memory>
#include <optional>

#include "runtime/load/elements/capacitor.h"
#include "runtime/load/elements/element.h"

namespace rampart {

// Draws `current` for the time `on` of each period and `rest` else, above the voltage `from`. The first pulse begins
// with the run.
struct PulsedCurrentElement {
  Toleranced current;
  double on = 0;
  double period = 0;
  double from = 0;
  double rest = 0;
  friend bool operator==(const PulsedCurrentElement&, const PulsedCurrentElement&) = default;

  [[nodiscard]] static const ElementKind<PulsedCurrentElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  [[nodiscard]] std::optional<CapacitorElement> left_when_off(double port_voltage) const;
};

}  // namespace rampart
