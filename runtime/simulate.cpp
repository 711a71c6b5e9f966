#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <memory>

#include "lang/overloaded.h"
#include "runtime/assumed.h"
#include "runtime/condition_watch.h"
#include "runtime/fold.h"
#include "runtime/line_levels.h"
#include "runtime/load_clock.h"
#include "runtime/rail_run.h"
#include "runtime/rule_watch.h"
#include "runtime/simulation.h"
#include "runtime/total_power.h"
#include "runtime/waveform/recorder.h"

namespace rampart {
namespace {

// Steps shorter than this are not taken: both ends are one instant.
constexpr double kShortestStep = 1e-15;
// Time without rows that is worth looking for alike periods of the loads' pulses.
constexpr double kFewestPeriods = 3;

// Steps from one word on progress to the next.
constexpr std::int64_t kStepsBetween = 256;

// Plays a table's items in order and leads the rails from one to the next.
class Player {
 public:
  Player(const Table& table, const Table* safe, const Load& load, const Incidents& incidents, WaveRecorder* recorder,
         const Progress& progress)
      : table_(&table),
        safe_(safe),
        cursor_(table),
        rules_(table),
        supply_powers_(table),
        fault_(incidents.fault ? &*incidents.fault : nullptr),
        assertion_(incidents.assertion ? &*incidents.assertion : nullptr),
        lines_(table.profile(), events_),
        recorder_(recorder),
        progress_(progress) {
    for (std::size_t i = 0; i < table.rails().size(); ++i) {
      const RailSetup& setup = table.rails()[i];
      const RailLoad* rail = load.find_rail(table.profile()[setup.rail].name);
      const RailDeviation deviation = incidents.deviations.empty() ? RailDeviation{} : incidents.deviations[i];
      rails_.push_back(std::make_unique<RailRun>(table, setup, rail, deviation, events_));
    }
    rows_came_.assign(rails_.size(), false);
    read_clocks();
  }

  Simulation run() {
    segment_starts_.push_back(base_);
    while (std::optional<TableItem> item = stopped_ ? std::nullopt : cursor_.next()) {
      std::visit(Overloaded{
                     [this](const Row& row) { take(row); },
                     [this](const MarkReached& mark) { reach(mark); },
                     [this](const PassEnded& pass) { end_pass(pass); },
                     [this](const SegmentEnded& segment) { end_segment(segment); },
                     [this](const LineRow& row) { take(row); },
                 },
                 *item);
    }
    return answer();
  }

 private:
  [[nodiscard]] Passes passes() const { return {cursor_.passes().begin(), cursor_.passes().end()}; }

  // ---- items of the table

  void take(const Row& row) {
    if (!go_to(row.time)) return;
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      const auto& members = table_->rails()[i].members;
      if (std::find(members.begin(), members.end(), row.channel) == members.end()) continue;
      rails_[i]->take(row, base_);
      rows_came_[i] = true;
    }
    passes_ = passes();
  }

  void take(const LineRow& row) {
    if (!go_to(row.time)) return;
    passes_ = passes();
    lines_.set(row.line, row.high, now_, {row.statement, passes_});
  }

  void reach(const MarkReached& mark) {
    if (!go_to(mark.time)) return;
    passes_ = passes();
    Event event;
    event.time_s = now_.seconds();
    event.kind = EventKind::Mark;
    event.statement = mark.statement;
    event.passes = passes_;
    event.mark = std::string(mark.name);
    events_.add(std::move(event));
    note_first(mark);
    // A mark reads what was until now; at the very start there is nothing before it.
    if (now_.whole.count() == 0 && now_.rest == 0) {
      first_marks_.emplace_back(mark.name);
      return;
    }
    for (const auto& rail : rails_) rail->read_mark(mark.name, now_);
  }

  void note_first(const MarkReached& mark) {
    const bool is_known = std::any_of(mark_times_.begin(), mark_times_.end(),
                                      [&](const MarkTime& known) { return known.mark == mark.name; });
    if (!is_known) mark_times_.push_back({std::string(mark.name), now_, mark.statement});
  }

  void end_segment(const SegmentEnded& segment) {
    if (!go_to(segment.time)) return;
    if (segment.await == nullptr) {
      finish();
      return;
    }
    ++segments_;
    apply_rows();
    passes_ = passes();
    const Await& await = *segment.await;
    if (!await.assume) {
      if (const auto* measured = std::get_if<AwaitCondition>(&await.what)) {
        wait_for(table_->profile().conditions[measured->condition], await.within, segment.statement);
        return;
      }
    }
    const Instant next = base_.plus(segment.time + await.assume.value_or(await.within));
    if (!advance_to(next)) return;
    begin_segment(next);
  }

