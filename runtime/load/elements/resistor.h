#pragma once

#include <memory>

#include "runtime/load/elements/element.h"
#include "runtime/load/elements/linear_part.h"

namespace rampart {

// i = v / R.
struct ResistorElement {
  Toleranced resistance;
  friend bool operator==(const ResistorElement&, const ResistorElement&) = default;

  [[nodiscard]] static const ElementKind<ResistorElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
  [[nodiscard]] circuit::LinearPart linear() const;
};

}  // namespace rampart
