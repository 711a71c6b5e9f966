#include <algorithm>
#include <cmath>
#include <map>

#include "compiler/rules/monitor.h"
#include "compiler/rules/setpoint_courses.h"
#include "compiler/rules/switch_ends.h"
#include "compiler/table/folded_walk.h"
#include "lang/text/overloaded.h"
#include "lang/values/fitting.h"

// Judges rules on the exact setpoints: the timeline is cut where anything changes its direction, so that every rail
// goes straight in between.
namespace rampart {
namespace {

using rules::Monitor;
using rules::MonitorState;
using rules::RailDoing;
using rules::RulePlan;
using rules::Scene;
using rules::SetpointCourses;
using rules::SetpointPiece;

// How a rail's ramps become stairs.
struct Stairs {
  bool used = false;
  Nanoseconds minimum_step{0};
  Rational count;  // V
};

Stairs stairs_of(const Table& table, const RailSetup& setup) {
  Stairs stairs;
  for (const ChannelId member : setup.members) {
    const Timing& timing = table.bench().supply_of(member).timing;
    stairs.used = stairs.used || timing.interpolation == Interpolation::Hold;
    stairs.minimum_step = std::max(stairs.minimum_step, timing.minimum_step);
    stairs.count = std::max(stairs.count, table.bench()[member].limits.voltage_resolution.si);
  }
  return stairs;
}

// Half the height of the stairs that a straight way of a rail is played in, in V.
Rational half_stair(const Stairs& stairs, Nanoseconds length, const Rational& from, const Rational& to) {
  if (!stairs.used || from == to) return 0;
  const Rational height = abs(to - from);
  Int128 count = stairs.minimum_step.count() > 0 ? length / stairs.minimum_step : 1;
  if (stairs.count.sign() > 0) count = std::min(count, (height / stairs.count).rounded());
  const Rational parts = Rational::fraction(2 * std::max<Int128>(count, 1), 1);
  return fitting(height / parts, height.to_double() / parts.to_double());
}

// Where a ramp stands after some of its time.
Rational on_way(const Move& ramp, Nanoseconds time) {
  const Nanoseconds part = time - ramp.start;
  if (part.count() == 0) return ramp.from;
  if (part == ramp.length) return ramp.to;
  const double share = static_cast<double>(part.count()) / static_cast<double>(ramp.length.count());
  return fitting(ramp.from + (ramp.to - ramp.from) * Rational::fraction(part.count(), ramp.length.count()),
                 ramp.from.to_double() + (ramp.to.to_double() - ramp.from.to_double()) * share);
}

Rational slew_of(const Move& ramp) {
  return fitting((ramp.to - ramp.from) / to_seconds(ramp.length),
                 (ramp.to.to_double() - ramp.from.to_double()) / to_seconds(ramp.length).to_double());
}

// The moves of one block, by the instants between which every rail goes straight.
class BlockCuts {
 public:
  explicit BlockCuts(const Block& block) {
    times_ = {Nanoseconds{0}, block.length};
    for (const Move& move : block.moves) {
      times_.push_back(move.start);
      times_.push_back(move.start + move.length);
    }
    std::sort(times_.begin(), times_.end());
    times_.erase(std::unique(times_.begin(), times_.end()), times_.end());
    for (const Move& move : block.moves) {
      std::vector<Nanoseconds>& own = own_[move.rail];
      own.insert(own.end(), {Nanoseconds{0}, block.length, move.start, move.start + move.length});
    }
    for (auto& [rail, own] : own_) std::sort(own.begin(), own.end());
  }

  [[nodiscard]] const std::vector<Nanoseconds>& times() const { return times_; }
  // What a rail's own changes cut out around a time at which the block does not end.
  [[nodiscard]] Range<Nanoseconds> own_piece(RailId rail, Nanoseconds time) const {
    const std::vector<Nanoseconds>& own = own_.at(rail);
    const auto next = std::upper_bound(own.begin(), own.end(), time);
    return {*(next - 1), *next};
  }

 private:
  std::vector<Nanoseconds> times_;
  std::map<RailId, std::vector<Nanoseconds>> own_;
};

class SetpointJudge {
 public:
  SetpointJudge(const Table& run, const SwitchPositions& positions)
      : table_(run),
        plans_(rules::plan_rules(run)),
        states_(run.timeline().initial()),
        pieces_(states_.size()),
        last_voltage_(states_.size()),
        ramps_(states_.size()),
        doing_(states_.size()) {
    for (const RailSetup& setup : run.rails()) {
      accuracies_.push_back(rules::voltage_accuracy(run, setup.rail));
      stairs_.push_back(stairs_of(run, setup));
      switches_.emplace_back(switch_delay(run.bench(), setup.members, positions));
    }
    for (const RulePlan& plan : plans_) {
      if (plan.fits(RuleSide::Setpoints)) monitors_.push_back(rules::make_monitor(plan));
    }
  }

