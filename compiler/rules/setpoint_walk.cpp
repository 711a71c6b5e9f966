#include "compiler/rules/setpoint_walk.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>

#include "compiler/rules/monitor.h"
#include "compiler/rules/setpoint_courses.h"
#include "compiler/rules/setpoint_lag.h"
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
using rules::SetpointLag;
using rules::SetpointPiece;

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

// The instants of a block between which every rail goes straight, and those of its marks.
std::vector<Nanoseconds> cuts_of(const Block& block) {
  std::vector<Nanoseconds> times = {Nanoseconds{0}, block.length};
  for (const MarkMove& mark : block.marks) times.push_back(mark.start);
  for (const Move& move : block.moves) {
    times.push_back(move.start);
    times.push_back(move.start + move.length);
  }
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
  return times;
}

// What the coming of a walk depends on besides the timeline, at one of the cuts of a block.
struct Stand {
  std::int64_t cuts = 0;  // until now
  Nanoseconds clock{0};
  std::vector<Rational> voltages;
  std::vector<double> memory;  // of the monitors
  friend bool operator==(const Stand&, const Stand&) = default;
};

class SetpointJudge {
 public:
  // The plans must outlive it.
  SetpointJudge(const Table& run, const std::vector<RulePlan>& plans, const SwitchPositions& positions,
                bool with_errors)
      : table_(run),
        states_(run.timeline().initial()),
        pieces_(states_.size()),
        last_voltage_(states_.size()),
        ramps_(states_.size()),
        moves_(states_.size()),
        doing_(states_.size()) {
    for (const RailSetup& setup : run.rails()) {
      accuracies_.push_back(with_errors ? rules::voltage_accuracy(run, setup.rail) : std::nullopt);
      lags_.emplace_back(run, setup.rail);
      switches_.emplace_back(switch_delay(run.bench(), setup.members, positions));
    }
    for (const RulePlan& plan : plans) {
      if (plan.fits(RuleSide::Setpoints)) monitors_.push_back(rules::make_monitor(plan));
    }
  }

  // `known`: where a walk with other switch delays came by. Once this one comes to such a place it goes on as the other
  // did, and ends.
  std::vector<RuleResult> judge(const std::vector<Stand>* known = nullptr) {
    if (monitors_.empty()) return {};
    known_ = known;
    TimelineCursor cursor = table_.timeline().walk();
    while (const std::optional<TimelineItem> item = joined_ ? std::nullopt : cursor.next()) {
      std::visit(Overloaded{
                     [&](const Block* block) { play(*block, cursor); },
                     [&](const TimelinePassEnded& pass) { end_pass(pass, cursor); },
                     [&](const TimelineSegmentEnded& segment) { wait(segment); },
                 },
                 *item);
    }
    passes_.clear();
    if (!joined_) take_piece(Nanoseconds{0});
    std::vector<RuleResult> results;
    for (const auto& monitor : monitors_) {
      if (!joined_) monitor->finish(scene());
      results.push_back(monitor->result());
      results.back().side = RuleSide::Setpoints;
    }
    return results;
  }

  // Where the walk came by after the last time that an output was told to close: at few cuts, in their order.
  [[nodiscard]] const std::vector<Stand>& stands() const { return stands_; }
  [[nodiscard]] bool joined() const { return joined_; }

 private:
  [[nodiscard]] Scene scene() const { return {Instant{clock_, 0}, doing_, passes_}; }

  void play(const Block& block, const TimelineCursor& cursor) {
    passes_.assign(cursor.passes().begin(), cursor.passes().end());
    const std::vector<Nanoseconds> times = cuts_of(block);
    const Nanoseconds start = clock_;
    begin_lags(block);
    std::size_t next = 0;
    for (std::size_t i = 0; i < times.size(); ++i) {
      clock_ = start + times[i];
      for (; next < block.moves.size() && block.moves[next].start == times[i]; ++next) begin(block.moves[next]);
      for (SetpointLag& lag : lags_) lag.pass_until(clock_, clock_ == segment_start_);
      for (const MarkMove& mark : block.marks) {
        if (mark.start == times[i]) reach(mark.mark->name);
      }
      if (i + 1 == times.size()) break;
      close_contacts();
      stand();
      if (joined_) return;
      go_straight(times[i], times[i + 1]);
    }
    std::fill(ramps_.begin(), ramps_.end(), nullptr);
    states_ = cursor.rails();
  }

