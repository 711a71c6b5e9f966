#pragma once

#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include "compiler/table/rail_motion.h"
#include "compiler/table/rail_output.h"
#include "compiler/table/row_queue.h"

namespace rampart {

// Makes the rows of one rail's channels, block by block.
class RailPlayer {
 public:
  RailPlayer(const Table& table, RailId rail)
      : output_(table, rail), state_(table.timeline().initial()[static_cast<std::size_t>(rail)]) {}
  virtual ~RailPlayer() = default;
  [[nodiscard]] virtual std::unique_ptr<RailPlayer> clone() const = 0;

  // Starts a block: `moves` are the rail's own.
  void begin(const Block& block, const std::vector<const Move*>& moves, RowQueue& queue);
  // The grid time of the next rows of this block; none when they have all been made.
  [[nodiscard]] virtual std::optional<Nanoseconds> next_time() const = 0;
  virtual void make_next(RowQueue& queue) = 0;

  // The next rows are those of a staircase.
  [[nodiscard]] virtual bool is_on_stairs() const { return false; }
  // On stairs: makes the rows of those that start before `before`, as long as there are fewer than `most`.
  virtual void make_stairs(Nanoseconds /*before*/, std::size_t /*most*/, std::vector<Row>& /*rows*/) {}

  // A segment starts at 0: a full row of each channel.
  void begin_segment(RowQueue& queue);
  // A segment ends: a last row of each channel. Gives the time of that row.
  virtual Nanoseconds end_segment(Nanoseconds time, RowQueue& queue) = 0;
  // Passes of this length were left out.
  virtual void skip(Nanoseconds /*by*/) {}
  // Appends what the coming rows depend on, times counted from `origin`.
  virtual void append_state(Nanoseconds origin, StateKey& state) const { append_pass_state(origin, state); }
  // The same for rows before the end of the segment.
  virtual void append_pass_state(Nanoseconds origin, StateKey& state) const;

  // How far rows that are made between the two calls may move; see RowCursor::go_through_pass().
  void keep_room() { room_ = PhaseRoom{}; }
  [[nodiscard]] PhaseRoom take_room() { return std::exchange(room_, std::nullopt).value_or(PhaseRoom{}); }

  [[nodiscard]] const RailOutput& output() const { return output_; }
  [[nodiscard]] const RailState& state() const { return state_; }

 protected:
  RailPlayer(const RailPlayer&) = default;
  virtual void start(const Block& block, RowQueue& queue) = 0;

  // A row of each channel at `time` that holds the given setpoints; none if nothing of them is known.
  void put_rows(Nanoseconds time, const RailState& state, const Statement* statement, bool forced, RowQueue& queue);
  // The same with the setpoints as they are in counts_.
  void put_counts(Nanoseconds time, const RailState& state, const Statement* statement, bool forced, RowQueue& queue,
                  bool is_stair);
  [[nodiscard]] Row row_of(std::size_t member, Nanoseconds time, const RailState& state, const Statement* statement,
                           bool is_stair) const;

  // The grid time nearest to an exact one, which is remembered in the room.
  [[nodiscard]] Nanoseconds on_grid(Int128 numerator, Int128 denominator = 1);
  [[nodiscard]] Nanoseconds on_grid(Nanoseconds time) { return on_grid(time.count()); }

  RailOutput output_;
  RailState state_;
  std::optional<PhaseRoom> room_;  // while it is kept
  const Statement* last_statement_ = nullptr;
  std::vector<RailInstant> instants_;
  std::vector<MemberCounts> counts_;
};

// For a supply that holds a row until the next one: ramps become stairs.
[[nodiscard]] std::unique_ptr<RailPlayer> make_stair_player(const Table& table, RailId rail);
// For a supply that runs straight from row to row.
[[nodiscard]] std::unique_ptr<RailPlayer> make_line_player(const Table& table, RailId rail);

}  // namespace rampart
