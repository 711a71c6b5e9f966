#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

// What a simulation takes as ideal because neither bench nor load says.
namespace rampart {

enum class Assumed : std::uint8_t { NoLoad, NoWire, NoSlew, NoOutputCapacitance, NoThermal, NoOffResistance };

struct AssumedRow {
  Assumed kind{};
  std::string_view noun;         // before the names; empty of channels
  std::string_view what;         // "slew: the output moves at once"
  bool leaves_unjudged = false;  // something that could go wrong is not looked at
};

[[nodiscard]] const AssumedRow& row_of(Assumed kind);

struct Assumption {
  Assumed kind{};
  std::vector<std::string> names;  // of rails or channels, one at least
};

// "rails `a`, `b` have no wire: no resistance on the way".
[[nodiscard]] std::string assumption_text(const Assumption& assumption);

}  // namespace rampart
