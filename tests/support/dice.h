#pragma once

#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <random>
#include <string>

namespace rampart::test {

// Random values that are the same on every machine.
class Dice {
 public:
  explicit Dice(std::uint32_t seed) : engine_(seed) {}
  // Each decade is as likely as the other.
  double between(double low, double high) { return low * std::pow(high / low, unit()); }
  bool chance(double share) { return unit() < share; }
  int up_to(int last) { return static_cast<int>(unit() * (last + 1)); }

 private:
  double unit() { return static_cast<double>(engine_()) / 4294967296.0; }
  std::mt19937 engine_;
};

// A text of parts that are drawn. Compilers compute the sides of a `+` and the arguments of a call in an order of their
// own, and the parts in braces one after the other.
inline std::string in_order(std::initializer_list<std::string> parts) {
  std::string text;
  for (const std::string& part : parts) text += part;
  return text;
}

// In whole thousandths above the value: "1501 mV".
inline std::string milli(double value, const char* unit) {
  return std::to_string(static_cast<long>(value * 1000) + 1) + " m" + unit;
}

}  // namespace rampart::test
