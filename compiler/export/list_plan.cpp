#include "compiler/export/list_plan.h"

#include <algorithm>
#include <map>

#include "compiler/export/decimal.h"
#include "compiler/export/list_fold.h"
#include "compiler/export/segments.h"
#include "compiler/table/abilities.h"
#include "compiler/table/setup.h"
#include "compiler/table/silent_passes.h"
#include "lang/findings/limits.h"

namespace rampart {
namespace {

// Turns the rows of one channel into points. With an error, stairs of a ramp are left out as long as the one that is
// held instead is no further off.
class PointMaker {
 public:
  PointMaker(ListFold& fold, std::optional<std::int64_t> error_counts) : fold_(fold), error_(error_counts) {}

  // The last row of a channel only says how long the one before it lasts.
  void add(const Row& row) {
    last_ = row;
    if (has_point_ && can_leave_out(row)) return;
    if (has_point_ && row.time > point_.time) end_point(row.time);
    point_ = row;
    has_point_ = true;
  }
  // Ends the point at `time`, unless it runs to another one then; the next one goes on with the same.
  void cut(Nanoseconds time) {
    if (!has_point_ || time <= point_.time || runs()) return;
    end_point(time);
    point_.time = time;
  }
  // A supply that runs straight needs the last row as a point to run to, where that is another level; `dwell` is how
  // long it stands there before the list ends.
  void arrive(Nanoseconds dwell) {
    if (!ended_ || (last_.voltage == ended_->voltage && last_.current == ended_->current)) return;
    fold_.add({last_.voltage, last_.current, dwell});
  }
  [[nodiscard]] const Row& last() const { return last_; }

  // What the points to come depend on besides their rows: the point that is not ended yet.
  struct Open {
    bool is_there = false;
    ListPoint begun;  // `dwell`: for how long by now
    ListPoint end;    // likewise, of its course
    friend bool operator==(const Open&, const Open&) = default;
  };
  [[nodiscard]] Open open_at(Nanoseconds time) const {
    return {has_point_,
            {point_.voltage, point_.current, time - point_.time},
            {point_.voltage_until, point_.current_until, time - point_.until}};
  }
  // Rows are left out: so much later those come that would have come next.
  void go_on_later(Nanoseconds by) {
    point_.time += by;
    point_.until += by;
  }

 private:
  [[nodiscard]] bool can_leave_out(const Row& row) const {
    return error_ && row.is_stair && row.current == point_.current && std::abs(row.voltage - point_.voltage) <= *error_;
  }

  void end_point(Nanoseconds time) {
    ended_ = ListPoint{point_.voltage, point_.current, time - point_.time};
    fold_.add(*ended_);
  }
  [[nodiscard]] bool runs() const {
    return point_.until > point_.time &&
           (point_.voltage_until != point_.voltage || point_.current_until != point_.current);
  }

  ListFold& fold_;
  std::optional<std::int64_t> error_;
  std::optional<ListPoint> ended_;
  bool has_point_ = false;
  Row point_;
  Row last_;
};

// Leaves out the passes of a loop that only go on with the points of those before them.
class AlikePasses {
 public:
  AlikePasses(ListFold& fold, PointMaker& maker) : fold_(fold), maker_(maker) {}

  // Right after `pass` was given by the cursor.
  void ended(const PassEnded& pass, RowCursor& cursor) {
    const auto [found, is_new] = ends_.try_emplace(pass.loop);
    End& before = found->second;
    const bool goes_on = !is_new && before.pass < pass.pass;
    if (goes_on && (pass.pass - before.pass) % pass.unit != 0) return;
    End end{pass.pass, pass.time, fold_.count(), cursor.state(), maker_.open_at(pass.time)};
    if (goes_on && end.state == before.state) leave_out(pass, before, end, cursor);
    before = std::move(end);
  }

 private:
  struct End {
    std::int64_t pass = 0;
    Nanoseconds time{0};
    std::int64_t points = 0;
    StateKey state;
    PointMaker::Open open;
  };

