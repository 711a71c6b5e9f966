#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "lang/values/rational.h"

namespace rampart {

// How a template writes a number: `[[fill]align][sign][0][width][.precision][L][f]`, as in the fmt library, but exact:
// never rounded. Without a precision a number has as many digits as it needs; with `L` it has a decimal comma.
class NumberFormat {
 public:
  // Empty if it is no such format; `fill` is one byte.
  [[nodiscard]] static std::optional<NumberFormat> parse(std::string_view format);

  // Empty if no decimal of so many digits is exactly the value.
  [[nodiscard]] std::optional<std::string> text(const Rational& value) const;
  [[nodiscard]] bool has_precision() const { return precision_ >= 0; }

 private:
  [[nodiscard]] std::string padded(std::string_view sign, const std::string& digits) const;

  char fill_ = ' ';
  char align_ = '>';
  char sign_ = '-';
  bool zeros_ = false;
  bool comma_ = false;
  int width_ = 0;
  int precision_ = -1;
};

}  // namespace rampart