  std::vector<RuleResult> judge() {
    if (monitors_.empty()) return {};
    TimelineCursor cursor = table_.timeline().walk();
    while (const std::optional<TimelineItem> item = cursor.next()) {
      std::visit(Overloaded{
                     [&](const Block* block) { play(*block, cursor); },
                     [&](const TimelinePassEnded& pass) { end_pass(pass, cursor); },
                     [&](const TimelineSegmentEnded& segment) { wait(segment); },
                 },
                 *item);
    }
    passes_.clear();
    take_piece(Nanoseconds{0});
    std::vector<RuleResult> results;
    for (const auto& monitor : monitors_) {
      monitor->finish(scene());
      results.push_back(monitor->result());
      results.back().side = RuleSide::Setpoints;
    }
    return results;
  }

 private:
  [[nodiscard]] Scene scene() const { return {Instant{clock_, 0}, doing_, passes_}; }

  void play(const Block& block, const TimelineCursor& cursor) {
    passes_.assign(cursor.passes().begin(), cursor.passes().end());
    const BlockCuts cuts(block);
    const std::vector<Nanoseconds>& times = cuts.times();
    const Nanoseconds start = clock_;
    std::size_t next = 0;
    for (std::size_t i = 0; i < times.size(); ++i) {
      clock_ = start + times[i];
      for (; next < block.moves.size() && block.moves[next].start == times[i]; ++next) begin(block.moves[next]);
      if (i + 1 < times.size()) go_straight(cuts, times[i], times[i + 1]);
    }
    std::fill(ramps_.begin(), ramps_.end(), nullptr);
    states_ = cursor.rails();
  }

  void begin(const Move& move) {
    const auto id = static_cast<std::size_t>(move.rail);
    RailDoing& doing = doing_[id];
    doing.statement = move.statement->span;
    doing.call = move.statement->call;
    doing.since = Instant{clock_, 0};
    RailState& state = states_[id];
    switch (move.kind) {
      case MoveKind::Voltage:
        state.voltage = move.to;
        ramps_[id] = move.length.count() > 0 ? &move : nullptr;
        break;
      case MoveKind::Limit:
        break;
      case MoveKind::Output:
        switches_[id].tell(move.to.sign() > 0, Instant{clock_, 0});
        break;
    }
  }

  void go_straight(const BlockCuts& cuts, Nanoseconds from, Nanoseconds to) {
    while (from < to) {
      close_contacts();
      const Nanoseconds next = from + std::min(to - from, time_to_closing());
      go_on(cuts, from, next);
      from = next;
    }
  }

  // What is done at the instant comes first: an output that is told to open as it closes stays open.
  void close_contacts() {
    for (std::size_t i = 0; i < switches_.size(); ++i) {
      if (switches_[i].close_if_due(Instant{clock_, 0})) doing_[i].since = Instant{clock_, 0};
    }
  }

  [[nodiscard]] Nanoseconds time_to_closing() const {
    Nanoseconds time = Nanoseconds::max();
    for (const OutputSwitch& output : switches_) {
      if (output.due()) time = std::min(time, output.due()->whole - clock_);
    }
    return time;
  }

  void go_on(const BlockCuts& cuts, Nanoseconds from, Nanoseconds to) {
    for (std::size_t i = 0; i < states_.size(); ++i) {
      const Move* ramp = ramps_[i];
      if (ramp != nullptr && ramp->start + ramp->length <= from) ramp = nullptr;
      set_piece(i, ramp, from, to);
      if (ramp == nullptr || !switches_[i].closed()) continue;
      const Range<Nanoseconds> own = cuts.own_piece(ramp->rail, from);
      pieces_[i].half_stair =
          half_stair(stairs_[i], own.high - own.low, on_way(*ramp, own.low), on_way(*ramp, own.high));
    }
    take_piece(to - from);
  }

  void set_piece(std::size_t rail, const Move* ramp, Nanoseconds from, Nanoseconds to) {
    const RailState& state = states_[rail];
    SetpointPiece& piece = pieces_[rail];
    piece = SetpointPiece{};
    piece.on = switches_[rail].closed();
    if (!piece.on) return;
    piece.from = ramp == nullptr ? state.voltage : on_way(*ramp, from);
    piece.to = ramp == nullptr ? state.voltage : on_way(*ramp, to);
    if (ramp != nullptr) piece.slew = slew_of(*ramp);
  }

  // Shows the pieces, of this length, to every rule.
  void take_piece(Nanoseconds length) {
    if (length.count() == 0) {
      for (std::size_t i = 0; i < states_.size(); ++i) set_piece(i, nullptr, Nanoseconds{0}, Nanoseconds{0});
    }
    show_jumps();
    const double seconds = to_seconds(length).to_double();
    for (const auto& monitor : monitors_) {
      monitor->take(SetpointCourses(monitor->plan(), accuracies_, pieces_, seconds), scene());
    }
    for (std::size_t i = 0; i < pieces_.size(); ++i) last_voltage_[i] = pieces_[i].to;
    clock_ += length;
  }

