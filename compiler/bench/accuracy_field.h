#pragma once

#include <optional>

#include "compiler/bench/bench.h"
#include "compiler/yaml/file_values.h"

namespace rampart {

// Reads an accuracy, a share of the value and an offset in the unit of the dimension; reports what is wrong with it.
template <Dimension kDimension>
[[nodiscard]] std::optional<Accuracy<Measure<kDimension>>> accuracy_of(const Field& field, FindingSink& findings) {
  const std::optional<QuantityAccuracy> accuracy = read_accuracy(field, kDimension, findings);
  if (!accuracy) return std::nullopt;
  return Accuracy<Measure<kDimension>>{accuracy->fraction, {accuracy->offset}};
}

}  // namespace rampart
