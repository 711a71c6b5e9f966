#include "runtime/diff/table_difference.h"

#include <algorithm>
#include <map>

#include "compiler/table/setup.h"
#include "runtime/diff/segment_player.h"
#include "runtime/diff/wait_comparison.h"

namespace rampart::diff {
namespace {

struct Named {
  std::string name;
  std::string place;  // what it is on
};

// What has one name is one thing; what is left over is matched by what it is on.
std::vector<std::optional<std::uint32_t>> match(const std::vector<Named>& before, const std::vector<Named>& after,
                                                Unmatched& other) {
  std::vector<bool> taken(after.size(), false);
  std::vector<std::optional<std::uint32_t>> partners(before.size());
  for (std::string Named::*key : {&Named::name, &Named::place}) {
    for (std::size_t i = 0; i < before.size(); ++i) {
      for (std::size_t k = 0; k < after.size() && !partners[i]; ++k) {
        if (taken[k] || before[i].*key != after[k].*key) continue;
        partners[i] = static_cast<std::uint32_t>(k);
        taken[k] = true;
      }
    }
  }
  for (std::size_t i = 0; i < before.size(); ++i) {
    if (!partners[i]) other.before.push_back(before[i].name);
  }
  for (std::size_t k = 0; k < after.size(); ++k) {
    if (!taken[k]) other.after.push_back(after[k].name);
  }
  return partners;
}

std::vector<Named> named_rails(const Table& table) {
  std::vector<Named> rails;
  for (const RailSetup& setup : table.rails()) {
    std::string channels;
    for (const ChannelId id : setup.members) channels += table.bench()[id].name + " ";
    rails.push_back({table.profile()[setup.rail].name, std::move(channels)});
  }
  return rails;
}

std::vector<Named> named_lines(const Table& table) {
  std::vector<Named> lines;
  for (const Line& line : table.profile().lines) lines.push_back({line.name, line_name(table.bench(), line)});
  return lines;
}

Partners find_partners(const Table& before, const Table& after, TableDifference& result) {
  Partners partners{match(named_rails(before), named_rails(after), result.other_rails),
                    match(named_lines(before), named_lines(after), result.other_lines)};
  for (std::uint32_t i = 0; i < partners.rails.size(); ++i) {
    if (partners.rails[i]) result.rails.push_back({RailId{i}, RailId{*partners.rails[i]}, {}});
  }
  for (std::uint32_t i = 0; i < partners.lines.size(); ++i) {
    if (partners.lines[i]) result.lines.push_back({LineId{i}, LineId{*partners.lines[i]}, {}});
  }
  return partners;
}

// Compares one quantity of one rail or line and gathers the stretches in which it differs.
class QuantityWatch {
 public:
  QuantityWatch(std::uint32_t before, std::uint32_t after, Compared quantity, QuantityDifference& result)
      : before_(before), after_(after), quantity_(quantity), result_(result) {}

  // What holds from `from` on, and just before `to`.
  void compare(const SegmentPlayer& old_table, const SegmentPlayer& new_table, Nanoseconds from, Nanoseconds to,
               const std::string& segment) {
    const bool at_start = look(old_table, new_table, from, from, from, segment);
    const bool at_end = look(old_table, new_table, to, to, from, segment);
    differed_ = at_end;
    if (at_start || at_end) {
      open_->to = to;
      result_.total += to - from;
    } else {
      close();
    }
  }
  // What is left at the end of the segment, which each table has at its own time, stands as long as the wait after it.
  // Where the tables differ just before and nothing follows, that has been said.
  void end(const SegmentPlayer& old_table, const SegmentPlayer& new_table, const std::string& segment) {
    const Nanoseconds old_end = old_table.segment_length();
    const Nanoseconds new_end = new_table.segment_length();
    const Await* old_wait = old_table.await();
    const Await* new_wait = new_table.await();
    const bool waits = old_wait != nullptr && new_wait != nullptr;
    if (!differed_ || waits) {
      const bool is_left = look(old_table, new_table, old_end, new_end, std::max(old_end, new_end), segment);
      if (is_left && waits) {
        open_->waits = true;
        if (old_wait->assume && new_wait->assume) result_.total += std::min(*old_wait->assume, *new_wait->assume);
      }
    }
    differed_ = false;
    close();
  }
  void close() {
    if (!open_) return;
    if (result_.stretches.size() < kMaxStretches) {
      result_.stretches.push_back(*open_);
    } else {
      ++result_.left_out;
    }
    open_.reset();
  }
  // Passes of `length` are left out that hold what was found since `since`, when the total was as given.
  void repeat(std::int64_t passes, Nanoseconds length, Nanoseconds total, Nanoseconds since,
              const std::string& segment) {
    result_.total += passes * (result_.total - total);
    // What differs all the time goes on doing so.
    if (open_ && open_->from <= since) {
      open_->to += passes * length;
      return;
    }
    close();
    for (Stretch& stretch : result_.stretches) {
      if (stretch.segment == segment && stretch.from >= since) stretch.passes += passes;
    }
  }
  [[nodiscard]] Nanoseconds total() const { return result_.total; }

