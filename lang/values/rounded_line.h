#pragma once

#include <cstdint>
#include <optional>

#include "lang/values/rational.h"

namespace rampart {

// The whole numbers that stand for a straight line at equal parts of it: of first + (last - first) · k / parts for
// k = 0, 1, 2, …, one after another. Exact: what a Rational of each point gives, by sums of whole numbers.
class RoundedLine {
 public:
  enum class To {
    Nearest,  // ties away from zero, as Rational::rounded()
    Down      // as Rational::floor()
  };

  // Empty where its parts do not fit in 64 bits; parts > 0.
  [[nodiscard]] static std::optional<RoundedLine> between(const Rational& first, const Rational& last,
                                                          std::int64_t parts, To to = To::Nearest);

  // At the present point.
  [[nodiscard]] std::int64_t value() const { return quotient_ - (tie_ == rest_ && quotient_ <= 0 ? 1 : 0); }
  // Goes on to the next point.
  void advance() {
    quotient_ += quotient_step_;
    rest_ += rest_step_;
    if (rest_ >= divisor_) {
      rest_ -= divisor_;
      ++quotient_;
    }
  }

 private:
  // The line, half a count above it where it is rounded to the nearest, is quotient + rest / divisor.
  std::int64_t divisor_ = 1;
  std::int64_t quotient_ = 0;
  std::int64_t quotient_step_ = 0;
  std::int64_t rest_ = 0;  // from 0 to below the divisor
  std::int64_t rest_step_ = 0;
  // The rest at a tie: there, what is below zero is rounded away from it. -1: there are none.
  std::int64_t tie_ = -1;
};

}  // namespace rampart
