#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "compiler/table/rail_motion.h"
#include "compiler/table/rail_output.h"
#include "compiler/table/row_queue.h"
#include "compiler/table/staircase.h"
#include "lang/findings/limits.h"

// Whether changes are far enough apart, judged on the exact times of the timeline and not on the rows. A supply's grid
// divides its minimum step, so what is that far apart exactly is so on the grid too, in whatever phase a pass begins:
// one pass of a loop, its seams and what follows it speak for all of them.
//
// The stairs of a ramp need no look: they are a minimum step apart or more, and only a piece with room for a step has
// any. What counts is the instants at which pieces meet.
namespace rampart::checks {
namespace {

// A setting that a supply has to take: a change of a channel, or on a `linear` supply any point.
struct Setting {
  Nanoseconds time{0};  // from the start of the segment
  Span statement;
  bool jumps = false;  // on a `linear` supply: the output arrives one minimum step later, at a point of its own
};

// A channel, as it was set last.
struct Member {
  MemberCounts counts;
  bool on = false;
  KnownSetpoints known;
  std::optional<Setting> setting;
};

// All that happens to a rail at one instant makes one setting: from what was there before the first statement to what
// is there after the last.
struct Pending {
  RailInstant instant;
  const Statement* switches_on = nullptr;  // the output
  Rational limit_at_on;                    // A, as the statements before that one have it
  std::int64_t pass = 0;
};

// A setting that comes sooner after the one before than the supply can take it.
struct TooSoon {
  const Statement* at = nullptr;
  Span before;
  bool after_jump = false;
  Nanoseconds between{0};
  std::int64_t pass = 0;
};

// Follows one rail through a segment.
class RailSpacing {
 public:
  RailSpacing(const Table& table, RailId rail)
      : output_(table, rail), members_(linear() ? 1 : output_.members().size()) {}

  void begin_segment(const RailState& state) {
    pending_.reset();
    output_.set(state.voltage, state.limit, counts_);
    for (std::size_t i = 0; i < members_.size(); ++i) {
      members_[i] = {counts_[i], state.on, state.known, std::nullopt};
      if (state.known.any()) members_[i].setting = Setting{};
    }
  }

  // The rail's moves of one block; `state` is where the rail stands before it.
  template <class Report>
  void take(const std::vector<const Move*>& moves, Nanoseconds start, RailState state, std::int64_t pass,
            Report&& report) {
    Rational limit = state.limit;
    std::size_t started = 0;
    find_instants(moves, start, state, instants_);
    for (std::size_t i = 0; i < instants_.size(); ++i) {
      const RailInstant& instant = instants_[i];
      if (!pending_ || pending_->instant.time != instant.time) {
        settle(report);
        if (i > 0) pass_stairs(instants_[i - 1], instant);
        pending_ = Pending{instant, nullptr, {}, pass};
      } else {
        pending_->instant.after = instant.after;
        pending_->instant.statement = instant.statement;
        pending_->pass = pass;
      }
      for (; started < moves.size() && start + moves[started]->start <= instant.time; ++started) {
        const Move& move = *moves[started];
        if (move.kind == MoveKind::Limit) limit = move.to;
        if (move.kind != MoveKind::Output || move.from == move.to || move.to.sign() == 0) continue;
        pending_->switches_on = move.statement;
        pending_->limit_at_on = limit;
      }
    }
  }

  // What is pending from before `now` is complete.
  template <class Report>
  void settle_before(Nanoseconds now, Report&& report) {
    if (pending_ && pending_->instant.time < now) settle(report);
  }
  template <class Report>
  void settle(Report&& report) {
    if (!pending_) return;
    const Pending done = *pending_;
    pending_.reset();
    if (done.switches_on != nullptr && done.instant.after.on && lacks_limit(done)) report(done);
    for (std::size_t i = 0; i < members_.size(); ++i) {
      if (is_setting(done.instant, i)) set(members_[i], done, report);
    }
  }

  // What the coming passes depend on: settings of this pass, which began at `began`, count from its end.
  void append_state(Nanoseconds began, Nanoseconds now, StateKey& state) const {
    state.add(std::int64_t{pending_.has_value()});
    if (pending_) {
      state.add(pending_->instant.voltage_before);
      state.add(pending_->instant.limit_before);
    }
    for (const Member& member : members_) {
      if (pending_) state.add(member.counts.voltage);
      if (pending_) state.add(member.counts.current);
      const bool in_pass = member.setting && member.setting->time >= began;
      state.add(in_pass ? (now - member.setting->time).count() : std::int64_t{-1});
      state.add(std::int64_t{in_pass && member.setting->jumps});
    }
  }
  // Passes like the last, which began at `began`, were left out.
  void skip(Nanoseconds began, Nanoseconds by) {
    if (pending_) pending_->instant.time += by;
    for (Member& member : members_) {
      if (member.setting && member.setting->time >= began) member.setting->time += by;
    }
  }

