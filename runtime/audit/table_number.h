#pragma once

#include <compare>
#include <cstdint>
#include <optional>
#include <string_view>

#include "lang/values/rational.h"

namespace rampart::audit {

// An exact number of a table, or of the bench that the table is checked against. Nearly all are whole billionths below
// four billion, which are kept and calculated as whole numbers; the others are fractions.
class TableNumber {
 public:
  constexpr TableNumber() = default;
  explicit TableNumber(const Rational& value);
  // `count` billionths.
  [[nodiscard]] static TableNumber billionths(std::int64_t count);
  // A decimal without exponent, with a sign if it is negative, at most 10^12. Empty if the text is no such number.
  [[nodiscard]] static std::optional<TableNumber> read(std::string_view text);
  // Takes a decimal off the front of `text` if it has at most nine digits on each side of its point. Else false, and
  // neither argument means anything.
  [[nodiscard]] static bool take_short(std::string_view& text, TableNumber& number);

  [[nodiscard]] Rational value() const;
  [[nodiscard]] double to_double() const;
  [[nodiscard]] int sign() const { return is_short() ? (billionths_ > 0) - (billionths_ < 0) : fraction_->sign(); }
  // Whether it is a whole number of steps. False for a step of 0.
  [[nodiscard]] bool is_multiple_of(const TableNumber& step) const {
    if (!is_short() || !step.is_short()) return is_multiple_as_fraction(step);
    return step.billionths_ != 0 && billionths_ % step.billionths_ == 0;
  }

  friend TableNumber operator+(const TableNumber& a, const TableNumber& b);
  friend TableNumber operator-(const TableNumber& a, const TableNumber& b);
  friend TableNumber abs(const TableNumber& number) { return number.sign() < 0 ? TableNumber() - number : number; }
  friend std::strong_ordering operator<=>(const TableNumber& a, const TableNumber& b) {
    return a.is_short() && b.is_short() ? a.billionths_ <=> b.billionths_ : a.value() <=> b.value();
  }
  friend bool operator==(const TableNumber& a, const TableNumber& b) {
    return a.billionths_ == b.billionths_ && a.fraction_ == b.fraction_;
  }
  // a · b > bound.
  friend bool product_exceeds(const TableNumber& a, const TableNumber& b, const TableNumber& bound);

 private:
  [[nodiscard]] bool is_short() const { return !fraction_; }
  [[nodiscard]] bool is_multiple_as_fraction(const TableNumber& step) const;

  std::int64_t billionths_ = 0;
  std::optional<Rational> fraction_;  // of a number that is not so many billionths
};

}  // namespace rampart::audit