 private:
  // True if the values at these times differ; keeps the largest difference. What one side leaves open differs from any
  // value.
  bool look(const SegmentPlayer& old_table, const SegmentPlayer& new_table, Nanoseconds old_time, Nanoseconds new_time,
            Nanoseconds from, const std::string& segment) {
    const std::optional<Rational> before = old_table.value(before_, quantity_, old_time);
    const std::optional<Rational> after = new_table.value(after_, quantity_, new_time);
    if (before == after) return false;
    if (!open_) open_ = Stretch{segment, from, from, Rational(0), from, before, after, 1};
    const Rational size = abs(after.value_or(0) - before.value_or(0));
    if (size > open_->largest) {
      open_->largest = size;
      open_->at = new_time;
      open_->before = before;
      open_->after = after;
    }
    return true;
  }

  std::uint32_t before_;
  std::uint32_t after_;
  Compared quantity_;
  QuantityDifference& result_;
  std::optional<Stretch> open_;
  bool differed_ = false;  // at the end of what was compared last
};

// How both tables ended a pass.
struct PassEnds {
  StateKey before;
  StateKey after;
  std::vector<Nanoseconds> totals;  // of each watch
  Nanoseconds time{0};
  friend bool operator==(const PassEnds& a, const PassEnds& b) { return a.before == b.before && a.after == b.after; }
};

class Comparison {
 public:
  Comparison(const Table& before, const Table& after, const Partners& partners, TableDifference& result)
      : before_(before), after_(after), waits_(before, after, partners), result_(result) {
    for (RailDifference& rail : result.rails) {
      for (std::size_t i = 0; i < kComparedCount; ++i) {
        watches_.emplace_back(static_cast<std::uint32_t>(rail.before), static_cast<std::uint32_t>(rail.after),
                              static_cast<Compared>(i), rail.quantities[i]);
      }
    }
    for (LineDifference& line : result.lines) {
      watches_.emplace_back(static_cast<std::uint32_t>(line.before), static_cast<std::uint32_t>(line.after),
                            Compared::Level, line.level);
    }
  }

  // `name`: of the only segment; empty: they are counted.
  void run(const std::string& name) {
    std::int64_t number = 1;
    while (true) {
      const std::string segment = name.empty() ? std::to_string(number) : name;
      compare_segment(segment);
      const Nanoseconds old_length = before_.segment_length();
      const Nanoseconds new_length = after_.segment_length();
      // The only segment of a run lasts as long as the run, but for the grid: that is told as its duration.
      const bool is_run = name.empty() && number == 1 && before_.await() == nullptr && after_.await() == nullptr;
      if (old_length != new_length && !is_run) {
        result_.segments.push_back("segment " + segment + " of the table lasts " + to_text(new_length) +
                                   " instead of " + to_text(old_length));
      }
      if (before_.await() != nullptr && after_.await() != nullptr) {
        waits_.compare(*before_.await(), *after_.await(), segment, result_.waits);
      }
      const bool old_goes_on = before_.next_segment();
      const bool new_goes_on = after_.next_segment();
      if (old_goes_on != new_goes_on) {
        result_.segments.push_back("segment " + std::to_string(number + 1) + " is in the " +
                                   (old_goes_on ? "old" : "new") + " profile alone");
      }
      if (!old_goes_on || !new_goes_on) return;
      ++number;
    }
  }

