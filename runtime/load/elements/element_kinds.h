#pragma once

#include <cstddef>
#include <utility>
#include <variant>

#include "runtime/load/elements/element_kind.h"
#include "runtime/load/elements/elements.h"

namespace rampart {

// use(kind) with the ElementKind of each alternative of ElementPart, in their order.
template <class Use>
void for_each_kind(const Use& use) {
  [&]<std::size_t... kIndex>(std::index_sequence<kIndex...> /*all*/) {
    (use(std::variant_alternative_t<kIndex, ElementPart>::kind()), ...);
  }
  (std::make_index_sequence<std::variant_size_v<ElementPart>>{});
}

}  // namespace rampart
