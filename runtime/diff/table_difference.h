#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "compiler/table/table.h"

namespace rampart::diff {

// Stretches kept of one quantity of one rail or line; those beyond are counted.
inline constexpr std::size_t kMaxStretches = 20;

enum class Compared : std::uint8_t { Setpoint, Limit, Output, Level };
// Of a rail; the level is that of a line.
inline constexpr std::size_t kComparedCount = 3;

// A time in which a quantity is not the same in both tables, counted from the start of its segment. It has no length
// where only what is left at the end of the segment differs.
struct Stretch {
  std::string segment;
  Nanoseconds from{0};
  Nanoseconds to{0};
  Rational largest;  // difference by magnitude: V, A, or 1 for an output or level
  Nanoseconds at{0};
  std::optional<Rational> before;  // the values there; none: it is left as it is
  std::optional<Rational> after;
  std::int64_t passes = 1;  // so many passes of loops hold it, each at its own time
  bool waits = false;       // it goes on while the wait after the segment lasts
};

struct QuantityDifference {
  std::vector<Stretch> stretches;
  std::int64_t left_out = 0;
  Nanoseconds total{0};  // all passes of all stretches, and waits as long as both profiles take them to last
};

// Of a rail that both profiles have. Renamed rails are found by their channels.
struct RailDifference {
  RailId before{};
  RailId after{};
  QuantityDifference quantities[kComparedCount];  // by Compared
  [[nodiscard]] bool any() const;
};

// Of a trigger line that both profiles have. Renamed lines are found by their terminals.
struct LineDifference {
  LineId before{};
  LineId after{};
  QuantityDifference level;
};

// What one profile has alone.
struct Unmatched {
  std::vector<std::string> before;
  std::vector<std::string> after;
};

// What two waits do not have in common, in words.
struct WaitChange {
  std::string segment;  // that the wait comes after
  std::string what;     // "for", "within", "assume"
  std::string before;   // empty: not said
  std::string after;
};

// A loop of both profiles whose passes take another time, or are not as many.
struct LoopChange {
  Span statement;  // the `repeat` of the new profile
  Nanoseconds length_before{0};
  Nanoseconds length_after{0};
  std::int64_t passes_before = 0;
  std::int64_t passes_after = 0;
};

struct TableDifference {
  std::vector<RailDifference> rails;  // of the old profile, in its order
  std::vector<LineDifference> lines;  // likewise
  Unmatched other_rails;
  Unmatched other_lines;
  std::vector<WaitChange> waits;
  std::vector<LoopChange> loops;
  std::vector<std::string> segments;  // what is different about segments, in words
  Nanoseconds duration_before{0};
  Nanoseconds duration_after{0};
};

// One run with its stop, where there is one.
struct Tables {
  const Table& run;
  const Table* safe = nullptr;
};

// The partner of each rail or line of the old profile in the new one.
struct Partners {
  std::vector<std::optional<std::uint32_t>> rails;  // by RailId
  std::vector<std::optional<std::uint32_t>> lines;  // by LineId
};

// Compares what two tables set, instant by instant. Where both have as many loops, nested alike, each pass is compared
// with that of the other table from its start on, whatever came before took, until both end a pass as they ended the
// one before. Times are those of the new table.
[[nodiscard]] TableDifference compare_tables(const Tables& before, const Tables& after);

}  // namespace rampart::diff
