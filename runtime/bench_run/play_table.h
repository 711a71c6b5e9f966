#pragma once

#include <condition_variable>
#include <cstdint>
#include <cstdio>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <variant>
#include <vector>

#include "lang/values/quantity.h"

// A setpoint table in JSON, as a player reads it: item after item, in constant memory.
namespace rampart::bench_run {

// What one channel or line is set to from an instant on. Empty: stays as it is.
struct TableRow {
  std::string name;                 // of the channel or line
  std::optional<Rational> voltage;  // V
  std::optional<Rational> current;  // A
  std::optional<bool> output;       // of a line: its level
};

struct TableMark {
  Nanoseconds time{0};  // in the segment
  std::string name;
};
// Every rail is read as its mean over the time before this instant.
struct TableMeasurement {
  Nanoseconds time{0};
  std::string name;
  Nanoseconds over{0};
};
// Both by time.
struct SegmentBegin {
  std::string name;
  std::vector<TableMark> marks;
  std::vector<TableMeasurement> measurements;
};
// Of one segment; with more the table is refused, because they come before its rows and are kept.
inline constexpr std::size_t kMostMarks = 1'000'000;

// All rows of one instant, in the order of the table.
struct TableInstant {
  Nanoseconds time{0};  // from the start of the segment
  std::vector<TableRow> rows;
};

struct LineWait {
  std::string line;
  bool high = false;
};
// A quantity of a rail at the load side of its sign: a reversed rail has a negative voltage.
enum class Measured : std::uint8_t { Voltage, Current, Power };
struct ConditionTerm {
  Measured quantity = Measured::Voltage;
  std::string rail;
  double factor = 0;
};
// One step of a condition in postfix: a comparison `sum of terms + constant >= 0` (`> 0` where strict), or an operator
// on the values before it.
enum class ConditionOp : std::uint8_t { Compare, And, Or, Not };
struct ConditionStep {
  ConditionOp op = ConditionOp::Compare;
  std::vector<ConditionTerm> terms;
  double constant = 0;
  bool is_strict = false;
};
struct ConditionWait {
  std::string text;  // for people
  std::vector<ConditionStep> steps;
};
struct OperatorWait {
  std::string prompt;
};

struct TableWait {
  std::variant<LineWait, ConditionWait, OperatorWait> what;
  Nanoseconds within{0};
};

struct SegmentEnd {
  std::string name;
  Nanoseconds duration{0};
  std::optional<TableWait> then;
};

using TableItem = std::variant<SegmentBegin, TableInstant, SegmentEnd>;

// What a table says of itself besides its segments.
struct TableFuse {
  Rational delay;                   // s
  std::optional<Rational> current;  // A; none: it acts in constant current
  std::vector<std::string> switches_off;
};
struct TableOverpower {
  Rational power;  // W
  Rational delay;  // s
};
struct TableChannel {
  std::string channel;
  std::string rail;
  bool remote_sense = false;
  bool is_linear = false;
  std::optional<Rational> overvoltage;  // V
  std::optional<TableFuse> fuse;
  std::optional<TableOverpower> overpower;
  std::vector<std::string> coupled;
};
struct TableRail {
  std::string rail;
  std::vector<std::string> channels;
  bool is_reversed = false;
  bool in_series = false;
};
struct TableLine {
  std::string line;  // as rows name it
  std::string name;
  std::string role;
  std::vector<std::string> rails;
};
struct TableHead {
  std::string title;
  std::string origin;                       // its JSON, as one text
  std::vector<std::string> origin_digests;  // of all files that it names
  std::vector<TableRail> rails;
  std::vector<TableChannel> channels;
  std::vector<TableLine> lines;
};

// Reads the table from the start of `stream`, which can be read again. `take` gets each item and says whether to go on.
// Gives what is wrong with the table; empty if nothing is. What it takes was audited before: its rows are in order.
[[nodiscard]] std::string read_table(std::FILE* stream, TableHead& head, const std::function<bool(TableItem)>& take);

// The same, one item at a time: a thread of its own reads ahead, so that no row waits for the disk.
class TableItems {
 public:
  // The stream is its own until it is gone.
  explicit TableItems(std::FILE* stream);
  ~TableItems();
  TableItems(const TableItems&) = delete;
  TableItems& operator=(const TableItems&) = delete;

  // Empty after the last item, or where the table breaks off; mistake() then says why.
  [[nodiscard]] std::optional<TableItem> next();
  // Empty where nothing is wrong so far.
  [[nodiscard]] std::string mistake();

 private:
  static constexpr std::size_t kMostWaiting = 256;

  void read(std::FILE* stream);
  [[nodiscard]] bool put(TableItem item);

  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<TableItem> waiting_;
  bool is_over_ = false;
  bool is_stopped_ = false;
  std::string mistake_;
  std::thread thread_;
};

}  // namespace rampart::bench_run
