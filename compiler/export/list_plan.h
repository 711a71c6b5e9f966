#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/table/table.h"
#include "lang/findings/finding.h"

// How a supply plays a table from its own memory: lists of points that each channel steps through a number of times.
namespace rampart {

struct ListPoint {
  std::int64_t voltage = 0;  // counts, as in rows
  std::int64_t current = 0;
  Nanoseconds dwell{0};
  friend bool operator==(const ListPoint&, const ListPoint&) = default;
};

// What one channel plays: `points`, `passes` times over, then it stands at `last`.
struct ChannelList {
  ChannelId channel{};
  std::vector<ListPoint> points;
  std::int64_t passes = 1;
  bool switched_on = false;  // from the start to the end
  Row last;                  // the state at the end of the run
};

struct ListOptions {
  // How far a thinned staircase of a rail may be off, which in series its channels share as they share its voltage;
  // none: one step of each channel's resolution.
  std::optional<Volts> ramp_error;
};

// Fits the run of a table into the memory of the supplies it uses. The points of a channel are folded into passes where
// they repeat; where they do not fit, ramps of `hold` supplies are thinned to the fewest stairs that stay within the
// error, never early and exact at the end. Findings: channel-cannot-play where something is beyond a list, table-memory
// (an error where the points do not fit, a note where stairs were left out). Empty where one of them is an error.
[[nodiscard]] std::optional<std::vector<ChannelList>> plan_lists(const Table& run, const ListOptions& options,
                                                                 FindingSink& findings);

}  // namespace rampart
