#pragma once

#include <memory>
#include <utility>
#include <vector>

// What the struct of every element is written with.
namespace rampart {

template <class Part>
struct ElementKind;  // element_kind.h

namespace circuit {
class Branch;  // branch.h
}

// A nominal value with its tolerance ends; low == nominal == high where none is given.
struct Toleranced {
  double nominal = 0;
  double low = 0;
  double high = 0;
  friend bool operator==(const Toleranced&, const Toleranced&) = default;
};

// Pairs whose first values rise.
using Points = std::vector<std::pair<double, double>>;

}  // namespace rampart
