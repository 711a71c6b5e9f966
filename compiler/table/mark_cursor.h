#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <variant>

#include "compiler/table/rail_output.h"
#include "compiler/table/table.h"

namespace rampart {

// Goes through the marks and measurements of a table segment by segment, as its rows would give them, without making
// the rows.
class MarkCursor {
 public:
  using Item = std::variant<MarkReached, MeasurementDue>;

  explicit MarkCursor(const Table& table);

  // The next one of the segment; of one block marks come first. Empty where there is none; the call after that begins
  // with the next segment.
  [[nodiscard]] std::optional<Item> next();
  // The 1-based passes of the loops around it, outermost first.
  [[nodiscard]] std::span<const std::int64_t> passes() const { return timeline_.passes(); }

 private:
  void end_pass(const TimelinePassEnded& pass);

  TimelineCursor timeline_;
  TimeGrid grid_;
  const Block* block_ = nullptr;
  std::size_t mark_ = 0;  // the next ones of the block
  std::size_t measurement_ = 0;
  std::int64_t given_ = 0;               // marks, measurements and ends of segments so far
  std::map<LoopId, std::int64_t> ends_;  // how many there were at the last end of a pass
};

}  // namespace rampart