 private:
  [[nodiscard]] bool linear() const { return output_.grid().interpolation == Interpolation::Linear; }

  // A row of a `linear` supply stands where the jump begins, except at the start of a segment.
  [[nodiscard]] bool begins_before(const RailInstant& instant) const {
    return linear() && instant.time > Nanoseconds{0};
  }

  // The output goes on at 0 A although the text has set a limit. One that was never set, or that is none on this
  // supply, is found elsewhere.
  bool lacks_limit(const Pending& done) {
    const RailInstant& instant = done.instant;
    const bool before = begins_before(instant) && instant.known_before.limit;
    return instant.after.known.limit && !is_none(done.limit_at_on) &&
           is_none(before ? instant.limit_before : instant.after.limit);
  }
  bool is_none(const Rational& limit) {
    output_.set(Rational(0), limit, counts_);
    return std::any_of(counts_.begin(), counts_.end(), [](const MemberCounts& member) { return member.current == 0; });
  }

  // Whether the row of this instant is one, and remembers it.
  bool is_setting(const RailInstant& instant, std::size_t index) {
    Member& member = members_[index];
    output_.set(instant.after.voltage, instant.after.limit, counts_);
    const MemberCounts& counts = counts_[index];
    const bool differs = counts.voltage != member.counts.voltage || counts.current != member.counts.current ||
                         instant.after.on != member.on || instant.after.known != member.known;
    member.counts = counts;
    member.on = instant.after.on;
    member.known = instant.after.known;
    return linear() || differs;
  }

  template <class Report>
  void set(Member& member, const Pending& done, Report&& report) {
    const RailInstant& instant = done.instant;
    const Nanoseconds minimum = output_.grid().minimum_step;
    if (member.setting && member.setting->time != instant.time) {
      Nanoseconds between = instant.time - member.setting->time;
      const bool after_jump = member.setting->jumps && between > minimum;
      if (after_jump) between -= minimum;
      if (between < minimum) {
        report(TooSoon{instant.statement, member.setting->statement, after_jump, between, done.pass});
      }
    }
    const bool voltage_jumps = instant.known_before.voltage && instant.voltage_before != instant.after.voltage;
    const bool limit_jumps = instant.known_before.limit && instant.limit_before != instant.after.limit;
    member.setting =
        Setting{instant.time, instant.statement->span, begins_before(instant) && (voltage_jumps || limit_jumps)};
  }

  // On a `hold` supply the channels stand on the last stair when the end of a ramp comes.
  void pass_stairs(const RailInstant& from, const RailInstant& to) {
    if (linear()) return;
    const std::int64_t stairs = stair_count(output_, from, to);
    if (stairs < 2) return;
    const RailState last = on_stair(from, to, stairs - 1, stairs);
    output_.set(last.voltage, last.limit, counts_);
    for (std::size_t i = 0; i < members_.size(); ++i) members_[i].counts = counts_[i];
  }

  RailOutput output_;
  std::vector<Member> members_;  // one for all on a `linear` supply, where every point counts
  std::optional<Pending> pending_;
  std::vector<RailInstant> instants_;
  std::vector<MemberCounts> counts_;
};

class SpacingCheck {
 public:
  explicit SpacingCheck(const Context& context) : context_(context), moves_(context.run.rails().size()) {
    for (const RailSetup& setup : context.run.rails()) rails_.emplace_back(context.run, setup.rail);
  }

  void walk(const Timeline& timeline) {
    states_ = timeline.initial();
    begin_segment();
    walk_folded(
        timeline, [this](const TimelineItem& item, const TimelineCursor& cursor) { take(item, cursor); }, *this);
  }

  // For the walk: what the coming passes depend on.
  [[nodiscard]] StateKey at_end(const TimelinePassEnded& pass, const TimelineCursor&) {
    StateKey state;
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      rails_[i].settle_before(pass.time, reporter(i));
      rails_[i].append_state(start_of(pass), pass.time, state);
    }
    return state;
  }
  void skipped(const TimelinePassEnded& pass, Nanoseconds by) {
    for (RailSpacing& rail : rails_) rail.skip(start_of(pass), by);
  }

  void report() const {
    worst_.report([this](const Occurrence& found) { report_too_soon(found); });
    on_without_limit_.report([this](const Occurrence& found) { report_on_without_limit(found); });
  }

 private:
  // A pass that holds a wait has its last segment's settings from within it.
  static Nanoseconds start_of(const TimelinePassEnded& pass) {
    return pass.segments ? Nanoseconds{0} : pass.time - pass.length;
  }

