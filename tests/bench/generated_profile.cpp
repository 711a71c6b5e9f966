#include "tests/bench/generated_profile.h"

namespace rampart {

std::string generated_profile(std::int64_t statements) {
  constexpr std::int64_t kStatementsARound = 4;
  constexpr std::int64_t kRoundsABlock = 25;
  std::string text =
      "profile \"Generated\"\n"
      "let level = 3.3 V\n"
      "rail core on bench.ch1\n"
      "protect core { overvoltage 8 V; fuse after 20 ms; overpower 20 W after 100 ms }\n"
      "run {\n"
      "  limit core to 1 A\n"
      "  on core\n";
  for (std::int64_t round = 0; round * kStatementsARound < statements; ++round) {
    const bool block = round % kRoundsABlock == 0;
    if (block) text += "  repeat 2 {\n";
    text += "  ramp core to level + " + std::to_string(round % 90 + 1) + " * 10 mV over 200 ms\n";
    text += "  dwell 50 ms  # at the upper level\n";
    text += "  step core to level\n";
    text += "  dwell 1.5 s\n";
    if (block) text += "  }\n";
  }
  return text + "  ramp core to 0 V over 1 s\n  off core\n}\n";
}

}  // namespace rampart
