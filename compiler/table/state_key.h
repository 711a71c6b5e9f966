#pragma once

#include <compare>
#include <cstdint>
#include <vector>

#include "lang/values/rational.h"

namespace rampart {

// What something's future depends on, as numbers in an order of its own: equal for equal futures.
class StateKey {
 public:
  void add(std::int64_t number) { numbers_.push_back(number); }
  void add(const Rational& number) {
    for (const Int128 part : {number.numerator(), number.denominator()}) {
      add(static_cast<std::int64_t>(part >> 64));
      add(static_cast<std::int64_t>(static_cast<std::uint64_t>(part)));
    }
  }
  friend auto operator<=>(const StateKey&, const StateKey&) = default;

 private:
  std::vector<std::int64_t> numbers_;
};

}  // namespace rampart
