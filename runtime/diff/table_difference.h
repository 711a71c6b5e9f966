#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "compiler/table.h"

namespace rampart::diff {

// Stretches kept of one quantity of one rail; those beyond are counted.
inline constexpr std::size_t kMaxStretches = 20;

enum class Compared : std::uint8_t { Setpoint, Limit, Output };
inline constexpr std::size_t kComparedCount = 3;

// A time in which a quantity is not the same in both tables, counted from the start of its segment.
struct Stretch {
  std::string segment;
  Nanoseconds from{0};
  Nanoseconds to{0};
  Rational largest;  // difference by magnitude: V, A, or 1 for an output
  Nanoseconds at{0};
  Rational before;  // the values there
  Rational after;
  std::int64_t passes = 1;  // so many passes of loops hold it, each at its own time
};

struct QuantityDifference {
  std::vector<Stretch> stretches;
  std::int64_t left_out = 0;
  Nanoseconds total{0};  // all passes of all stretches
};

// Of a rail that both profiles have. Renamed rails are found by their channels.
struct RailDifference {
  RailId before{};
  RailId after{};
  QuantityDifference quantities[kComparedCount];  // by Compared
  [[nodiscard]] bool any() const;
};

struct TableDifference {
  std::vector<RailDifference> rails;     // of the old profile, in its order
  std::vector<std::string> only_before;  // rails
  std::vector<std::string> only_after;
  std::vector<std::string> segments;  // what is different about segments, in words
  Nanoseconds duration_before{0};
  Nanoseconds duration_after{0};
};

// One run with its stop, where there is one.
struct Tables {
  const Table& run;
  const Table* safe = nullptr;
};

// Compares what two tables set, instant by instant. Loops that both tables have are compared pass by pass until both
// end a pass as they ended the one before.
[[nodiscard]] TableDifference compare_tables(const Tables& before, const Tables& after);

}  // namespace rampart::diff
