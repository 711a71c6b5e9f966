#pragma once

#include <optional>
#include <vector>

#include "compiler/table/rail_output.h"
#include "compiler/table/table.h"
#include "runtime/diff/table_difference.h"

namespace rampart::diff {

// Plays one table and says where each rail stands, exactly.
class SegmentPlayer {
 public:
  explicit SegmentPlayer(const Table& table);

  // The time of the next item of this segment; none when the segment is over. Of the end of a pass, which may lie off
  // the grid, the time before which no row follows any more.
  [[nodiscard]] std::optional<Nanoseconds> next_time();
  // The end of a pass, if that is the next item.
  [[nodiscard]] const PassEnded* pass_end();
  // Takes the next item.
  void take();
  // Right after a pass end was taken.
  void skip_passes(std::int64_t passes, Nanoseconds length);
  [[nodiscard]] StateKey state() const { return cursor_.state(); }

  // After the end of a segment: goes on to the next one. False if there is none.
  [[nodiscard]] bool next_segment();
  [[nodiscard]] Nanoseconds segment_length() const { return segment_length_; }

  // What comes after the segment that is over; none after the last.
  [[nodiscard]] const Await* await() const { return await_; }

  // At `time`, with what was taken so far: of the rail with this number, in its own view, or of the line. Empty while
  // nothing of it is known.
  [[nodiscard]] std::optional<Rational> value(std::uint32_t number, Compared quantity, Nanoseconds time) const;

 private:
  void look_ahead();
  [[nodiscard]] Nanoseconds earliest_row(Nanoseconds time) const;
  [[nodiscard]] std::optional<Rational> rail_value(const RailSetup& setup, Compared quantity, Nanoseconds time) const;

  const Table& table_;
  std::vector<TimeGrid> grids_;  // of the rails
  RowCursor cursor_;
  std::optional<TableItem> next_;
  std::vector<std::optional<Row>> rows_;    // by ChannelId: the last one
  std::vector<std::optional<bool>> lines_;  // by LineId: their levels
  const Await* await_ = nullptr;
  bool segment_over_ = false;
  bool table_over_ = false;
  Nanoseconds segment_length_{0};
};

}  // namespace rampart::diff
