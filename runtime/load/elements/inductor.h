#pragma once

#include <memory>

#include "runtime/load/elements/element.h"
#include "runtime/load/elements/linear_part.h"

namespace rampart {

// L di/dt = v - R i.
struct InductorElement {
  Toleranced inductance;
  Toleranced resistance;  // in series
  double initial_current = 0;
  friend bool operator==(const InductorElement&, const InductorElement&) = default;

  [[nodiscard]] static const ElementKind<InductorElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  [[nodiscard]] circuit::LinearPart linear() const;
  void start_from(double amps) { initial_current = amps; }
};

}  // namespace rampart