 private:
  void compare_segment(const std::string& segment) {
    now_ = Nanoseconds{0};
    last_ends_.clear();
    while (true) {
      const std::optional<Nanoseconds> old_next = before_.next_time();
      const std::optional<Nanoseconds> new_next = after_.next_time();
      if (!old_next && !new_next) break;
      const Nanoseconds next = std::min(old_next.value_or(Nanoseconds::max()), new_next.value_or(Nanoseconds::max()));
      // Beyond its end a table sets nothing, which is said as a difference of duration.
      if (next > now_ && old_next && new_next) {
        for (QuantityWatch& watch : watches_) watch.compare(before_, after_, now_, next, segment);
      }
      now_ = next;
      if (!take_pass_ends(segment)) {
        take_at(before_, next);
        take_at(after_, next);
      }
    }
    for (QuantityWatch& watch : watches_) watch.end(before_, after_, segment);
  }

  static void take_at(SegmentPlayer& player, Nanoseconds time) {
    while (player.next_time() == time) {
      const PassEnded* pass = player.pass_end();
      player.take();
      if (pass != nullptr) player.skip_passes(0, Nanoseconds{0});
    }
  }

  // Both tables end a pass of the same loop here: once both end it as they ended the one before, the rest is alike.
  bool take_pass_ends(const std::string& segment) {
    const PassEnded* old_pass = before_.pass_end();
    const PassEnded* new_pass = after_.pass_end();
    if (old_pass == nullptr || new_pass == nullptr) return false;
    const PassEnded one = *old_pass;
    const PassEnded other = *new_pass;
    if (one.time != other.time || one.length != other.length) return false;
    before_.take();
    after_.take();
    PassEnds ends{before_.state(), after_.state(), {}, one.time};
    for (const QuantityWatch& watch : watches_) ends.totals.push_back(watch.total());
    const auto key = std::pair(one.loop, other.loop);
    const auto last = last_ends_.find(key);
    const bool alike = last != last_ends_.end() && last->second == ends && one.pass > 1 && one.unit == 1 &&
                       other.unit == 1 && last->second.time + one.length == one.time;
    const std::int64_t passes = alike ? std::min(one.remaining, other.remaining) : 0;
    if (passes > 0) {
      for (std::size_t i = 0; i < watches_.size(); ++i) {
        watches_[i].repeat(passes, one.length, last->second.totals[i], last->second.time, segment);
      }
      last_ends_.clear();
      now_ += passes * one.length;
    } else {
      last_ends_[key] = std::move(ends);
    }
    before_.skip_passes(passes, one.length);
    after_.skip_passes(passes, one.length);
    return true;
  }

  SegmentPlayer before_;
  SegmentPlayer after_;
  WaitComparison waits_;
  TableDifference& result_;
  std::vector<QuantityWatch> watches_;
  std::map<std::pair<LoopId, LoopId>, PassEnds> last_ends_;
  Nanoseconds now_{0};
};

}  // namespace

bool RailDifference::any() const {
  return std::any_of(std::begin(quantities), std::end(quantities),
                     [](const QuantityDifference& one) { return !one.stretches.empty(); });
}

TableDifference compare_tables(const Tables& before, const Tables& after) {
  TableDifference result;
  const Partners partners = find_partners(before.run, after.run, result);
  result.duration_before = before.run.timeline().duration();
  result.duration_after = after.run.timeline().duration();
  Comparison(before.run, after.run, partners, result).run("");
  if (before.safe != nullptr && after.safe != nullptr) {
    Comparison(*before.safe, *after.safe, partners, result).run("safe");
  } else if (before.safe != nullptr || after.safe != nullptr) {
    result.segments.push_back(std::string("only the ") + (before.safe != nullptr ? "old" : "new") +
                              " profile has a `safe` block");
  }
  return result;
}

}  // namespace rampart::diff
