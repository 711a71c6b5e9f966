#pragma once

#include <memory>

#include "runtime/load/elements/element.h"
#include "runtime/load/elements/linear_part.h"

namespace rampart {

// A battery, or a net that something else drives: i = (v - V) / R.
struct SourceElement {
  Toleranced voltage;
  Toleranced resistance;
  friend bool operator==(const SourceElement&, const SourceElement&) = default;

  [[nodiscard]] static const ElementKind<SourceElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  [[nodiscard]] circuit::LinearPart linear() const;
};

}  // namespace rampart
