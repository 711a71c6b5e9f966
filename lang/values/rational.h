#pragma once

#include <compare>
#include <cstdint>

namespace rampart {

__extension__ using Int128 = __int128;

// An exact fraction of two 128-bit integers, kept in lowest terms.
//
// Arithmetic that does not fit in 128 bits, and division by zero, give an *overflowed* value, and so does every
// calculation that takes one. Only `overflowed()` may be asked of such a value.
class Rational {
 public:
  constexpr Rational() = default;
  constexpr Rational(std::int64_t whole) : numerator_(whole) {}  // NOLINT: whole numbers are rationals
  // n / d in lowest terms; overflowed if d is 0.
  [[nodiscard]] static Rational fraction(Int128 n, Int128 d);
  [[nodiscard]] static Rational overflow();

  [[nodiscard]] bool overflowed() const { return denominator_ == 0; }
  [[nodiscard]] Int128 numerator() const { return numerator_; }
  [[nodiscard]] Int128 denominator() const { return denominator_; }
  [[nodiscard]] bool is_whole() const { return denominator_ == 1; }
  [[nodiscard]] int sign() const { return (numerator_ > 0) - (numerator_ < 0); }

  // The largest whole number not above the value.
  [[nodiscard]] Int128 floor() const;
  // The nearest whole number, ties away from zero: the only rounding in the project.
  [[nodiscard]] Int128 rounded() const;
  [[nodiscard]] double to_double() const;

  friend Rational operator+(const Rational& a, const Rational& b);
  friend Rational operator-(const Rational& a, const Rational& b);
  friend Rational operator*(const Rational& a, const Rational& b);
  friend Rational operator/(const Rational& a, const Rational& b);
  friend Rational operator-(const Rational& a);
  // Exact for every pair of values: no product is formed that could overflow.
  friend std::strong_ordering operator<=>(const Rational& a, const Rational& b);
  friend bool operator==(const Rational& a, const Rational& b) = default;

 private:
  Int128 numerator_ = 0;
  Int128 denominator_ = 1;
};

[[nodiscard]] Rational abs(const Rational& value);

// n / d rounded to the nearest whole number, ties away from zero; d > 0.
[[nodiscard]] Int128 divide_rounded(Int128 n, Int128 d);
// The largest whole number not above n / d; d > 0.
[[nodiscard]] Int128 divide_floor(Int128 n, Int128 d);
// True if the whole number fits in 64 bits.
[[nodiscard]] bool fits_int64(Int128 value);

}  // namespace rampart