  // What a rail reports goes to the right list.
  struct Reporter {
    SpacingCheck& check;
    RailId rail;
    void operator()(const TooSoon& found) const { check.meet(rail, found); }
    void operator()(const Pending& found) const {
      check.on_without_limit_.meet({rail, found.switches_on->span, found.switches_on, found.pass, 0, 0});
    }
  };
  Reporter reporter(std::size_t rail) { return {*this, RailId{static_cast<std::uint32_t>(rail)}}; }

  void begin_segment() {
    for (std::size_t i = 0; i < rails_.size(); ++i) rails_[i].begin_segment(states_[i]);
  }

  void take(const TimelineItem& item, const TimelineCursor& cursor) {
    if (const auto* const* block = std::get_if<const Block*>(&item)) {
      take(**block, cursor);
    } else if (std::holds_alternative<TimelineSegmentEnded>(item)) {
      for (std::size_t i = 0; i < rails_.size(); ++i) rails_[i].settle(reporter(i));
      begin_segment();
    }
  }

  void take(const Block& block, const TimelineCursor& cursor) {
    for (const Move& move : block.moves) {
      const auto rail = static_cast<std::size_t>(move.rail);
      if (moves_[rail].empty()) moved_.push_back(rail);
      moves_[rail].push_back(&move);
      find_short_ramp(move, pass_of(cursor));
    }
    for (const std::size_t rail : moved_) {
      rails_[rail].take(moves_[rail], block.start, states_[rail], pass_of(cursor), reporter(rail));
      states_[rail] = cursor.rails()[rail];
      moves_[rail].clear();
    }
    moved_.clear();
  }

  static std::int64_t pass_of(const TimelineCursor& cursor) {
    return cursor.passes().empty() ? 0 : cursor.passes().back();
  }

  // A ramp shorter than one step makes a single row, which can be far from its neighbours.
  void find_short_ramp(const Move& move, std::int64_t pass) {
    if (move.length.count() == 0 || move.length >= context_.of(move.rail).timing.minimum_step) return;
    if (move.from == move.to) return;
    meet(move.rail, {move.statement, move.statement->span, false, move.length, pass});
  }

  void meet(RailId rail, const TooSoon& found) {
    const Span& place = found.at->span;
    worst_.meet({rail, place, found.at, found.pass, to_seconds(found.between), -to_seconds(found.between)});
    TooSoon& kept = too_soon_.try_emplace({place.file, place.begin, place.end, rail}, found).first->second;
    if (found.between < kept.between) kept = found;
  }

  void report_too_soon(const Occurrence& found) const {
    const TooSoon& what = too_soon_.at({found.place.file, found.place.begin, found.place.end, found.rail});
    const Abilities& abilities = context_.of(found.rail);
    auto addition =
        context_.report(finding::StepTooShort, found.place, found.statement, context_.profile[found.rail].name,
                        what.between, pass_text(what.pass), abilities.timing.minimum_step, abilities.name);
    const bool has_place = what.before.end > what.before.begin;
    const bool is_ramp = what.before == found.place && std::holds_alternative<Ramp>(what.at->what);
    if (has_place && what.before != found.place) addition.note(finding::LastChangeHere, what.before);
    addition.note(finding::TimingGivenHere, abilities.timing.span);
    const std::string least = to_text(abilities.timing.minimum_step);
    if (what.after_jump) {
      addition.hint("a step takes " + least + " to arrive: make the next change exactly then, or at least " + least +
                    " later");
    } else {
      addition.hint(is_ramp ? "make the ramp take " + least + " or more"
                            : "leave " + least + " or more between changes");
    }
  }

  void report_on_without_limit(const Occurrence& found) const {
    const Abilities& abilities = context_.of(found.rail);
    const std::string& name = context_.profile[found.rail].name;
    auto addition = context_.report(finding::OnBeforeLimit, found.place, found.statement, name, pass_text(found.pass));
    const std::string least = to_text(abilities.timing.minimum_step);
    addition.note(finding::TimingGivenHere, abilities.timing.span);
    addition.hint(abilities.timing.interpolation == Interpolation::Linear
                      ? "`" + abilities.name + "` takes " + least + " to reach a limit: `dwell " + least +
                            "` before `on " + name + "`, or set the limit where the run begins"
                      : "set a limit at once before `on " + name + "`, and ramp from there");
  }

  const Context& context_;
  std::vector<RailSpacing> rails_;
  std::vector<RailState> states_;                // before the block to come
  std::vector<std::vector<const Move*>> moves_;  // of one block, by rail
  std::vector<std::size_t> moved_;               // rails that have some
  WorstOccurrences worst_;
  std::map<std::tuple<FileId, std::uint32_t, std::uint32_t, RailId>, TooSoon> too_soon_;
  WorstOccurrences on_without_limit_;
};

}  // namespace

void check_spacing(const Context& context) {
  SpacingCheck check(context);
  for (const Table* table : context.tables()) check.walk(table->timeline());
  check.report();
}

}  // namespace rampart::checks
