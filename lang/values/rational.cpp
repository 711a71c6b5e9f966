#include "lang/values/rational.h"

#include <limits>
#include <numeric>

namespace rampart {
namespace {

__extension__ using UInt128 = unsigned __int128;

UInt128 magnitude(Int128 value) {
  return value < 0 ? UInt128{0} - static_cast<UInt128>(value) : static_cast<UInt128>(value);
}

UInt128 gcd(UInt128 a, UInt128 b) {
  if (a == 1 || b == 1) return 1;
  while (b != 0) {
    // Most values fit in a machine word, where the division is ten times cheaper.
    if ((a >> 64) == 0 && (b >> 64) == 0) {
      auto x = static_cast<std::uint64_t>(a);
      auto y = static_cast<std::uint64_t>(b);
      while (y != 0) {
        const std::uint64_t rest = x % y;
        x = y;
        y = rest;
      }
      return x;
    }
    const UInt128 rest = a % b;
    a = b;
    b = rest;
  }
  return a;
}

Int128 gcd_of(Int128 a, Int128 b) {
  if (a == 1 || b == 1) return 1;
  return static_cast<Int128>(gcd(magnitude(a), magnitude(b)));
}

constexpr Int128 kMin = std::numeric_limits<Int128>::min();

// n / d where d divides n. Nearly all parts fit in a machine word, where the division is ten times cheaper.
Int128 divide_exactly(Int128 n, Int128 d) {
  if (d == 1) return n;
  const auto small_n = static_cast<std::int64_t>(n);
  const auto small_d = static_cast<std::int64_t>(d);
  return small_n == n && small_d == d ? Int128{small_n / small_d} : n / d;
}

std::int64_t low_word(Int128 value) {
  return static_cast<std::int64_t>(value);
}

bool fit_in_words(Int128 a, Int128 b) {
  return low_word(a) == a && low_word(b) == b;
}

// Of two numbers that fit in words; `b` is positive.
std::int64_t gcd_of_words(std::int64_t a, std::int64_t b) {
  if (b == 1 || a == 1) return 1;
  const std::uint64_t size = a < 0 ? std::uint64_t{0} - static_cast<std::uint64_t>(a) : static_cast<std::uint64_t>(a);
  return static_cast<std::int64_t>(std::gcd(size, static_cast<std::uint64_t>(b)));
}

}  // namespace

Rational Rational::overflow() {
  Rational result;
  result.denominator_ = 0;
  return result;
}

Rational Rational::fraction(Int128 n, Int128 d) {
  if (d == 0 || n == kMin || d == kMin) return overflow();
  if (d < 0) {
    n = -n;
    d = -d;
  }
  Rational result;
  if (fit_in_words(n, d)) {
    const std::int64_t common = gcd_of_words(low_word(n), low_word(d));
    result.numerator_ = low_word(n) / common;
    result.denominator_ = low_word(d) / common;
    return result;
  }
  const Int128 common = gcd_of(n, d);
  result.numerator_ = divide_exactly(n, common);
  result.denominator_ = divide_exactly(d, common);
  return result;
}

Int128 Rational::floor() const {
  return divide_floor(numerator_, denominator_);
}

Int128 Rational::rounded() const {
  return divide_rounded(numerator_, denominator_);
}

double Rational::to_double() const {
  // Both parts exact in a double: one correctly rounded division. Beyond that the error stays within 1.5 ulp.
  return static_cast<double>(numerator_) / static_cast<double>(denominator_);
}

Rational operator+(const Rational& a, const Rational& b) {
  if (a.overflowed() || b.overflowed()) return Rational::overflow();
  if (fit_in_words(a.numerator_, a.denominator_) && fit_in_words(b.numerator_, b.denominator_)) {
    // The same as below, with divisions of one word. Products of two words and their sum fit in 128 bits.
    const std::int64_t of_a = low_word(a.denominator_);
    const std::int64_t of_b = low_word(b.denominator_);
    const std::int64_t common = of_a == of_b ? of_a : gcd_of_words(of_a, of_b);
    const std::int64_t scale_b = common == 1 ? of_a : of_a / common;
    const std::int64_t scale_a = common == 1 ? of_b : of_b / common;
    const Int128 top = Int128{low_word(a.numerator_)} * scale_a + Int128{low_word(b.numerator_)} * scale_b;
    if (low_word(top) == top) {
      const std::int64_t left_over = gcd_of_words(low_word(top), common);
      Rational sum;
      sum.numerator_ = left_over == 1 ? low_word(top) : low_word(top) / left_over;
      sum.denominator_ = Int128{scale_b} * (left_over == 1 ? of_b : of_b / left_over);
      return sum;
    }
  }
  // What numerator and denominator of a sum have in common divides what the denominators have in common: Knuth, The Art
  // of Computer Programming, vol. 2, 3rd ed., section 4.5.1.
  const Int128 common = a.denominator_ == b.denominator_ ? a.denominator_ : gcd_of(a.denominator_, b.denominator_);
  const Int128 scale_a = divide_exactly(b.denominator_, common);
  const Int128 scale_b = divide_exactly(a.denominator_, common);
  Int128 left = 0;
  Int128 right = 0;
  Rational sum;
  if (__builtin_mul_overflow(a.numerator_, scale_a, &left) || __builtin_mul_overflow(b.numerator_, scale_b, &right) ||
      __builtin_add_overflow(left, right, &sum.numerator_) || sum.numerator_ == kMin) {
    return Rational::overflow();
  }
  const Int128 left_over = gcd_of(sum.numerator_, common);
  sum.numerator_ = divide_exactly(sum.numerator_, left_over);
  if (__builtin_mul_overflow(scale_b, divide_exactly(b.denominator_, left_over), &sum.denominator_)) {
    return Rational::overflow();
  }
  return sum;
}

Rational operator-(const Rational& a, const Rational& b) {
  return a + (-b);
}

Rational operator-(const Rational& a) {
  Rational result = a;
  result.numerator_ = -a.numerator_;
  return result;
}

Rational operator*(const Rational& a, const Rational& b) {
  if (a.overflowed() || b.overflowed()) return Rational::overflow();
  if (fit_in_words(a.numerator_, a.denominator_) && fit_in_words(b.numerator_, b.denominator_)) {
    const std::int64_t ab = gcd_of_words(low_word(a.numerator_), low_word(b.denominator_));
    const std::int64_t ba = gcd_of_words(low_word(b.numerator_), low_word(a.denominator_));
    Rational product;
    product.numerator_ = Int128{low_word(a.numerator_) / ab} * (low_word(b.numerator_) / ba);
    product.denominator_ = Int128{low_word(a.denominator_) / ba} * (low_word(b.denominator_) / ab);
    return product;
  }
  // Cancelling crosswise first keeps every product that fits in lowest terms from overflowing on the way.
  const Int128 ab = gcd_of(a.numerator_, b.denominator_);
  const Int128 ba = gcd_of(b.numerator_, a.denominator_);
  Int128 numerator = 0;
  Int128 denominator = 0;
  if (__builtin_mul_overflow(divide_exactly(a.numerator_, ab), divide_exactly(b.numerator_, ba), &numerator) ||
      __builtin_mul_overflow(divide_exactly(a.denominator_, ba), divide_exactly(b.denominator_, ab), &denominator) ||
      numerator == kMin) {
    return Rational::overflow();
  }
  Rational result;
  result.numerator_ = numerator;
  result.denominator_ = denominator;
  return result;
}

Rational operator/(const Rational& a, const Rational& b) {
  if (a.overflowed() || b.overflowed() || b.numerator_ == 0) return Rational::overflow();
  return a * Rational::fraction(b.denominator_, b.numerator_);
}

std::strong_ordering operator<=>(const Rational& a, const Rational& b) {
  Int128 left = 0;
  Int128 right = 0;
  if (!__builtin_mul_overflow(a.numerator_, b.denominator_, &left) &&
      !__builtin_mul_overflow(b.numerator_, a.denominator_, &right)) {
    return left <=> right;
  }
  // Continued fractions: compare the whole parts, then the reciprocals of the rests the other way round.
  Int128 an = a.numerator_;
  Int128 ad = a.denominator_;
  Int128 bn = b.numerator_;
  Int128 bd = b.denominator_;
  bool swapped = false;
  while (true) {
    const Int128 a_whole = divide_floor(an, ad);
    const Int128 b_whole = divide_floor(bn, bd);
    const Int128 a_rest = an - a_whole * ad;
    const Int128 b_rest = bn - b_whole * bd;
    std::strong_ordering order = a_whole <=> b_whole;
    if (order == 0 && (a_rest == 0 || b_rest == 0)) order = a_rest <=> b_rest;
    if (order != 0 || (a_rest == 0 && b_rest == 0)) return swapped ? 0 <=> order : order;
    an = ad;
    ad = a_rest;
    bn = bd;
    bd = b_rest;
    swapped = !swapped;
  }
}

Rational abs(const Rational& value) {
  return value.sign() < 0 ? -value : value;
}

Int128 divide_floor(Int128 n, Int128 d) {
  const Int128 quotient = n / d;
  return (n % d < 0) ? quotient - 1 : quotient;
}

Int128 divide_rounded(Int128 n, Int128 d) {
  const Int128 quotient = n / d;
  const Int128 rest = n % d;
  const Int128 distance = rest < 0 ? -rest : rest;
  // distance >= d - distance is 2·distance >= d without the overflow.
  if (distance >= d - distance) return n < 0 ? quotient - 1 : quotient + 1;
  return quotient;
}

bool fits_int64(Int128 value) {
  return value >= std::numeric_limits<std::int64_t>::min() && value <= std::numeric_limits<std::int64_t>::max();
}

}  // namespace rampart
