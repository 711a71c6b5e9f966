#pragma once

#include <cstdint>
#include <string>

namespace rampart::report {

// Whole numbers as text: small ones take little room. Each is written with its sign in the lowest bit, in groups of 5
// bits from the lowest up; a group that is followed by another has its 6th bit set. A group is one character of Base64
// (RFC 4648, section 4).
class PackedNumbers {
 public:
  void add(std::int64_t number);
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string text_;
};

}  // namespace rampart::report
