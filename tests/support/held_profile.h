#pragma once

#include <string>

#include "lang/files/files.h"
#include "lang/findings/finding.h"

// A profile with its bench and load, held in memory.
namespace rampart::test {

inline constexpr const char* kHeldBench = R"(bench: One supply
supplies:
  bench:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV}
        current: {range: 0 A .. 3 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s, overpower: 1 W .. 90 W}
)";
inline constexpr const char* kHeldLoad = R"(load: A board
rails:
  core:
    elements:
      - {kind: resistor, resistance: 10 Ohm +- 10 %}
faults:
  shorted:
    rail: core
    at: mark up + 1 s
    becomes:
      - {kind: resistor, resistance: 10 mOhm}
)";
inline constexpr const char* kHeldProfile = R"(profile "Held"
bench "one.bench.yaml"
load "board.load.yaml"

param level = 5 V in 4 V .. 6 V

rail core on bench.ch1

protect core {
  ceiling 5.5 V
  overvoltage 7 V
  fuse after 100 ms
  overpower 4 W
}

rule "never above" always core <= 6.5 V

run {
  limit core to 1 A
  on core
  ramp core to level over 1 s
  mark "up"
  dwell 5 s
  ramp core to 0 V over 1 s
  off core
}

safe {
  off core
}

expect peak_current(core) <= 700 mA
expect trip core by fuse under shorted
)";

inline HeldTexts held_profile(const std::string& profile = kHeldProfile) {
  HeldTexts files;
  files.hold("p.ramp", profile);
  files.hold("one.bench.yaml", kHeldBench);
  files.hold("board.load.yaml", kHeldLoad);
  return files;
}

// The names of the findings in their order.
inline std::string names_of(const FindingSink& findings) {
  std::string names;
  for (const Finding& finding : findings.findings()) names += (names.empty() ? "" : " ") + std::string(finding.name);
  return names;
}

}  // namespace rampart::test