  // Rules on the slew see a jump as an instant of its own, once with what was before and once with what comes.
  void show_jumps() {
    bool any = false;
    std::vector<SetpointPiece> before(pieces_.size());
    std::vector<SetpointPiece> after = pieces_;
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
      before[i].on = after[i].on;
      before[i].from = before[i].to = last_voltage_[i];
      before[i].jump = after[i].jump = pieces_[i].from - last_voltage_[i];
      any = any || before[i].jump.sign() != 0;
    }
    if (!any) return;
    for (const auto& monitor : monitors_) {
      if (!monitor->plan().has_slew) continue;
      monitor->take(SetpointCourses(monitor->plan(), accuracies_, before, 0), scene());
      monitor->take(SetpointCourses(monitor->plan(), accuracies_, after, 0), scene());
    }
  }

  void wait(const TimelineSegmentEnded& segment) {
    if (segment.statement == nullptr) return;
    const Await& await = std::get<Await>(segment.statement->what);
    const Nanoseconds end = clock_ + await.assume.value_or(Nanoseconds{0});
    while (clock_ < end) {
      close_contacts();
      for (std::size_t i = 0; i < states_.size(); ++i) set_piece(i, nullptr, Nanoseconds{0}, Nanoseconds{0});
      take_piece(std::min(end - clock_, time_to_closing()));
    }
  }

  // ---- folding

  struct State {
    std::vector<RailState> rails;
    std::vector<bool> lines;
    std::vector<Rational> voltages;
    MonitorState monitors;
    std::vector<ContactState> contacts;
    friend bool operator==(const State&, const State&) = default;
  };

  [[nodiscard]] State state(const TimelineCursor& cursor) const {
    State state{cursor.rails(), cursor.lines(), last_voltage_, {}, contacts()};
    const Instant now{clock_, 0};
    for (const auto& monitor : monitors_) monitor->add_state(now, state.monitors);
    return state;
  }

  [[nodiscard]] std::vector<ContactState> contacts() const {
    std::vector<ContactState> contacts;
    for (const OutputSwitch& output : switches_) contacts.push_back(output.state(Instant{clock_, 0}));
    return contacts;
  }

  void end_pass(const TimelinePassEnded& pass, TimelineCursor& cursor) {
    const PassEnd before = pass_ends_.try_emplace(pass.loop, PassEnd{clock_, contacts()}).first->second;
    const Nanoseconds began = before.at;
    pass_ends_[pass.loop] = {clock_, contacts()};
    if (pass.remaining == 0) return;
    std::int64_t skipped = folder_.passes_to_skip(pass.loop, pass.pass, pass.remaining, state(cursor));
    for (std::size_t i = 0; i < switches_.size(); ++i) {
      skipped = passes_before_closing(before.contacts[i], contacts()[i], skipped);
    }
    if (skipped == 0) return;
    cursor.skip_passes(skipped);
    const Instant added{(clock_ - began) * skipped, 0};
    const Instant pass_began{began, 0};
    for (const auto& monitor : monitors_) monitor->shift(added, pass_began);
    for (RailDoing& doing : doing_) {
      if (doing.since.since(pass_began) >= 0) doing.since = doing.since.plus(added);
    }
    for (std::size_t i = 0; i < switches_.size(); ++i) {
      if (!contacts()[i].waits_on(before.contacts[i])) switches_[i].put_off(added);
    }
    clock_ += added.whole;
    pass_ends_[pass.loop] = {clock_, contacts()};
  }

  const Table& table_;
  std::vector<RulePlan> plans_;
  std::vector<OutputSwitch> switches_;
  std::vector<std::unique_ptr<Monitor>> monitors_;
  std::vector<std::optional<Accuracy<Volts>>> accuracies_;
  std::vector<Stairs> stairs_;
  std::vector<RailState> states_;
  std::vector<SetpointPiece> pieces_;
  std::vector<Rational> last_voltage_;  // where each rail's last piece ended
  std::vector<const Move*> ramps_;      // that the rails are on, or were before in the block
  std::vector<RailDoing> doing_;
  Nanoseconds clock_{0};  // through all segments
  Passes passes_;
  PassFolder<State> folder_;
  struct PassEnd {
    Nanoseconds at{0};
    std::vector<ContactState> contacts;
  };
  std::map<LoopId, PassEnd> pass_ends_;
};

}  // namespace

std::vector<RuleResult> judge_rules(const Table& run) {
  SwitchPositions middle(run.bench().supplies.size());
  std::vector<RuleResult> results = SetpointJudge(run, middle).judge();
  for (const SwitchPositions& positions : rules::switch_ends(run, RuleSide::Setpoints)) {
    rules::keep_worse(results, SetpointJudge(run, positions).judge());
  }
  return results;
}

}  // namespace rampart
