#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "compiler/bench/bench.h"
#include "compiler/profile/profile.h"
#include "lang/values/quantity.h"

namespace rampart::sweep {

// The values of a parameter that a sweep may try, in rising order: those that lie whole steps from `anchor` in the
// range, its ends, and the value that the parameter has, where it is in the range.
class ValueGrid {
 public:
  // low <= high, step > 0, and no more than kMostValues of them.
  ValueGrid(const Range<Rational>& range, const Rational& step, const Rational& anchor, const Rational& present);

  [[nodiscard]] std::int64_t count() const;
  [[nodiscard]] Rational at(std::int64_t index) const;
  // None: out of the range.
  [[nodiscard]] std::optional<std::int64_t> present() const { return present_at_; }

 private:
  [[nodiscard]] std::int64_t regular_count() const;
  [[nodiscard]] Rational regular(std::int64_t index) const;

  Range<Rational> range_;
  Rational step_;
  Rational first_;          // the lowest whole step above the lower end
  std::int64_t inner_ = 0;  // whole steps between the ends
  Rational present_;
  bool present_added_ = false;  // it is none of the others
  std::optional<std::int64_t> present_at_;
};

// The finest step in which the supplies of a profile's rails can set a quantity of this dimension: a voltage, a
// current, a time. None where it is nothing that they set.
[[nodiscard]] std::optional<Rational> settable_step(const Profile& profile, const Bench& bench,
                                                    const Dimension& dimension);

// By how much a parameter changes from one whole step of the protections that it sets to the next: of several the
// largest. `low` and `high` are the profile with the parameter at two values that are `apart`. None where it sets no
// delay and no current of a fuse, nor a delay of an overpower protection, or these have no steps.
[[nodiscard]] std::optional<Rational> protection_step(const Profile& low, const Profile& high, const Rational& apart,
                                                      const Bench& bench);

// 1, 2 or 5 times a power of ten: the largest that is no more than a thousandth of the range.
[[nodiscard]] Rational thousandth(const Range<Rational>& range);

// "3.5ms": as a setting reads it back exactly. Empty where the value is no decimal number.
[[nodiscard]] std::string setting_text(const Quantity& value, const Range<Quantity>& range);

}  // namespace rampart::sweep
