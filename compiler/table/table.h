#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/bench/shares.h"
#include "compiler/profile/profile.h"
#include "compiler/table/state_key.h"
#include "compiler/timeline/timeline.h"

// The setpoint table: what each channel is set to, and when. Rows are made one after another as they are asked for,
// so a table takes no more memory for a thousand hours than for one pass of its loops.
namespace rampart {

// The whole state of one channel from `time` until its next row.
struct Row {
  Nanoseconds time{0};  // from the start of the segment, on the supply's grid
  ChannelId channel{};
  std::int64_t voltage = 0;  // counts of the channel's resolution
  std::int64_t current = 0;  // counts; 0: no limit was set
  bool output = false;
  bool is_stair = false;  // within a ramp of a `hold` supply, neither at its start nor at its end
  // What it does not know stays as it is at the channel: only rows of `safe` leave something out.
  KnownSetpoints known;
  // On a `linear` supply voltage and current run straight from here to these values at `until`; on a `hold` supply
  // they stay, and `until` equals `time`.
  Nanoseconds until{0};
  std::int64_t voltage_until = 0;
  std::int64_t current_until = 0;
  Span statement;  // the statement that brought the channel here
};

struct LineRow {
  Nanoseconds time{0};
  LineId line{};
  bool high = false;
  Span statement;
};

// A `mark` statement is reached.
struct MarkReached {
  Nanoseconds time{0};
  std::string_view name;
  Span statement;
};

// A `measure` statement is reached: what every rail did in the time before is read now.
struct MeasurementDue {
  Nanoseconds time{0};
  const Measurement* measurement = nullptr;
  Span statement;
};

// The `unit` that stands for all larger ones: no walk makes as many passes.
inline constexpr std::int64_t kNeverAlike = 1'000'000'000'000;

// One pass of a loop is over. Every row before `time` has been given; those at `time` follow.
struct PassEnded {
  LoopId loop{};
  std::int64_t pass = 0;       // 1-based
  std::int64_t remaining = 0;  // passes of this loop still to come
  std::int64_t unit = 1;       // so many successive passes put their rows on the grid alike
  Nanoseconds time{0};
  Nanoseconds length{0};  // of this pass
  Span statement;         // the `repeat`
};

// A segment is over: it began at 0 and lasted `time`. `await` says what the next one waits for; none: the table ends.
struct SegmentEnded {
  Nanoseconds time{0};
  const Await* await = nullptr;
  Span statement;
};

using TableItem = std::variant<Row, LineRow, MarkReached, MeasurementDue, PassEnded, SegmentEnded>;

// How far a pass may begin earlier or later and still put the same rows on the grid.
struct PhaseRoom {
  Nanoseconds back = Nanoseconds::max();
  Nanoseconds ahead = Nanoseconds::max();

  void meet(const PhaseRoom& other);
};

class Table;

// Gives a table's items in order: by time, then the bench's order of channels, then lines. A copy goes on by itself.
class RowCursor {
 public:
  explicit RowCursor(const Table& table);
  RowCursor(const RowCursor& other);
  RowCursor(RowCursor&&) noexcept;
  RowCursor& operator=(RowCursor&&) noexcept;
  ~RowCursor();

  // Empty after the last SegmentEnded.
  [[nodiscard]] std::optional<TableItem> next();

  // Many of the rows that come next, where they are those of ramps alone: the same as next() would give one by one. May
  // be none. Valid until the next call.
  [[nodiscard]] std::span<const Row> next_rows();

  // Right after a PassEnded with `remaining` >= passes, passes a multiple of `unit`: goes on as if that many passes
  // had been given. Only meaningful where a pass ends as it began, see `state()`.
  void skip_passes(std::int64_t passes);

  // Right after a PassEnded: what the coming passes depend on. Equal states at the ends of two passes of one loop,
  // with as many passes between them as `unit` says, give the same rows from then on, shifted in time.
  [[nodiscard]] StateKey state() const;

  // How many items it has given or gone through.
  [[nodiscard]] std::int64_t given() const;

  // The setpoints after the last item.
  [[nodiscard]] const std::vector<RailState>& setpoints() const;
  // The 1-based passes of the loops around the last item, outermost first.
  [[nodiscard]] std::span<const std::int64_t> passes() const;

  // The time after which all supplies' grids meet again; none where that is out of reach.
  [[nodiscard]] std::optional<Nanoseconds> common_grid() const;
  // Right after a PassEnded with `remaining` >= passes whose loop's passes are all alike before the grid: goes to the
  // end of the pass that comes so many later, whatever its phase.
  void go_to_pass(std::int64_t passes);
  // Right after a PassEnded with more passes to come: goes through the next one, and tells from where else it would
  // have put the same rows on the grid.
  [[nodiscard]] PhaseRoom go_through_pass();
  // As state(), but with times of rows counted from `origin`, a common time of all grids, and without the phase.
  [[nodiscard]] StateKey state_on_grid(Nanoseconds origin) const;

 private:
  class Work;
  std::unique_ptr<Work> work_;
};

struct RailSetup {
  RailId rail{};
  std::vector<ChannelId> members;  // one, or those of a combination
  std::optional<Arrangement> arrangement;
  Shares shares;  // of the members
};

class Table {
 public:
  Table(const Profile& profile, const Bench& bench, const Timeline& timeline);

  [[nodiscard]] RowCursor rows() const { return RowCursor(*this); }
  [[nodiscard]] const Profile& profile() const { return *profile_; }
  [[nodiscard]] const Bench& bench() const { return *bench_; }
  [[nodiscard]] const Timeline& timeline() const { return *timeline_; }
  // In the order of the profile's rails.
  [[nodiscard]] const std::vector<RailSetup>& rails() const { return rails_; }

 private:
  const Profile* profile_;
  const Bench* bench_;
  const Timeline* timeline_;
  std::vector<RailSetup> rails_;
};

}  // namespace rampart
