#include "lang/values/rounded_line.h"

#include <limits>

namespace rampart {
namespace {

// The product; `fits` becomes false where it has no place in 128 bits.
Int128 times(Int128 a, Int128 b, bool& fits) {
  Int128 product = 0;
  fits = !__builtin_mul_overflow(a, b, &product) && fits;
  return product;
}

}  // namespace

std::optional<RoundedLine> RoundedLine::between(const Rational& first, const Rational& last, std::int64_t parts,
                                                To to) {
  // Far below the bounds of 64 bits, so that no sum passes them.
  constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max() / 4;
  if (first.overflowed() || last.overflowed()) return std::nullopt;
  const Rational difference = last - first;
  if (difference.overflowed()) return std::nullopt;
  // All in units of 1 / (denominators · parts), doubled to have a whole half.
  bool fits = true;
  const Int128 denominators = times(first.denominator(), difference.denominator(), fits);
  const Int128 unit = times(times(denominators, parts, fits), 2, fits);
  const Int128 begin = times(times(times(first.numerator(), difference.denominator(), fits), parts, fits), 2, fits);
  const Int128 step = times(times(difference.numerator(), first.denominator(), fits), 2, fits);
  if (!fits || unit > kMost || abs(first) > Rational(kMost) || abs(last) > Rational(kMost)) return std::nullopt;
  const bool nearest = to == To::Nearest;
  Int128 raised = 0;
  if (__builtin_add_overflow(begin, nearest ? unit / 2 : 0, &raised)) return std::nullopt;
  RoundedLine line;
  line.divisor_ = static_cast<std::int64_t>(unit);
  line.quotient_ = static_cast<std::int64_t>(divide_floor(raised, unit));
  line.rest_ = static_cast<std::int64_t>(raised - divide_floor(raised, unit) * unit);
  line.quotient_step_ = static_cast<std::int64_t>(divide_floor(step, unit));
  line.rest_step_ = static_cast<std::int64_t>(step - divide_floor(step, unit) * unit);
  line.tie_ = nearest ? 0 : -1;
  return line;
}

}  // namespace rampart