  void begin_segment(const Instant& at) {
    base_ = at;
    if (!safe_playing_ && segment_starts_.size() < kMaxSegmentStarts) segment_starts_.push_back(at);
  }

  // Waits until the condition holds; a timeout goes to `safe`, or without one ends the run.
  void wait_for(const Condition& condition, Nanoseconds within, const Span& statement) {
    const Instant start = now_;
    const ConditionWatch watch(condition);
    watch_ = &watch;
    watch_met_ = false;
    const bool goes_on = advance_to(start.plus(within));
    watch_ = nullptr;
    if (!goes_on) return;
    awaited_.push_back({start.seconds(), now_.since(start), !watch_met_, statement, passes_});
    begin_segment(now_);
    if (watch_met_) return;
    if (safe_ != nullptr && !safe_playing_) {
      play_safe();
    } else {
      finish();
      stopped_ = true;
    }
  }

  void end_pass(const PassEnded& pass) {
    if (is_on_grid(pass.time) && !go_to(pass.time)) return;
    apply_rows();
    passes_ = passes();
    if (recorder_ != nullptr) recorder_->split();
    PassState state = state_at(pass);
    const auto known = pass_states_.find(pass.loop);
    if (known == pass_states_.end() || known->second.outer != state.outer || known->second.pass >= pass.pass) {
      pass_states_.insert_or_assign(pass.loop, std::move(state));
      return;
    }
    const std::int64_t walked = pass.pass - known->second.pass;
    if (walked == pass.unit) {
      known->second.units =
          phase_units(period_, Instant{now_.whole - known->second.time.whole, now_.rest - known->second.time.rest});
    }
    PassEnded unit = pass;
    unit.unit *= known->second.units;
    if (walked < unit.unit) return;
    if (walked == unit.unit && pass.remaining >= unit.unit && same_state(known->second, state)) {
      fold(unit, known->second, state);
      state = state_at(pass);
    }
    pass_states_.insert_or_assign(pass.loop, std::move(state));
  }

  // ---- folding

  [[nodiscard]] bool is_on_grid(Nanoseconds time) const {
    for (const RailSetup& setup : table_->rails()) {
      const Nanoseconds grid = table_->bench().supply_of(setup.members.front()).timing.resolution;
      if (grid.count() > 0 && time % grid != Nanoseconds{0}) return false;
    }
    return true;
  }

  [[nodiscard]] PassState state_at(const PassEnded& pass) const {
    PassState state = state_of(rails_, rules_, now_);
    state.pass = pass.pass;
    state.outer = passes_;
    if (!state.outer.empty()) state.outer.pop_back();
    state.to_pass_end = base_.whole + pass.time - now_.whole;
    state.segments = segments_;
    state.table = cursor_.state();
    return state;
  }

  // As often, up to `most`, as ends before something befalls the run.
  [[nodiscard]] std::int64_t times_to_add(std::int64_t most, const PassState& before, const PassState& after) const {
    const double length = after.time.since(before.time);
    std::int64_t times = most;
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      times = std::min(times, rails_[i]->safe_repeats(before.rails[i], length, most));
    }
    const std::optional<Instant> next = next_incident();
    if (!next || length <= 0) return times;
    const double whole = std::floor(next->since(now_) / length) - 1;
    return std::clamp(static_cast<std::int64_t>(std::min(whole, 1e18)), std::int64_t{0}, times);
  }

  // Adds as many units of passes as are left in one step.
  void fold(const PassEnded& pass, const PassState& before, const PassState& after) {
    const std::int64_t units = times_to_add(pass.remaining / pass.unit, before, after);
    if (units == 0) return;
    const std::int64_t count = units * pass.unit;
    const Instant added = repeat(rails_, rules_, before, after, units);
    if (recorder_ != nullptr) recorder_->repeat(before.time, after.time, units);
    cursor_.skip_passes(count);
    // Within one segment the table's own clock has moved; a pass of several segments starts each at 0.
    if (before.segments != after.segments) base_ = base_.plus(added);
    Event event;
    event.time_s = now_.seconds();
    event.kind = EventKind::Passes;
    event.statement = pass.statement;
    event.passes = passes_;
    event.count = count;
    now_ = now_.plus(added);
    event.to_s = now_.seconds();
    events_.add(std::move(event));
    add_folded(pass, count);
  }

