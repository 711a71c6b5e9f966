#include "lang/overloaded.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

constexpr std::int64_t kRowsShown = 12;
// A longer table is not counted to its end.
constexpr std::int64_t kMaxRowsCounted = 3'000'000;

// Goes through a table's rows, shows the first ones and counts all.
class RowCounter {
 public:
  RowCounter(const Subject& subject, const Table& table)
      : subject_(subject),
        bench_(*subject.compilation.bench),
        shown_("First rows of the table", {"#time", "channel", "#voltage", "#current limit", "output", "from"}) {
    RowCursor cursor = table.rows();
    while (const std::optional<TableItem> item = count_ < kMaxRowsCounted ? cursor.next() : std::nullopt) {
      std::visit(
          Overloaded{[this](const Row& row) { take(row); }, [this](const LineRow& row) { take(row); },
                     [](const MarkReached&) {}, [](const PassEnded&) {}, [this](const SegmentEnded&) { ++segments_; }},
          *item);
    }
  }

  [[nodiscard]] Markup markup() {
    if (count_ > kRowsShown) shown_.add_band(text("…"));
    const bool is_whole = count_ < kMaxRowsCounted;
    std::string size = (is_whole ? "" : "more than ") + std::to_string(count_) + " rows";
    if (is_whole) size += " in " + std::to_string(segments_) + (segments_ == 1 ? " segment" : " segments");
    return element("p", text("The table has " + size + " for " + std::to_string(bench_.channels.size()) +
                             " channels of the bench. ") +
                            element("code", text("rampart build")) + text(" writes it whole.")) +
           shown_.markup();
  }

 private:
  void take(const Row& row) {
    if (count_++ >= kRowsShown) return;
    const Channel& channel = bench_[row.channel];
    const Quantity volts = (channel.limits.voltage_resolution * Rational(row.voltage)).quantity();
    const Quantity amps = (channel.limits.current_resolution * Rational(row.current)).quantity();
    shown_.add({text(to_text(row.time)), name(channel.name), text(to_text(volts)), text(to_text(amps)),
                text(row.output ? "on" : "off"), subject_.line_of(row.statement)});
  }

  void take(const LineRow& row) {
    if (count_++ >= kRowsShown) return;
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
  std::int64_t count_ = 0;
  std::int64_t segments_ = 0;
};

}  // namespace

Markup table_section(const Subject& subject) {
  return section("table", "Setpoint table", RowCounter(subject, *subject.compilation.run).markup());
}

}  // namespace rampart::report
