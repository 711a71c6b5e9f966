#include "runtime/diff/table_difference.h"

#include <algorithm>
#include <map>
#include <set>

#include "compiler/table/setup.h"
#include "runtime/diff/loop_pairs.h"
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

  // What holds from `from` on, and just before `to`; the times of the old table are `shift` later.
  void compare(const SegmentPlayer& old_table, const SegmentPlayer& new_table, Nanoseconds from, Nanoseconds to,
               Nanoseconds shift, const std::string& segment) {
    const bool at_start = look(old_table, new_table, from + shift, from, from, segment);
    const bool at_end = look(old_table, new_table, to + shift, to, from, segment);
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
  Nanoseconds time_before{0};
  Nanoseconds time_after{0};
  friend bool operator==(const PassEnds& a, const PassEnds& b) { return a.before == b.before && a.after == b.after; }
};

class Comparison {
 public:
  Comparison(const Table& before, const Table& after, const Partners& partners, TableDifference& result)
      : before_(before),
        after_(after),
        waits_(before, after, partners),
        pairs_(before.timeline(), after.timeline()),
        result_(result) {
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
    shift_ = Nanoseconds{0};
    is_paired_ = pairs_.any();
    last_ends_.clear();
    while (true) {
      std::optional<Nanoseconds> old_next = before_.next_time();
      const std::optional<Nanoseconds> new_next = after_.next_time();
      if (!old_next && !new_next) break;
      if (old_next) *old_next -= shift_;
      const Nanoseconds next =
          std::max(now_, std::min(old_next.value_or(Nanoseconds::max()), new_next.value_or(Nanoseconds::max())));
      // Beyond its end a table sets nothing, which is said as a difference of duration.
      if (next > now_ && old_next && new_next) {
        for (QuantityWatch& watch : watches_) watch.compare(before_, after_, now_, next, shift_, segment);
      }
      now_ = next;
      const bool old_waits = is_paired_ && before_.pass_end() != nullptr && old_next <= now_;
      const bool new_waits = is_paired_ && after_.pass_end() != nullptr && new_next <= now_;
      // The table whose pass is over first waits for the other one.
      if (old_waits && !new_waits) go_to_pass_end(after_);
      if (new_waits && !old_waits) go_to_pass_end(before_);
      if (take_pass_ends(segment)) continue;
      // Not the loop that was expected: from here on times are compared.
      if (old_waits || new_waits) is_paired_ = false;
      take_at(before_, now_ + shift_);
      take_at(after_, now_);
    }
    for (QuantityWatch& watch : watches_) watch.end(before_, after_, segment);
  }

  void take_at(SegmentPlayer& player, Nanoseconds time) const {
    while (player.next_time() && *player.next_time() <= time) {
      const PassEnded* pass = player.pass_end();
      if (pass != nullptr && is_paired_) return;
      player.take();
      if (pass != nullptr) player.skip_passes(0, Nanoseconds{0});
    }
  }

  // Takes what comes before the end of a pass.
  static void go_to_pass_end(SegmentPlayer& player) {
    while (player.next_time() && player.pass_end() == nullptr) player.take();
  }

  // Both tables end a pass of the same loop here: once both end it as they ended the one before, the rest is alike.
  bool take_pass_ends(const std::string& segment) {
    const PassEnded* old_pass = before_.pass_end();
    const PassEnded* new_pass = after_.pass_end();
    if (old_pass == nullptr || new_pass == nullptr) return false;
    const PassEnded one = *old_pass;
    const PassEnded other = *new_pass;
    const bool is_one_time = one.time == other.time && one.length == other.length;
    if (is_paired_ ? !pairs_.are_paired(one.loop, other.loop) || one.pass != other.pass : !is_one_time) return false;
    note_change(one, other);
    // A pass may end between two instants of the grid: rows of the next one may come before that.
    const Nanoseconds due = *after_.next_time();
    before_.take();
    after_.take();
    PassEnds ends{before_.state(), after_.state(), {}, one.time, other.time};
    for (const QuantityWatch& watch : watches_) ends.totals.push_back(watch.total());
    const auto key = std::pair(one.loop, other.loop);
    const auto last = last_ends_.find(key);
    const bool alike = last != last_ends_.end() && last->second == ends && one.pass > 1 && one.unit == 1 &&
                       other.unit == 1 && last->second.time_before + one.length == one.time &&
                       last->second.time_after + other.length == other.time;
    const std::int64_t passes = alike ? std::min(one.remaining, other.remaining) : 0;
    if (passes > 0) {
      for (std::size_t i = 0; i < watches_.size(); ++i) {
        watches_[i].repeat(passes, other.length, last->second.totals[i], last->second.time_after, segment);
      }
      last_ends_.clear();
    } else {
      last_ends_[key] = std::move(ends);
    }
    before_.skip_passes(passes, one.length);
    after_.skip_passes(passes, other.length);
    now_ = std::max(now_, due) + passes * other.length;
    if (is_paired_) leave_loop(one, other, passes);
    return true;
  }

  // Both are `passes` beyond the ends of the passes given. Where one of the tables has no more of them, the other one
  // goes to the end of its loop.
  void leave_loop(const PassEnded& one, const PassEnded& other, std::int64_t passes) {
    Nanoseconds old_time = one.time + passes * one.length;
    Nanoseconds new_time = other.time + passes * other.length;
    const bool old_leaves = one.remaining == passes;
    if (old_leaves != (other.remaining == passes)) {
      for (QuantityWatch& watch : watches_) watch.close();
      if (old_leaves) {
        const Nanoseconds begin = new_time;
        new_time = end_of_loop(after_, other.loop).value_or(new_time);
        now_ += new_time - begin;
      } else {
        old_time = end_of_loop(before_, one.loop).value_or(old_time);
      }
      last_ends_.clear();
    }
    shift_ = old_time - new_time;
  }

  // Goes to where the loop is over, and says when that is; none where it does not end in this segment.
  static std::optional<Nanoseconds> end_of_loop(SegmentPlayer& player, LoopId loop) {
    std::map<LoopId, StateKey> ends;  // of the last pass of each loop
    while (true) {
      go_to_pass_end(player);
      if (player.pass_end() == nullptr) return std::nullopt;
      const PassEnded pass = *player.pass_end();
      player.take();
      StateKey state = player.state();
      const auto last = ends.find(pass.loop);
      const bool alike = last != ends.end() && last->second == state && pass.unit == 1;
      const std::int64_t passes = alike ? pass.remaining : 0;
      player.skip_passes(passes, pass.length);
      if (pass.loop == loop && passes == pass.remaining) return pass.time + passes * pass.length;
      ends.insert_or_assign(pass.loop, std::move(state));
    }
  }

  // Says of each loop once what is different about it.
  void note_change(const PassEnded& one, const PassEnded& other) {
    const LoopChange change{other.statement, one.length, other.length, one.pass + one.remaining,
                            other.pass + other.remaining};
    if (change.length_before == change.length_after && change.passes_before == change.passes_after) return;
    if (changed_.insert(other.loop).second) result_.loops.push_back(change);
  }

  SegmentPlayer before_;
  SegmentPlayer after_;
  WaitComparison waits_;
  LoopPairs pairs_;
  TableDifference& result_;
  std::vector<QuantityWatch> watches_;
  std::map<std::pair<LoopId, LoopId>, PassEnds> last_ends_;
  std::set<LoopId> changed_;
  bool is_paired_ = false;  // passes are compared with those of their partners
  Nanoseconds now_{0};      // of the new table
  Nanoseconds shift_{0};    // the time of the old table less that
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
