#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "runtime/predict/spread/runner.h"

namespace rampart::spread {

// With more tolerances than this give corners, a seeded sample of them is taken.
inline constexpr std::size_t kMostCorners = 4'096;
inline constexpr std::size_t kSampledCorners = 1'024;

// An end of what a reading comes to, and the corner that gave it: 0 for what makes no difference to it.
struct Extreme {
  double value = 0;
  Positions at;
};

struct CornerReading {
  double nominal = 0;  // NaN where the nominal run gives none
  std::optional<Extreme> low;
  std::optional<Extreme> high;
  std::size_t failing = 0;  // corners in which the rule or expectation does not hold
};

// What goes wrong in some corners, though not with everything nominal.
struct CornerFailure {
  enum class What : std::uint8_t { Trip, Rule, Expectation, Wait, GivenUp };
  What what{};
  std::size_t index = 0;  // the rail; the reading of the rule or expectation
  std::size_t corners = 0;
  Positions at;  // the first of them, with as much nominal as still fails
};

// Whether a run with this outcome fails so.
[[nodiscard]] bool shows(const CornerFailure& failure, const Outcome& outcome);

struct Corners {
  bool all = false;                     // every combination of ends was tried
  std::size_t corners = 0;              // that were tried; those with one tolerance at its end come on top
  std::size_t failing = 0;              // with anything that is an error
  std::vector<CornerReading> readings;  // in the order of the ledger
  std::vector<CornerFailure> failures;
};

[[nodiscard]] Corners try_corners(const Runner& runner, const Job& job = {});
// What a part of the runs that this takes comes to.
[[nodiscard]] Results corners_part(const Runner& runner, const Part& part, const Job& job = {});

// All positions that corners of so many tolerances are tried at: each tolerance alone at its ends, then the corners.
struct CornerCases {
  std::vector<Positions> cases;
  std::size_t singles = 0;  // of them, the first ones
  bool all = false;         // every combination of ends is there
};
[[nodiscard]] CornerCases corner_cases(std::size_t tolerances);

}  // namespace rampart::spread