  void leave_out(const PassEnded& pass, const End& before, End& end, RowCursor& cursor) {
    // Either the channel does the same again, or it stands still all the while.
    const bool is_same = end.open == before.open;
    if (!is_same && (end.points != before.points || maker_.open_at(before.time) != before.open)) return;
    const std::int64_t passes = end.pass - before.pass;
    const std::int64_t times = pass.remaining / passes;
    if (times == 0 || !fold_.repeat(end.points - before.points, times)) return;
    cursor.skip_passes(times * passes);
    const Nanoseconds later = (end.time - before.time) * times;
    if (is_same) maker_.go_on_later(later);
    end.pass += times * passes;
    end.time += later;
    end.points = fold_.count();
  }

  ListFold& fold_;
  PointMaker& maker_;
  std::map<LoopId, End> ends_;
};

// Loops that are tried, so that a profile of many is planned in a bounded time.
constexpr std::size_t kMaxFoldedLoops = 8;
// Longer lists are not folded to say how many points would do.
constexpr std::int64_t kMostPointsTried = 10'000;

class ListPlanner {
 public:
  ListPlanner(const Table& run, FindingSink& findings)
      : run_(run), bench_(run.bench()), findings_(findings), channels_(driven_channels(run)) {}

  std::optional<std::vector<ChannelList>> plan(const ListOptions& options) {
    const std::size_t errors = findings_.error_count();
    check_supplies();
    if (findings_.error_count() > errors) return std::nullopt;
    check_rows();
    check_levels();
    if (findings_.error_count() > errors) return std::nullopt;
    std::vector<ChannelList> lists;
    for (const ChannelId channel : channels_) {
      if (std::optional<ChannelList> list = plan(channel, options)) lists.push_back(std::move(*list));
    }
    if (findings_.error_count() > errors) return std::nullopt;
    return lists;
  }

 private:
  [[nodiscard]] RailId rail_id_of(ChannelId channel) const {
    for (const RailSetup& rail : run_.rails()) {
      if (std::find(rail.members.begin(), rail.members.end(), channel) != rail.members.end()) return rail.rail;
    }
    return RailId{};
  }
  [[nodiscard]] const Rail& rail_of(ChannelId channel) const { return run_.profile()[rail_id_of(channel)]; }

  // What a channel takes of an error of its rail: in series the errors of the members add.
  [[nodiscard]] Rational share_of_error(ChannelId channel) const {
    return abilities_of(run_, rail_id_of(channel)).share_of_voltage(bench_[channel]);
  }

  void check_supplies() {
    for (const ChannelId channel : channels_) {
      const Supply& supply = bench_.supply_of(channel);
      const Rail& rail = rail_of(channel);
      if (!supply.table) {
        findings_.report(finding::NoTableMemory, rail.channel_span, bench_[channel].name, supply.name)
            .note(finding::SupplyDescribedHere, supply.span)
            .hint(
                "give `table: {points: 100, repeats: 1000}` if it can, or play the table from the host with --as csv");
        continue;
      }
      const std::vector<ChannelId>& able = supply.table->channels;
      if (std::find(able.begin(), able.end(), channel) != able.end()) continue;
      findings_.report(finding::ChannelCannotPlay, rail.channel_span, bench_[channel].name, supply.name)
          .note(finding::TableMemoryHere, supply.table->span)
          .hint("put the rail on a channel that can, or play the table from the host with --as csv");
    }
  }

  // A list sets voltage and current, and nothing else: outputs go on before it and off after it.
  void check_rows() {
    std::map<ChannelId, bool> outputs;
    std::optional<Row> first_off;
    RowCursor cursor = run_.rows();
    SilentPasses silent;
    while (const std::optional<TableItem> item = cursor.next()) {
      if (const auto* pass = std::get_if<PassEnded>(&*item)) {
        // Passes that are alike are refused alike.
        silent.ended(*pass, cursor);
        continue;
      }
      if (const auto* row = std::get_if<Row>(&*item)) {
        const auto [output, is_first] = outputs.try_emplace(row->channel, row->output);
        if (is_first || output->second == row->output) continue;
        output->second = row->output;
        if (row->output) return report_beyond(switch_of(*row), "switches an output on");
        if (!first_off) first_off = *row;
      } else if (const auto* line = std::get_if<LineRow>(&*item)) {
        return report_beyond(line->statement, "drives a line");
      } else if (const auto* due = std::get_if<MeasurementDue>(&*item)) {
        return report_beyond(due->statement, "takes a reading");
      } else if (const auto* end = std::get_if<SegmentEnded>(&*item)) {
        if (end->await != nullptr) return report_beyond(end->statement, "waits");
        if (first_off && first_off->time != end->time) report_beyond(switch_of(*first_off), "switches an output off");
      }
    }
  }

