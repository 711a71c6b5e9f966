#pragma once

#include <memory>

#include "runtime/load/elements/element.h"

namespace rampart {

// Straight lines between points of rising voltage; the first and the last line go on.
struct CurveElement {
  Points points;  // V, A
  friend bool operator==(const CurveElement&, const CurveElement&) = default;

  [[nodiscard]] static const ElementKind<CurveElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
};

}  // namespace rampart
