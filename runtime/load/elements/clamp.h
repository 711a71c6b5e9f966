#pragma once

#include <memory>

#include "runtime/load/elements/element.h"

namespace rampart {

// A transient suppressor for both signs: i = (v - V) / R above the breakdown voltage V, (v + V) / R below -V, and
// nothing between. Two straight lines are common practice for an avalanche diode; no source.
struct ClampElement {
  Toleranced breakdown_voltage;
  Toleranced dynamic_resistance;
  friend bool operator==(const ClampElement&, const ClampElement&) = default;

  [[nodiscard]] static const ElementKind<ClampElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
};

}  // namespace rampart
