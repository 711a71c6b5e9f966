#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/diff/table_difference.h"
#include "runtime/predict/answer.h"

namespace rampart::diff {

// What is set up for a rail or line before the first row; empty: not set.
struct SetupChange {
  std::string of;
  bool is_line = false;
  std::string what;
  std::string before;
  std::string after;
};

// A `measure` statement: the time that its mean is over; none on the side that lacks it.
struct MeasurementChange {
  std::string name;
  std::optional<Nanoseconds> before;
  std::optional<Nanoseconds> after;
};

// A figure of the simulation, in its SI unit; none where one side has no simulation or no such figure.
struct FigureChange {
  std::string rail;  // "total" for all of them; of a rule what it is judged on
  std::string what;
  std::string unit;
  std::optional<double> before;
  std::optional<double> after;
};

// A finding that both sides have, with other numbers.
struct FindingChange {
  std::string before;
  std::string after;
};

struct ProfileDifference {
  TableDifference table;
  std::vector<SetupChange> setup;
  std::vector<MeasurementChange> measurements;
  std::vector<FigureChange> figures;
  // Findings by severity, message and name, whose place does not matter: those that only one side has, and those in
  // which only numbers differ.
  std::vector<std::string> vanished;
  std::vector<std::string> appeared;
  std::vector<FindingChange> changed;

  [[nodiscard]] bool any() const;
};

// A margin that is smaller than this share of its limit is none.
inline constexpr double kNoMargin = 1e-9;
// Figures that differ by less, relative to the larger, are the same: they come out of floating-point arithmetic.
inline constexpr double kSameFigure = 1e-9;
// Smaller figures, in SI units, are compared as if they were as large as this.
inline constexpr double kSmallFigure = 1e-3;

// What changes on the bench from one profile to another. Both have a table.
[[nodiscard]] ProfileDifference compare_profiles(const Answer& before, const Answer& after);

}  // namespace rampart::diff
