#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "runtime/audit/audit.h"
#include "runtime/audit/bench_numbers.h"
#include "runtime/audit/power_watch.h"
#include "runtime/audit/table_row.h"

namespace rampart::audit {

// Holds rows against a bench as they come, whatever text they come from. Begin, rows in the order of the table, end.
class Auditor {
 public:
  Auditor(const std::string& name, const Bench& bench, SourceSet& sources, FindingSink& findings);

  // Before the first row: what the set-up says that rails may not exceed, and what it sets up.
  void hold_to_setup(const Record& record);
  // Where a channel or line stands among the rows of one instant; unknown ones come last.
  [[nodiscard]] std::size_t order_of(std::string_view channel) const;
  // The place of what comes next. Whoever reads the table keeps its text until the next place.
  void at(const RowPlace& place) { place_ = place; }
  void count_row() { ++result_.rows; }
  void take(const TableRow& row);
  // Where the table says so itself: a segment begins, or is over with what it says of itself.
  void begin_segment(const std::string& segment);
  void close_segment(const std::optional<TableNumber>& duration, bool waits);
  // After the last row.
  void end_table();
  // At the very end, also of a table that broke off: reports what report_row() collected.
  void report_alike();
  [[nodiscard]] AuditResult& result() { return result_; }

  template <class... Arguments>
  void report(const FindingKind<Arguments...>& kind, const std::type_identity_t<Arguments>&... arguments) {
    report_at(place_, kind, arguments...);
  }
  // What may be wrong in row after row: of each kind and subject the first is told, with the number of the others.
  template <class... Arguments>
  void report_row(std::string_view subject, const FindingKind<Arguments...>& kind,
                  const std::type_identity_t<Arguments>&... arguments) {
    report_row_at(place_, subject, kind, arguments...);
  }

 private:
  // What was last said of a channel within the segment.
  struct ChannelState {
    bool seen = false;
    TableNumber time;     // of its last row
    TableNumber changed;  // of its last row that changed something
    bool has_changed = false;
    TableNumber voltage;
    TableNumber current;
    bool output = false;
    bool may_be_on = false;
    bool knows_voltage = false;  // `safe` knows what it has set itself
    bool knows_current = false;
    KeptPlace place;
    // A change that came too soon: no mistake if it is the channel's last row of the segment.
    std::optional<TableNumber> too_soon;
  };

  // Findings of one kind about one subject: the first, and how many more there are.
  struct Alike {
    std::optional<Finding> first;  // empty past the bound of findings
    std::int64_t more = 0;
  };

  // A rail that its set-up gives a ceiling.
  struct CeilingWatch {
    std::string rail;
    std::vector<std::size_t> members;
    bool in_series = false;
    TableNumber ceiling;
    bool is_touched = false;   // by a row of this instant
    bool is_reported = false;  // once a rail
  };

  template <class... Arguments>
  void report_at(const RowPlace& place, const FindingKind<Arguments...>& kind,
                 const std::type_identity_t<Arguments>&... arguments) {
    if (const std::optional<Span> span = span_of(place)) findings_.report(kind, *span, arguments...);
  }
  template <class... Arguments>
  void report_row_at(const RowPlace& place, std::string_view subject, const FindingKind<Arguments...>& kind,
                     const std::type_identity_t<Arguments>&... arguments) {
    const auto [alike, is_new] = alike_.try_emplace({kind.wording.words, std::string(subject)});
    if (!is_new) {
      ++alike->second.more;
      return;
    }
    const std::optional<Span> span = span_of(place);
    if (!span) return;
    FindingSink first;
    first.report(kind, *span, arguments...);
    alike->second.first = first.take().front();
  }
  [[nodiscard]] std::optional<Span> span_of(const RowPlace& place);
  void end_segment();
  void end_instant();
  void check_ceiling(CeilingWatch& watch);
  void check_turn(const std::string& segment);
  [[nodiscard]] static bool changes(const TableRow& row, const ChannelState& state);
  [[nodiscard]] std::optional<std::size_t> find_channel(std::string_view name);
  void check_set_up(std::string_view name);
  [[nodiscard]] bool in_order(const TableRow& row, std::size_t order);
  void take_line_row(const TableRow& row, const Supply& supply);
  void take_channel_row(const TableRow& row, std::size_t index);
  [[nodiscard]] const Pace& pace_of(const Supply& supply) const;
  void check_grid(const TableRow& row, const Supply& supply);
  void check_setpoints(const TableRow& row, std::size_t index);
  void check_threshold(const TableNumber& value, std::size_t index);
  void check_voltage(const TableNumber& value, std::size_t index);
  void check_current(const TableNumber& value, std::size_t index);
  void check_pace(const TableRow& row, ChannelState& state, const Supply& supply);
  [[nodiscard]] static bool counts(const ChannelState& state);
  [[nodiscard]] static SetFrom set_from(const ChannelState& state);
  void check_envelope(const std::optional<SetFrom>& before, const ChannelState& now, std::size_t index);
  void check_power(const ChannelState& now, std::size_t index);
  void report_budget(const Supply& supply, const std::optional<MostPower>& most);

  const std::string& name_;
  const Bench& bench_;
  SourceSet& sources_;
  FindingSink& findings_;
  std::map<std::string, std::size_t, std::less<>> by_name_;
  std::map<std::string, const Supply*, std::less<>> lines_;
  std::size_t found_ = 0;  // the channel of the last row
  std::vector<ChannelState> channels_;
  std::vector<Pace> paces_;            // of the supplies
  std::vector<ChannelBounds> bounds_;  // of the channels
  std::vector<bool> was_on_;           // by channel, in any segment
  std::vector<CeilingWatch> ceilings_;
  std::vector<std::optional<TableNumber>> thresholds_;  // V of overvoltage protection, by channel
  // What may have rows; none: nothing is said of it.
  std::optional<std::set<std::string, std::less<>>> set_up_;
  std::map<std::string, bool, std::less<>> levels_;  // of the lines that have been set
  std::string segment_;
  bool in_segment_ = false;
  bool has_rows_ = false;    // the segment
  bool waits_ = false;       // the segment before, where the table says so
  bool is_last_ = false;     // the segment before, where the table says so
  std::int64_t number_ = 0;  // of the last segment of the run
  bool is_over_ = false;     // `safe` has come
  std::set<std::string, std::less<>> segments_;
  std::set<std::string, std::less<>> unknown_;  // channels that bench or set-up lack, each reported once
  std::map<std::pair<std::string_view, std::string>, Alike> alike_;  // by wording and subject
  std::set<std::string, std::less<>> over_envelope_;                 // reported once a channel
  std::vector<std::optional<PowerWatch>> budgets_;                   // by SupplyId; of those that have a power
  TableNumber last_time_;
  std::size_t last_order_ = 0;
  RowPlace place_;
  std::int64_t reported_ = 0;
  AuditResult result_;
};

}  // namespace rampart::audit
