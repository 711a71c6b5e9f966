#pragma once

#include <memory>

#include "runtime/load/elements/element.h"

namespace rampart {

// Draws the same at every voltage above `from`.
struct ConstantCurrentElement {
  Toleranced current;
  double from = 0;
  friend bool operator==(const ConstantCurrentElement&, const ConstantCurrentElement&) = default;

  [[nodiscard]] static const ElementKind<ConstantCurrentElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
};

}  // namespace rampart
