#pragma once

#include <concepts>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "compiler/export/decimal.h"
#include "compiler/export/text_sink.h"
#include "compiler/table/silent_passes.h"
#include "compiler/table/table.h"

// What the writers of rows share.
namespace rampart {

// How the counts of a channel are written.
struct ChannelScale {
  std::string name;
  DecimalScale voltage;
  DecimalScale current;
};

// In the order of the bench.
[[nodiscard]] std::vector<ChannelScale> channel_scales(const Bench& bench);
// The names of trigger lines as rows have them, in the order of the profile.
[[nodiscard]] std::vector<std::string> line_names(const Table& table);
// Channels that have rows, in the order of the bench.
[[nodiscard]] std::vector<ChannelId> driven_channels(const Table& table);

// Collects text and hands it on in large pieces.
class TextBuffer {
 public:
  explicit TextBuffer(TextSink& sink) : sink_(sink) { text_.reserve(2 * kPieceBytes); }
  TextBuffer(const TextBuffer&) = delete;
  TextBuffer& operator=(const TextBuffer&) = delete;
  ~TextBuffer() { flush(); }

  [[nodiscard]] std::string& text() { return text_; }
  // False once further text would be lost.
  [[nodiscard]] bool keep_going() {
    if (text_.size() >= kPieceBytes) flush();
    return !sink_.failed();
  }
  void flush() {
    sink_.write(text_);
    text_.clear();
  }

 private:
  static constexpr std::size_t kPieceBytes = std::size_t{1} << 16;
  TextSink& sink_;
  std::string text_;
};

// The name of the segment that the `safe` block is.
inline constexpr std::string_view kSafeSegment = "safe";

// A visitor that wants to know of marks and measurements.
template <class Visitor>
concept TakesMarks = requires(Visitor& visitor, const MarkReached& mark, const MeasurementDue& due) {
  visitor.row(mark);
  visitor.row(due);
};

// A visitor to whom many rows say nothing: took() is whether one since it was last asked did. Passes of a loop in which
// none does are left out once they are alike.
template <class Visitor>
concept TakesSome = requires(Visitor& visitor) {
  { visitor.took() } -> std::same_as<bool>;
};

// Goes through the rows of a table and of its `safe` block: begin_segment(name), row(Row), row(LineRow), row() of marks
// and measurements if it has them, and end_segment(SegmentEnded) of the visitor, until its keep_going() is false.
// Segments of the run are "1", "2", …; the block's is "safe".
template <class Visitor>
void walk_segments(const Table& run, const Table* safe, Visitor& visitor) {
  const auto took = [&] {
    if constexpr (TakesSome<Visitor>) return visitor.took();
    return true;
  };
  const auto walk = [&](const Table& table, bool is_safe) {
    std::int64_t number = 1;
    bool begun = false;
    RowCursor cursor = table.rows();
    SilentPasses silent;
    while (visitor.keep_going()) {
      // A segment starts with rows of its own, so what comes in numbers is within one.
      const std::span<const Row> rows = cursor.next_rows();
      for (const Row& row : rows) visitor.row(row);
      if (!rows.empty() && took()) silent.given();
      const std::optional<TableItem> item = cursor.next();
      if (!item) return;
      if (const auto* pass = std::get_if<PassEnded>(&*item)) silent.ended(*pass, cursor);
      if (!begun) visitor.begin_segment(is_safe ? std::string(kSafeSegment) : std::to_string(number));
      begun = true;
      const auto visit = [&](const auto& one) {
        visitor.row(one);
        if (took()) silent.given();
      };
      if (const auto* row = std::get_if<Row>(&*item)) visit(*row);
      if (const auto* line = std::get_if<LineRow>(&*item)) visit(*line);
      if constexpr (TakesMarks<Visitor>) {
        if (const auto* mark = std::get_if<MarkReached>(&*item)) visit(*mark);
        if (const auto* due = std::get_if<MeasurementDue>(&*item)) visit(*due);
      }
      if (const auto* end = std::get_if<SegmentEnded>(&*item)) {
        silent.given();
        visitor.end_segment(*end);
        ++number;
        begun = false;
      }
    }
  };
  walk(run, false);
  if (safe != nullptr) walk(*safe, true);
}

// The rows of one instant, side by side.
struct InstantRows {
  // One channel: its last row so far. `is_new`: the row is of this instant.
  struct Cell {
    std::optional<Row> row;
    bool is_new = false;
  };
  Nanoseconds time{0};
  std::vector<Cell> channels;              // by ChannelId
  std::vector<std::optional<bool>> lines;  // by LineId; empty until first set

  // What the channel is set to at this instant: on a `hold` supply what its last row says; on a `linear` one only its
  // own points are whole counts, so there is nothing in between.
  [[nodiscard]] const Row* shown(const Bench& bench, ChannelId channel) const;
};

// Visitor for walk_segments that gathers rows by instant: calls begin_segment(name), instant(InstantRows) and
// end_segment(SegmentEnded) of another.
template <class Visitor>
class InstantGatherer {
 public:
  InstantGatherer(const Table& table, Visitor& visitor) : visitor_(visitor) {
    now_.channels.resize(table.bench().channels.size());
    now_.lines.resize(table.profile().lines.size());
  }
  [[nodiscard]] bool keep_going() { return visitor_.keep_going(); }
  [[nodiscard]] bool took() requires TakesSome<Visitor> { return visitor_.took(); }
  void begin_segment(const std::string& name) {
    for (InstantRows::Cell& cell : now_.channels) cell = {};
    // The stop begins wherever a trip leaves the lines.
    if (name == kSafeSegment) now_.lines.assign(now_.lines.size(), std::nullopt);
    pending_ = false;
    visitor_.begin_segment(name);
  }
  void row(const Row& row) {
    move_to(row.time);
    now_.channels[static_cast<std::size_t>(row.channel)] = {row, true};
  }
  void row(const LineRow& row) {
    move_to(row.time);
    now_.lines[static_cast<std::size_t>(row.line)] = row.high;
  }
  void end_segment(const SegmentEnded& end) {
    give();
    visitor_.end_segment(end);
  }

 private:
  void move_to(Nanoseconds time) {
    if (pending_ && time != now_.time) give();
    now_.time = time;
    pending_ = true;
  }
  void give() {
    if (pending_) visitor_.instant(now_);
    for (InstantRows::Cell& cell : now_.channels) cell.is_new = false;
    pending_ = false;
  }

  Visitor& visitor_;
  InstantRows now_;
  bool pending_ = false;
};

}  // namespace rampart