  void add_folded(const PassEnded& pass, std::int64_t count) {
    for (FoldedLoop& loop : folded_) {
      if (loop.statement == pass.statement) {
        loop.added += count;
        return;
      }
    }
    folded_.push_back({pass.statement, pass.pass, count});
  }

  // ---- time

  // Goes to a time of the current segment. False where a trip has ended the table on the way.
  bool go_to(Nanoseconds time) {
    const Instant target = base_.plus(time);
    if (target.since(now_) <= kShortestStep) return true;
    apply_rows();
    return advance_to(target);
  }

  // Rows taken at the present instant come into effect.
  void apply_rows() {
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      if (rows_came_[i]) rails_[i]->apply(now_, passes_);
      if (rows_came_[i]) rules_.note_row(*rails_[i], now_);
      if (!rows_came_[i]) rails_[i]->settle_pending(now_);
      rows_came_[i] = false;
    }
    for (const std::string& mark : first_marks_) {
      for (const auto& rail : rails_) rail->read_mark(mark, now_);
    }
    first_marks_.clear();
  }

  bool advance_to(const Instant& target) {
    pulse_check_.reset();
    pulses_since_.reset();
    while (true) {
      follow_pulses(target);
      const double left = target.since(now_);
      if (left <= kShortestStep) break;
      if (fault_ != nullptr && fault_->at.since(now_) <= kShortestStep) inject();
      if (assertion_ != nullptr && assertion_->at.since(now_) <= kShortestStep && !assert_line()) return false;
      const std::int64_t trips = trips_;
      double step = left;
      Instant corner = target;
      for (const auto& rail : rails_) {
        const std::optional<Instant> own = rail->corner(now_);
        if (own && own->since(corner) < 0) corner = *own;
      }
      if (pulse_check_ && pulse_check_->since(corner) < 0) corner = *pulse_check_;
      const std::optional<Instant> incident = next_incident();
      if (incident && incident->since(corner) < 0) corner = *incident;
      step = std::min(step, corner.since(now_));
      const double planned = plan_all(step);
      lines_.follow(rails_, now_, passes_);
      if (trips_ != trips && safe_ != nullptr && !safe_playing_) {
        play_safe();
        return false;
      }
      for (const auto& rail : rails_) rail->cut(planned);
      if (watch_ != nullptr) {
        if (const std::optional<double> met = met_in_piece()) {
          if (*met * planned > kShortestStep) take_step(*met * planned);
          now_ = now_.plus_seconds(*met * planned);
          watch_met_ = true;
          return true;
        }
      }
      take_step(planned);
      now_ = planned >= step ? corner : now_.plus_seconds(planned);
      if (planned >= step && corner.since(target) < 0) turn_corners();
    }
    now_ = target;
    return true;
  }

  // Between two rows the loads pulse on by themselves: once all stands as it did a period ago, whole periods are added.
  void follow_pulses(const Instant& target) {
    if (period_ && clocks() != clocks_) read_clocks();
    if (!period_) {
      pulse_check_.reset();
      return;
    }
    if (pulse_check_ && pulse_check_->since(now_) > kShortestStep) return;
    const bool was_due = pulse_check_.has_value();
    pulse_check_.reset();
    const auto rests = [&](const auto& rail) { return rail->rests(now_); };
    const double periods = target.since(now_) / (1e-9 * static_cast<double>(period_->count()));
    if (periods < kFewestPeriods || !std::all_of(rails_.begin(), rails_.end(), rests)) return;
    if (!was_due) {
      // Away from the edges of pulses, which may well come with the rows.
      pulse_check_ = now_.plus(Nanoseconds{period_->count() / 8 * 3 + 1});
      return;
    }
    for (const auto& rail : rails_) rail->settle_pending(now_);
    if (recorder_ != nullptr) recorder_->split();
    PassState state = state_of(rails_, rules_, now_);
    if (pulses_since_ && same_state(pulses_since_->state, state)) add_periods(target, state);
    pulses_since_ = Pulsing{state_of(rails_, rules_, now_), events_.count()};
    pulse_check_ = now_.plus(*period_);
  }

  [[nodiscard]] std::int64_t clocks() const {
    return std::count_if(rails_.begin(), rails_.end(), [](const auto& rail) { return rail->has_clock(); });
  }

  void read_clocks() {
    period_ = common_period(rails_);
    pass_states_.clear();
    clocks_ = clocks();
  }

  void add_periods(const Instant& target, const PassState& state) {
    const double length = 1e-9 * static_cast<double>(period_->count());
    const auto most = static_cast<std::int64_t>(target.since(now_) / length) - 1;
    if (most <= 0) return;
    const std::int64_t times = times_to_add(most, pulses_since_->state, state);
    if (times == 0) return;
    if (recorder_ != nullptr) recorder_->repeat(pulses_since_->state.time, now_, times);
    events_.leave_out(times * (events_.count() - pulses_since_->events));
    now_ = now_.plus(repeat(rails_, rules_, pulses_since_->state, state, times));
  }

  [[nodiscard]] std::optional<Instant> next_incident() const {
    std::optional<Instant> next;
    if (fault_ != nullptr) next = fault_->at;
    if (assertion_ != nullptr && (!next || assertion_->at.since(*next) < 0)) next = assertion_->at;
    return next;
  }

  // An interlock acts. False where the table ends with it.
  bool assert_line() {
    const Line& line = table_->profile()[assertion_->line];
    lines_.set(assertion_->line, true, now_, {line.span, passes_});
    for (const RailId rail : line.rails) rails_[static_cast<std::size_t>(rail)]->cut_off(now_);
    asserted_ = true;
    assertion_ = nullptr;
    pass_states_.clear();
    lines_.follow(rails_, now_, passes_);
    if (safe_ == nullptr || safe_playing_) return true;
    play_safe();
    return false;
  }

  // The fault comes. Passes before and after it have nothing in common.
  void inject() {
    for (const auto& rail : rails_) {
      if (rail->id() != fault_->rail) continue;
      fault_record_ = FaultRecord{rail->id(), now_.seconds(), rail->sums().energy.value(), rail->sums().i2t.value()};
      rail->replace_load(fault_->becomes, now_);
    }
    read_clocks();
    pulse_check_.reset();
    pulses_since_.reset();
    fault_ = nullptr;
    pass_states_.clear();
  }

  // When, as a share of the planned step, the condition that is waited for holds.
  [[nodiscard]] std::optional<double> met_in_piece() const {
    std::vector<RailSignals> signals;
    for (const auto& rail : rails_) {
      signals.push_back({&rail->circuit().piece(), table_->profile()[rail->id()].reversed ? -1.0 : 1.0});
    }
    return watch_->first_true(signals);
  }

  void tell_progress() {
    const std::int64_t all = table_->timeline().duration().count();
    if (!progress_ || safe_playing_ || ++steps_ % kStepsBetween != 0 || now_.whole.count() >= all) return;
    progress_(static_cast<std::size_t>(now_.whole.count()), static_cast<std::size_t>(all));
  }

  void take_step(double length) {
    tell_progress();
    for (const auto& rail : rails_) rail->cut(length);
    if (recorder_ != nullptr) record(length);
    rules_.take(rails_, now_, length, passes_);
    for (const auto& rail : rails_) rail->advance(now_);
    raise_total_power(total_power_, rails_, now_, length, passes_);
    supply_powers_.take(rails_, now_, length, passes_);
  }

  // Whatever has happened until now is at a sample.
  void record(double length) {
    if (events_.count() != events_recorded_) recorder_->keep();
    events_recorded_ = events_.count();
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      recorder_->take(i, *rails_[i], table_->profile().rails[i].reversed ? -1.0 : 1.0, now_, length);
    }
  }

  // A straight run of a setpoint has ended: its slope jumps.
  void turn_corners() {
    for (const auto& rail : rails_) rail->turn_corner(now_);
  }

  // Plans every rail, lets protections act, and gives the length of the step that all can take.
  double plan_all(double longest) {
    // A trip changes what the others may do only by switching them off, so each rail trips at most once here.
    for (std::size_t guard = 0; guard <= rails_.size(); ++guard) {
      bool tripped = false;
      for (std::size_t i = 0; i < rails_.size(); ++i) {
        const std::optional<TripCause> cause = rails_[i]->plan(now_, longest);
        if (!cause) continue;
        trip(i, *cause);
        tripped = true;
      }
      if (!tripped) break;
    }
    double step = longest;
    for (const auto& rail : rails_) step = std::min(step, rail->quiet_time(now_));
    return step;
  }

  void trip(std::size_t index, TripCause cause) {
    rails_[index]->trip(cause, now_);
    ++trips_;
    const Protection& protection = table_->profile().rails[index].protection;
    if (!protection.fuse || cause == TripCause::Linked) return;
    for (const RailId linked : protection.fuse->linked) {
      const auto other = static_cast<std::size_t>(linked);
      if (!rails_[other]->tripped()) trip(other, TripCause::Linked);
    }
  }

  // The rest of the table does not happen; `safe` begins at the trip.
  void play_safe() {
    safe_playing_ = true;
    for (const auto& rail : rails_) rail->interrupt();
    table_ = safe_;
    cursor_ = safe_->rows();
    base_ = now_;
    pass_states_.clear();
    rows_came_.assign(rails_.size(), false);
  }

  // ---- the answer

  void finish() {
    for (const auto& rail : rails_) rail->finish(now_);
    // What is switched at the very end is told, though nothing comes of it.
    apply_rows();
    lines_.follow(rails_, now_, passes_);
    rules_.finish(now_, {});
    finished_ = true;
  }

  Simulation answer() {
    if (!finished_) finish();
    Simulation result;
    result.duration_s = now_.seconds();
    double total = 0;
    for (const auto& rail : rails_) {
      result.rails.push_back(rail->figures());
      total += result.rails.back().energy_J;
      rail->add_margins(result.margins);
      result.chatter.insert(result.chatter.end(), rail->chatter().begin(), rail->chatter().end());
    }
    supply_powers_.add_margins(result.margins);
    result.total_energy_J = total;
    result.rules = rules_.results();
    result.total_power_W = total_power_;
    result.events_left_out = events_.left_out();
    result.events = events_.take();
    result.folded = folded_;
    result.awaited = std::move(awaited_);
    result.safe_played = safe_playing_;
    result.first_marks = std::move(mark_times_);
    result.segment_starts = std::move(segment_starts_);
    result.fault = fault_record_;
    result.asserted = asserted_;
    return result;
  }

  const Table* table_;
  const Table* safe_;
  RowCursor cursor_;
  EventLog events_;
  std::vector<std::unique_ptr<RailRun>> rails_;
  RuleWatch rules_;
  std::vector<bool> rows_came_;
  std::vector<std::string> first_marks_;  // reached at 0, not read yet
  Instant base_;                          // start of the segment
  Instant now_;
  Passes passes_;
  std::int64_t segments_ = 0;
  std::int64_t trips_ = 0;
  std::map<LoopId, PassState> pass_states_;
  std::vector<FoldedLoop> folded_;
  std::optional<Nanoseconds> period_;  // of the loads' pulses
  std::int64_t clocks_ = 0;            // rails with such loads, as far as followed
  // A period of them that is being gone through between two rows.
  struct Pulsing {
    PassState state;
    std::int64_t events = 0;
  };
  std::optional<Pulsing> pulses_since_;
  std::optional<Instant> pulse_check_;  // when to look next
  Peak total_power_;
  SupplyPowers supply_powers_;
  std::vector<Awaited> awaited_;
  const ConditionWatch* watch_ = nullptr;  // what an `await` is waiting for
  bool watch_met_ = false;
  const Injection* fault_ = nullptr;  // until it has come
  std::optional<FaultRecord> fault_record_;
  const Assertion* assertion_ = nullptr;  // likewise
  bool asserted_ = false;
  LineLevels lines_;
  WaveRecorder* recorder_;
  const Progress& progress_;
  std::int64_t steps_ = 0;
  std::int64_t events_recorded_ = 0;
  std::vector<MarkTime> mark_times_;
  std::vector<Instant> segment_starts_;
  bool stopped_ = false;  // a wait has timed out
  bool safe_playing_ = false;
  bool finished_ = false;
};

}  // namespace

std::string_view event_kind_name(EventKind kind) {
  static constexpr std::array<std::string_view, 14> kNames = {
      "on",        "off",  "cc-enter", "cc-exit", "holding-enter", "holding-exit", "sink-enter",
      "sink-exit", "trip", "mark",     "passes",  "fault",         "line-high",    "line-low"};
  return kNames[static_cast<std::size_t>(kind)];
}

Simulation simulate(const Table& table, const Table* safe, const Load& load, const Incidents& incidents,
                    WaveRecorder* recorder, const Progress& progress) {
  Simulation result = Player(table, safe, load, incidents, recorder, progress).run();
  result.assumed = assumed_of(table, load);
  return result;
}

}  // namespace rampart
