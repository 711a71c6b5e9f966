#pragma once

#include <memory>

#include "runtime/load/elements/element.h"

namespace rampart {

// Equal diodes in a row, with a resistance in series: i = I_s (exp((v - i R) / s) - 1) with s = in_series * ideality *
// k T / q (W. Shockley, Bell System Technical Journal 28, 1949).
struct DiodeElement {
  Toleranced saturation_current;
  Toleranced ideality;
  double in_series = 1;
  Toleranced series_resistance;
  double temperature = 300;
  friend bool operator==(const DiodeElement&, const DiodeElement&) = default;

  [[nodiscard]] static const ElementKind<DiodeElement>& kind();
  [[nodiscard]] std::unique_ptr<circuit::Branch> branch() const;
};

}  // namespace rampart