  // Of a row that switches its output, in the first segment. The statements of one instant are one row, which tells of
  // the last of them; the one that switches may be another.
  [[nodiscard]] Span switch_of(const Row& row) const {
    const Nanoseconds grid = bench_.supply_of(row.channel).timing.resolution;
    const RailId rail = rail_id_of(row.channel);
    Span place = row.statement;
    TimelineCursor cursor(run_.timeline());
    while (const std::optional<TimelineItem> item = cursor.next()) {
      if (std::holds_alternative<TimelineSegmentEnded>(*item)) break;
      const auto* block = std::get_if<const Block*>(&*item);
      if (block == nullptr) continue;
      if ((*block)->start > row.time + grid) break;
      for (const Move& move : (*block)->moves) {
        const Nanoseconds apart = (*block)->start + move.start - row.time;
        const bool is_it = move.kind == MoveKind::Output && move.rail == rail && (move.to.sign() != 0) == row.output;
        if (is_it && 2 * std::abs(apart.count()) <= grid.count()) place = move.statement->span;
      }
    }
    return place;
  }

  // What is set before the list is written in decimals, and has to be what the profile says.
  void check_levels() {
    for (const ChannelSetup& setup : channel_setups(run_)) {
      const Protection& protection = run_.profile()[setup.rail].protection;
      const auto check = [&](const Span& place, const Rational& value, const std::string& text) {
        if (exact_decimal(value)) return;
        findings_
            .report(finding::BeyondList, place,
                    "sets `" + bench_[setup.channel].name + "` to " + text + " and more digits than fit")
            .hint("choose a value whose share for each channel is a decimal number");
      };
      if (setup.overvoltage) check(protection.overvoltage->span, setup.overvoltage->si, to_text(*setup.overvoltage));
      if (setup.fuse && setup.fuse->current)
        check(protection.fuse->span, setup.fuse->current->si, to_text(*setup.fuse->current));
      if (setup.overpower) check(protection.overpower->span, setup.overpower->si, to_text(*setup.overpower));
      if (!protection.ceiling) continue;
      const Volts ceiling{abs(protection.ceiling->value.si) *
                          abilities_of(run_, setup.rail).share_of_voltage(bench_[setup.channel])};
      check(protection.ceiling->span, ceiling.si, to_text(ceiling));
    }
  }

  void report_beyond(const Span& place, std::string_view what) {
    findings_.report(finding::BeyondList, place, what)
        .hint("a list sets voltages and currents only: play the table from the host with --as csv");
  }

  // The points of one channel. `error`: in counts, of stairs that are left out. `loop`: what is held across the ends of
  // its passes is cut there.
  ListFold fold(ChannelId channel, std::optional<std::int64_t> error, std::optional<LoopId> loop, ChannelList& list,
                std::int64_t memory) const {
    const Timing& timing = bench_.supply_of(channel).timing;
    const Nanoseconds grid = timing.resolution;
    const bool runs_straight = timing.interpolation == Interpolation::Linear;
    ListFold fold(memory, runs_straight);
    PointMaker maker(fold, error);
    RowCursor cursor = run_.rows();
    AlikePasses alike(fold, maker);
    bool is_first = true;
    while (const std::optional<TableItem> item = cursor.next()) {
      const auto* pass = std::get_if<PassEnded>(&*item);
      const bool cuts = pass != nullptr && pass->loop == loop && pass->time % grid == Nanoseconds{0};
      if (cuts) maker.cut(pass->time);
      if (pass != nullptr) alike.ended(*pass, cursor);
      const auto* row = std::get_if<Row>(&*item);
      if (row == nullptr || row->channel != channel) continue;
      if (is_first) list.switched_on = row->output;
      is_first = false;
      maker.add(*row);
    }
    if (runs_straight) maker.arrive(timing.minimum_step);
    list.last = maker.last();
    return fold;
  }

  // As it is, then with the passes of one loop after the other made alike: until one of them suits.
  template <class Suits>
  bool try_folds(ChannelId channel, std::optional<std::int64_t> error, ChannelList& list, std::int64_t memory,
                 Suits&& suits) const {
    if (suits(fold(channel, error, std::nullopt, list, memory))) return true;
    const std::size_t loops = std::min(run_.timeline().loop_count(), kMaxFoldedLoops);
    for (std::size_t i = 0; i < loops; ++i) {
      if (suits(fold(channel, error, LoopId{static_cast<std::uint32_t>(i)}, list, memory))) return true;
    }
    return false;
  }

