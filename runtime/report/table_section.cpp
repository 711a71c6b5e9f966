#include <map>
#include <string>

#include "lang/text/overloaded.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

constexpr std::int64_t kRowsShown = 12;
// Beyond so many that had to be made, a table is not counted to its end.
constexpr std::int64_t kMaxRowsMade = 3'000'000;
// Passes that put their rows on the grid alike only so far apart are not looked for.
constexpr std::int64_t kLargestUnit = 64;

// Where the rows of a loop repeat: from then on they are counted and not made.
class LoopRows {
 public:
  struct Count {
    std::int64_t rows = 0;
    std::int64_t segments = 0;
  };

  // A pass is over, and so much had been counted at its end. Leaves out the passes to come that are like those before,
  // and adds what they count.
  void end_pass(const PassEnded& pass, RowCursor& cursor, Count& count) {
    if (pass.unit > kLargestUnit) return;
    std::map<std::int64_t, End>& ends = ends_[pass.loop];
    if (pass.pass == 1) ends.clear();
    const End end{cursor.state(), count};
    const auto before = ends.find(pass.pass - pass.unit);
    const std::int64_t times = pass.remaining / pass.unit;
    if (before != ends.end() && before->second.state == end.state && times > 0) {
      count.rows += times * (end.count.rows - before->second.count.rows);
      count.segments += times * (end.count.segments - before->second.count.segments);
      cursor.skip_passes(times * pass.unit);
      ends.clear();
      return;
    }
    ends[pass.pass] = end;
    ends.erase(pass.pass - pass.unit);
  }

 private:
  struct End {
    StateKey state;
    Count count;
  };
  std::map<LoopId, std::map<std::int64_t, End>> ends_;  // by loop and pass
};

// Goes through a table's rows, shows the first ones and counts all.
class RowCounter {
 public:
  RowCounter(const Subject& subject, const Table& table)
      : subject_(subject),
        bench_(*subject.answer.compiled.bench()),
        shown_("First rows of the table", {"#time", "channel", "#voltage", "#current limit", "output", "from"}) {
    RowCursor cursor = table.rows();
    LoopRows loops;
    while (made_ < kMaxRowsMade) {
      if (count_.rows >= kRowsShown) count_made(static_cast<std::int64_t>(cursor.next_rows().size()));
      const std::optional<TableItem> item = cursor.next();
      if (!item) return;
      std::visit(Overloaded{[this](const Row& row) { take(row); }, [this](const LineRow& row) { take(row); },
                            [](const MarkReached&) {}, [](const MeasurementDue&) {},
                            [&](const PassEnded& pass) { loops.end_pass(pass, cursor, count_); },
                            [this](const SegmentEnded&) { ++count_.segments; }},
                 *item);
    }
    is_whole_ = false;
  }

  [[nodiscard]] Markup markup() {
    if (count_.rows > kRowsShown) shown_.add_band(text("…"));
    std::string size = (is_whole_ ? "" : "more than ") + std::to_string(count_.rows) + " rows";
    if (is_whole_) size += " in " + std::to_string(count_.segments) + (count_.segments == 1 ? " segment" : " segments");
    return element("p", text("The table has " + size + " for " + std::to_string(bench_.channels.size()) +
                             " channels of the bench. ") +
                            element("code", text("rampart build")) + text(" writes it whole.")) +
           shown_.markup();
  }

 private:
  void count_made(std::int64_t rows) {
    made_ += rows;
    count_.rows += rows;
  }

  void take(const Row& row) {
    count_made(1);
    if (count_.rows > kRowsShown) return;
    const Channel& channel = bench_[row.channel];
    const Quantity volts = (channel.limits.voltage_resolution * Rational(row.voltage)).quantity();
    const Quantity amps = (channel.limits.current_resolution * Rational(row.current)).quantity();
    shown_.add({text(to_text(row.time)), name(channel.name), text(to_text(volts)), text(to_text(amps)),
                text(row.output ? "on" : "off"), subject_.line_of(row.statement)});
  }

  void take(const LineRow& row) {
    count_made(1);
    if (count_.rows > kRowsShown) return;
    shown_.add({text(to_text(row.time)),
                name(subject_.profile[row.line].name),
                {},
                {},
                text(row.high ? "high" : "low"),
                subject_.line_of(row.statement)});
  }

  const Subject& subject_;
  const Bench& bench_;
  HtmlTable shown_;
  LoopRows::Count count_;
  std::int64_t made_ = 0;
  bool is_whole_ = true;
};

}  // namespace

Markup table_section(const Subject& subject) {
  return section("table", "Setpoint table", RowCounter(subject, *subject.answer.compiled.run()).markup());
}

}  // namespace rampart::report