  // Notes or compares where the walk stands.
  void stand() {
    ++cuts_;
    const auto is_due = [](const OutputSwitch& output) { return output.due().has_value(); };
    if (std::any_of(switches_.begin(), switches_.end(), is_due)) return;
    if (known_ != nullptr) {
      const auto at = std::find_if(known_->begin(), known_->end(), [&](const Stand& one) { return one.cuts == cuts_; });
      joined_ = at != known_->end() && *at == present();
    } else if (std::has_single_bit(static_cast<std::uint64_t>(cuts_ - switched_on_))) {
      stands_.push_back(present());
    }
  }

  [[nodiscard]] Stand present() const {
    Stand stand{cuts_, clock_, last_voltage_, {}};
    for (const auto& monitor : monitors_) monitor->add_memory(Instant{clock_, 0}, stand.memory);
    return stand;
  }

  void switch_output(std::size_t rail, bool on) {
    if (on && !switches_[rail].told_on()) {
      stands_.clear();
      switched_on_ = cuts_;
    }
    switches_[rail].tell(on, Instant{clock_, 0});
  }

  void reach(std::string_view mark) {
    for (const auto& monitor : monitors_) monitor->mark(mark, scene());
  }

  void begin_lags(const Block& block) {
    for (auto& moves : moves_) moves.clear();
    for (const Move& move : block.moves) moves_[static_cast<std::size_t>(move.rail)].push_back(&move);
    for (std::size_t i = 0; i < lags_.size(); ++i) lags_[i].begin(moves_[i], clock_);
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
        switch_output(id, move.to.sign() > 0);
        break;
    }
  }

  void go_straight(Nanoseconds from, Nanoseconds to) {
    while (from < to) {
      close_contacts();
      const Nanoseconds next = from + std::min(to - from, time_to_turn());
      go_on(from, next);
      from = next;
    }
  }

  // What is done at the instant comes first: an output that is told to open as it closes stays open.
  void close_contacts() {
    for (std::size_t i = 0; i < switches_.size(); ++i) {
      if (switches_[i].close_if_due(Instant{clock_, 0})) doing_[i].since = Instant{clock_, 0};
    }
  }

  // Until an output closes or a lag changes its course.
  [[nodiscard]] Nanoseconds time_to_turn() const {
    Nanoseconds time = Nanoseconds::max();
    for (const OutputSwitch& output : switches_) {
      if (output.due()) time = std::min(time, output.due()->whole - clock_);
    }
    for (const SetpointLag& lag : lags_) {
      if (const std::optional<Nanoseconds> turn = lag.next_turn(clock_)) time = std::min(time, *turn - clock_);
    }
    return time;
  }

  void go_on(Nanoseconds from, Nanoseconds to) {
    for (std::size_t i = 0; i < states_.size(); ++i) {
      const Move* ramp = ramps_[i];
      if (ramp != nullptr && ramp->start + ramp->length <= from) ramp = nullptr;
      set_piece(i, ramp, from, to);
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
    const SetpointLag& lag = lags_[rail];
    piece.lag_from = lag.at(clock_);
    piece.lag_to = lag.at(clock_ + (to - from));
    piece.lag_is_certain = lag.is_certain();
  }

  // Shows the pieces, of this length, to every rule.
  void take_piece(Nanoseconds length) {
    if (length.count() == 0) {
      for (std::size_t i = 0; i < states_.size(); ++i) set_piece(i, nullptr, Nanoseconds{0}, Nanoseconds{0});
    }
    show_jumps();
    const double seconds = to_seconds(length).to_double();
    for (const auto& monitor : monitors_) {
      if (monitor->is_over()) continue;
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
      const Nanoseconds length = std::min(end - clock_, time_to_turn());
      for (std::size_t i = 0; i < states_.size(); ++i) set_piece(i, nullptr, Nanoseconds{0}, length);
      take_piece(length);
    }
    segment_start_ = clock_;
  }

  // ---- folding

  struct State {
    std::vector<RailState> rails;
    std::vector<bool> lines;
    std::vector<Rational> voltages;
    MonitorState monitors;
    std::vector<ContactState> contacts;
    std::vector<SetpointLag::State> lags;
    friend bool operator==(const State&, const State&) = default;
  };

  [[nodiscard]] State state(const TimelineCursor& cursor) const {
    State state{cursor.rails(), cursor.lines(), last_voltage_, {}, contacts(), lag_states()};
    const Instant now{clock_, 0};
    for (const auto& monitor : monitors_) monitor->add_state(now, state.monitors);
    return state;
  }

  [[nodiscard]] std::vector<ContactState> contacts() const {
    std::vector<ContactState> contacts;
    for (const OutputSwitch& output : switches_) contacts.push_back(output.state(Instant{clock_, 0}));
    return contacts;
  }

  [[nodiscard]] std::vector<SetpointLag::State> lag_states() const {
    std::vector<SetpointLag::State> states;
    for (const SetpointLag& lag : lags_) states.push_back(lag.state(clock_));
    return states;
  }

  struct PassEnd {
    Nanoseconds at{0};
    std::vector<ContactState> contacts;
    std::vector<SetpointLag::State> lags;
  };
  [[nodiscard]] PassEnd pass_end() const { return {clock_, contacts(), lag_states()}; }

  void end_pass(const TimelinePassEnded& pass, TimelineCursor& cursor) {
    const PassEnd before = pass_ends_.try_emplace(pass.loop, pass_end()).first->second;
    const Nanoseconds began = before.at;
    pass_ends_[pass.loop] = pass_end();
    if (pass.remaining == 0) return;
    std::int64_t skipped = folder_.passes_to_skip(pass.loop, pass.pass, pass.remaining, state(cursor));
    for (std::size_t i = 0; i < switches_.size(); ++i) {
      skipped = passes_before_closing(before.contacts[i], contacts()[i], skipped);
    }
    for (std::size_t i = 0; i < lags_.size(); ++i) {
      skipped = passes_before_turn(before.lags[i], lags_[i].state(clock_), skipped);
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
    for (std::size_t i = 0; i < lags_.size(); ++i) {
      if (!lags_[i].state(clock_).goes_on_from(before.lags[i])) lags_[i].put_off(added.whole);
    }
    if (segment_start_ == clock_) segment_start_ += added.whole;
    clock_ += added.whole;
    pass_ends_[pass.loop] = pass_end();
  }

  const Table& table_;
  std::vector<OutputSwitch> switches_;
  std::vector<std::unique_ptr<Monitor>> monitors_;
  std::vector<std::optional<Accuracy<Volts>>> accuracies_;
  std::vector<SetpointLag> lags_;
  std::vector<RailState> states_;
  std::vector<SetpointPiece> pieces_;
  std::vector<Rational> last_voltage_;           // where each rail's last piece ended
  std::vector<const Move*> ramps_;               // that the rails are on, or were before in the block
  std::vector<std::vector<const Move*>> moves_;  // of the block, by rail
  std::vector<RailDoing> doing_;
  Nanoseconds clock_{0};  // through all segments
  Nanoseconds segment_start_{0};
  Passes passes_;
  PassFolder<State> folder_;
  std::map<LoopId, PassEnd> pass_ends_;
  std::vector<Stand> stands_;
  std::int64_t cuts_ = 0;
  std::int64_t switched_on_ = 0;  // the cuts at which an output was told to close last
  const std::vector<Stand>* known_ = nullptr;
  bool joined_ = false;
};

}  // namespace

std::vector<RuleResult> rules::judge_at(const Table& run, const SwitchPositions& positions, bool with_errors) {
  const std::vector<RulePlan> plans = plan_rules(run);
  return SetpointJudge(run, plans, positions, with_errors).judge();
}

namespace {

bool is_no_worse(const RuleResult& other, const RuleResult& result) {
  return !rules::is_worse(other, result);
}

}  // namespace

std::vector<RuleResult> judge_rules(const Table& run) {
  const SwitchPositions middle(run.bench().supplies.size());
  const std::vector<RulePlan> plans = rules::plan_rules(run);
  SetpointJudge plain(run, plans, middle, true);
  std::vector<RuleResult> results = plain.judge();
  for (const SwitchPositions& positions : rules::switch_ends(run, RuleSide::Setpoints)) {
    SetpointJudge judge(run, plans, positions, true);
    const std::vector<RuleResult> others = judge.judge(&plain.stands());
    // Of what comes after they have joined, the plain walk has met all.
    if (judge.joined() && std::equal(others.begin(), others.end(), results.begin(), is_no_worse)) continue;
    rules::keep_worse(results, judge.joined() ? rules::judge_at(run, positions, true) : others, positions);
  }
  return results;
}

}  // namespace rampart
