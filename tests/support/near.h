#pragma once

#include <cmath>
#include <ostream>

// Comparisons of doubles that say how far the two may be apart, whatever their size: a tolerance that is relative stays
// so for millivolts and nanoseconds.
namespace rampart::test {

class Near {
 public:
  Near(double value, double distance) : value_(value), distance_(distance) {}
  friend bool operator==(double found, const Near& wanted) {
    return std::abs(found - wanted.value_) <= wanted.distance_;
  }
  friend std::ostream& operator<<(std::ostream& out, const Near& near) {
    const auto digits = out.precision(17);
    out << near.value_ << " ± " << near.distance_;
    out.precision(digits);
    return out;
  }

 private:
  double value_;
  double distance_;
};

// Within `share` of the value's own size; equal to 0 is 0 alone. NaN equals nothing.
[[nodiscard]] inline Near relative(double value, double share) {
  return {value, share * std::abs(value)};
}

// Within `distance`, in the unit of the value.
[[nodiscard]] inline Near absolute(double value, double distance) {
  return {value, distance};
}

}  // namespace rampart::test