  [[nodiscard]] bool fits(ChannelId channel, std::optional<std::int64_t> error, ChannelList& list) const {
    const TableMemory& table = *bench_.supply_of(channel).table;
    return try_folds(channel, error, list, table.points,
                     [&](const ListFold& fold) { return take(fold, table.repeats, list); });
  }

  // The fewest points that would do in the passes that the supply can play.
  [[nodiscard]] std::int64_t fewest_points(ChannelId channel, std::optional<std::int64_t> error) const {
    const std::int64_t passes = bench_.supply_of(channel).table->repeats;
    ChannelList list;
    std::optional<std::int64_t> fewest;
    try_folds(channel, error, list, kMostPointsTried, [&](const ListFold& fold) {
      const std::optional<ListFold::Result> result = fold.result(passes);
      const std::int64_t points = result ? static_cast<std::int64_t>(result->points.size()) : fold.count();
      fewest = std::min(fewest.value_or(points), points);
      return false;
    });
    return *fewest;
  }

  static bool take(const ListFold& fold, std::int64_t passes, ChannelList& list) {
    std::optional<ListFold::Result> result = fold.result(passes);
    if (!result) return false;
    list.points = std::move(result->points);
    list.passes = result->passes;
    return true;
  }

  std::optional<ChannelList> plan(ChannelId channel, const ListOptions& options) const {
    const Supply& supply = bench_.supply_of(channel);
    ChannelList list;
    list.channel = channel;
    if (fits(channel, std::nullopt, list)) return list;
    std::int64_t needed = fewest_points(channel, std::nullopt);
    if (supply.timing.interpolation == Interpolation::Hold) {
      const Volts step = bench_[channel].limits.voltage_resolution;
      const Volts error = options.ramp_error ? Volts{options.ramp_error->si * share_of_error(channel)} : step;
      if (fits(channel, counts(error, channel), list)) {
        findings_.report(finding::StairsLeftOut, rail_of(channel).channel_span, bench_[channel].name,
                         static_cast<std::int64_t>(list.points.size()), needed, error);
        return list;
      }
      needed = std::min(needed, fewest_points(channel, counts(error, channel)));
    }
    report_memory(channel, needed);
    return std::nullopt;
  }

  [[nodiscard]] std::int64_t counts(const Volts& error, ChannelId channel) const {
    return static_cast<std::int64_t>((error.si / bench_[channel].limits.voltage_resolution.si).floor());
  }

  void report_memory(ChannelId channel, std::int64_t needed) const {
    const TableMemory& memory = *bench_.supply_of(channel).table;
    findings_
        .report(finding::TableMemoryShort, rail_of(channel).channel_span, bench_[channel].name, needed, memory.points,
                memory.repeats)
        .note(finding::TableMemoryHere, memory.span)
        .hint(way_to_fit(channel));
  }

  // The least error of ramps that would do, in whole counts.
  [[nodiscard]] std::string way_to_fit(ChannelId channel) const {
    const Supply& supply = bench_.supply_of(channel);
    const OutputLimits& limits = bench_[channel].limits;
    ChannelList list;
    std::int64_t too_small = 0;
    std::int64_t enough = counts(limits.voltage.value.high, channel);
    if (supply.timing.interpolation == Interpolation::Linear || !fits(channel, enough, list)) {
      return "make the whole run one repeat, shorten it, or play the table from the host with --as csv";
    }
    while (enough - too_small > 1) {
      const std::int64_t middle = too_small + (enough - too_small) / 2;
      (fits(channel, middle, list) ? enough : too_small) = middle;
    }
    return "--ramp-error \"" +
           to_text(Volts{limits.voltage_resolution.si * Rational(enough) / share_of_error(channel)}) +
           "\" would make it fit, or play the table from the host with --as csv";
  }

  const Table& run_;
  const Bench& bench_;
  FindingSink& findings_;
  std::vector<ChannelId> channels_;
};

}  // namespace

std::optional<std::vector<ChannelList>> plan_lists(const Table& run, const ListOptions& options,
                                                   FindingSink& findings) {
  return ListPlanner(run, findings).plan(options);
}

}  // namespace rampart
