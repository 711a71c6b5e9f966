#pragma once

#include <doctest/doctest.h>

#include <string_view>

#include "runtime/answer/simulation.h"

namespace rampart::test {

// The margin of that kind; of a rail by its index.
inline const Margin& margin_of(const Simulation& simulation, MarginKind kind, std::uint32_t rail = 0) {
  for (const Margin& margin : simulation.margins) {
    if (margin.kind == kind && margin.rail == RailId{rail}) return margin;
  }
  FAIL("no such margin");
  return simulation.margins.front();
}

// The margin of that kind that a channel or supply has.
inline const Margin& margin_of_owner(const Simulation& simulation, MarginKind kind, std::string_view owner) {
  for (const Margin& margin : simulation.margins) {
    if (margin.kind == kind && margin.owner == owner) return margin;
  }
  FAIL("no such margin");
  return simulation.margins.front();
}

}  // namespace rampart::test
