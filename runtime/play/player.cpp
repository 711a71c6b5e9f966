#include "runtime/play/player.h"

#include <algorithm>
#include <utility>

#include "runtime/play/load_clock.h"

namespace rampart {
namespace {

const Instant kNever{Nanoseconds::max(), 0};

}  // namespace

Player::Player(const Table& table, const Table* safe, const Load& load, const Incidents& incidents, CourseSink* sink,
               const Job& job)
    : run_{TablePlace(table, safe), Rig(table, load, incidents.deviations, incidents.rules)},
      ahead_(table),
      incidents_(incidents),
      pulses_(run_.rig.rails()),
      budget_(&job),
      sink_(sink) {
  log_.segment_starts.push_back(run_.place.base);
}

Player::Player(const Player& at, const Incidents& incidents, const Job* job)
    : run_{at.run_.place, at.run_.rig.fork()},
      ahead_(at.ahead_),
      passes_(at.passes_),
      incidents_(incidents),
      pulses_(at.pulses_),
      budget_(at.budget_.of(job)),
      items_(at.items_),
      log_(at.log_) {}

Player::Player(Run run, LoopId trial_of, const WorkBudget& budget)
    : run_(std::move(run)), ahead_(*run_.place.table), budget_(budget), trial_(Trial{trial_of, {}}) {}

Simulation Player::play() {
  while (const std::optional<TableItem> item = stopped_ ? std::nullopt : next_item()) {
    take(*item);
    if (noted_ != nullptr) noted_->milestones.note(++items_, run_.rig, run_.place.now);
  }
  if (!finished_) finish();
  Simulation result;
  result.duration_s = run_.place.now.seconds();
  run_.rig.add_to(result);
  incidents_.add_to(result);
  result.folded = folds_.answer();
  result.awaited = std::move(log_.awaited);
  result.safe_played = run_.place.safe_playing;
  result.first_marks = std::move(log_.first_marks);
  result.segment_starts = std::move(log_.segment_starts);
  result.cut_short = std::move(log_.cut_short);
  return result;
}

JudgedRun Player::judge(const Milestones& known) {
  Milestones::Comparison comparison(known);
  bool joined = false;
  while (const std::optional<TableItem> item = stopped_ || joined ? std::nullopt : next_item()) {
    take(*item);
    joined = comparison.meets(++items_, run_.rig, run_.place.now);
  }
  if (!joined && !finished_) finish();
  return {run_.rig.rules().results(), joined};
}

std::optional<PassEnded> Player::play_passes(std::int64_t passes) {
  while (const std::optional<TableItem> item = next_item()) {
    take(*item);
    if (run_.rig.trips() != 0 || stopped_) return std::nullopt;
    const auto* ended = std::get_if<PassEnded>(&*item);
    if (ended != nullptr && ended->loop == trial_->loop && --passes == 0) return *ended;
  }
  return std::nullopt;
}

std::optional<TableItem> Player::next_item() {
  std::optional<ItemsAhead::Item> item = ahead_.take(run_.place.cursor);
  if (!item) return std::nullopt;
  passes_ = std::move(item->passes);
  return std::move(item->what);
}

// What watches the run sees each stretch of it in the passes to which it belongs.
void Player::begin_passes() {
  if (run_.place.passes == *passes_) return;
  run_.rig.follow(run_.place.now, run_.place.passes);
  run_.place.passes = *passes_;
}

void Player::take(const TableItem& item) {
  std::visit([this](const auto& one) { take(one); }, item);
}

void Player::take(const Row& row) {
  if (!go_to(row.time)) return;
  begin_passes();
  if (!incidents_.replaces(row.channel, run_.place.now)) run_.rig.take(row, run_.place.base, present());
}

void Player::take(const LineRow& row) {
  if (!go_to(row.time)) return;
  begin_passes();
  run_.rig.set_line(row.line, row.high, run_.place.now, {row.statement, run_.place.passes});
}

void Player::take(const MarkReached& mark) {
  if (!go_to(mark.time)) return;
  run_.rig.meet(present());
  begin_passes();
  Event event;
  event.time_s = run_.place.now.seconds();
  event.kind = EventKind::Mark;
  event.statement = mark.statement;
  event.passes = run_.place.passes;
  event.mark = std::string(mark.name);
  run_.rig.events().add(std::move(event));
  note_first(mark);
  run_.rig.read_mark(mark.name, run_.place.now);
  run_.rig.rules().mark(mark.name, run_.place.now, run_.place.passes);
  if (noted_ != nullptr && noted_->marks.wants(mark.name) && can_be_continued()) {
    noted_->marks.keep(mark.name, std::make_shared<const Player>(*this, Incidents{}, nullptr));
  }
}

// Behind added passes it does not: a run with an incident ahead adds other ones.
bool Player::can_be_continued() const {
  return run_.place.passes.empty() && !run_.place.safe_playing && !folds_.have_added();
}

void Player::take(const MeasurementDue& due) {
  if (!go_to(due.time)) return;
  run_.rig.meet(present());
  begin_passes();
  folds_.note_reading(run_.place.now.plus(-due.measurement->over));
  run_.rig.read(due, run_.place.now, run_.place.passes);
}

void Player::note_first(const MarkReached& mark) {
  if (log_.known_marks.emplace(mark.name).second)
    log_.first_marks.push_back({std::string(mark.name), run_.place.now, mark.statement});
}

void Player::take(const SegmentEnded& segment) {
  TablePlace& place = run_.place;
  if (!go_to(segment.time)) return;
  run_.rig.meet(present());
  ahead_.clear();
  if (segment.await == nullptr) {
    if (stand_at_end()) finish();
    return;
  }
  ++place.segments;
  run_.rig.apply_rows(place.now, place.passes);
  begin_passes();
  if (const std::optional<Nanoseconds> observed = incidents_.take_wait()) {
    const Instant start = place.now;
    if (!advance_to(start.plus(*observed))) return;
    Awaited wait;
    wait.time_s = start.seconds();
    wait.waited_s = place.now.since(start);
    wait.statement = segment.statement;
    wait.passes = place.passes;
    log_.awaited.push_back(std::move(wait));
    begin_segment(place.now);
    return;
  }
  const Await& await = *segment.await;
  if (!await.assume) {
    if (const auto* measured = std::get_if<AwaitCondition>(&await.what)) {
      wait_for(measured->condition, await.within, segment.statement);
      return;
    }
  }
  const Instant next = place.base.plus(segment.time + await.assume.value_or(await.within));
  if (!advance_to(next)) return;
  begin_segment(next);
}

// The last row stands after the end: what it does at once is seen, and what comes of it later is not.
bool Player::stand_at_end() {
  constexpr double kMoment = 2 * kShortestStep;
  TablePlace& place = run_.place;
  Rig& rig = run_.rig;
  const std::vector<RailState>& rails = place.cursor.setpoints();
  const bool stays_on =
      std::any_of(rails.begin(), rails.end(), [](const RailState& rail) { return rail.known.output && rail.on; });
  if (!stays_on) return true;
  const Instant end = place.now;
  std::vector<circuit::Setting> before;
  for (const auto& rail : rig.rails()) before.push_back(rail->circuit().setting());
  rig.apply_rows(end, place.passes);
  bool sets = false;
  for (std::size_t i = 0; i < before.size(); ++i) {
    const circuit::Setting& now = rig.rails()[i]->circuit().setting();
    sets = sets || (now.on && !(now.voltage == before[i].voltage && now.limit == before[i].limit && before[i].on));
  }
  if (!sets) return true;
  begin_passes();
  target_ = stop_ = end.plus_seconds(kMoment);
  const std::int64_t trips = rig.trips();
  rig.plan(present(), *this);
  place.now = target_;
  rig.meet(present());
  place.now = end;
  return rig.trips() == trips || !play_safe();
}

void Player::take(const PassEnded& pass) {
  // Where passes put their rows on the grid in different ways, the last row of each is the common end.
  if (pass.unit == 1 && is_on_grid(pass.time) ? !go_to(pass.time) : !catch_up(pass)) return;
  run_.rig.meet(present());
  run_.rig.apply_rows(run_.place.now, run_.place.passes);
  begin_passes();
  if (trial_ && trial_->loop == pass.loop) return;
  folds_.note_walked(pass);
  if (sink_ != nullptr) sink_->split();
  // Each pass may have commands of its own.
  const bool may_fold = !incidents_.has_commanded();
  if (may_fold && !incidents_.has_waits() && folds_.add_by_phase(site(), pass)) return;
  if (!leave_unlike_passes(pass) && may_fold) folds_.add_alike(site(), pass);
}

// Behind a pass without a row the run would fall back further with each pass, and no two ends would be alike.
bool Player::catch_up(const PassEnded& pass) {
  const std::optional<Nanoseconds> grid = run_.place.cursor.common_grid();
  if (!grid) return true;
  const Nanoseconds begin = pass.time - pass.length;
  const bool has_row = run_.place.now.since(run_.place.base.plus(begin - begin % *grid)) >= 0;
  // No row of what follows comes before that.
  return has_row || go_to(pass.time - pass.time % *grid);
}

bool Player::is_on_grid(Nanoseconds time) const {
  for (const RailSetup& setup : run_.place.table->rails()) {
    const Nanoseconds grid = run_.place.table->bench().supply_of(setup.members.front()).timing.resolution;
    if (grid.count() > 0 && time % grid != Nanoseconds{0}) return false;
  }
  return true;
}

void Player::begin_segment(const Instant& at) {
  run_.place.base = at;
  if (run_.place.safe_playing || log_.segment_starts.size() >= kMaxSegmentStarts) return;
  log_.segment_starts.push_back(at);
}

void Player::wait_for(std::size_t condition, Nanoseconds within, const Span& statement) {
  const TablePlace& place = run_.place;
  const Instant start = place.now;
  waiting_.emplace(
      Waiting{ConditionWatch(place.table->profile().conditions[condition]), StepParts(run_.rig.rails().size()), false});
  const bool goes_on = advance_to(start.plus(within));
  const bool met = waiting_->met;
  const std::vector<Approach> nearest = waiting_->watch.nearest();
  waiting_.reset();
  if (!goes_on) return;
  Awaited& wait = log_.awaited.emplace_back();
  wait = {start.seconds(), place.now.since(start), !met, statement, place.passes, condition, {}};
  if (!met) wait.nearest = nearest;
  begin_segment(place.now);
  if (met || play_safe()) return;
  finish();
  stopped_ = true;
}

bool Player::play_safe() {
  TablePlace& place = run_.place;
  if (place.safe == nullptr || place.safe_playing) return false;
  place.safe_playing = true;
  run_.rig.meet(present());
  run_.rig.interrupt(place.now);
  ahead_.clear();
  incidents_.leave_commanded();
  place.table = place.safe;
  place.cursor = place.safe->rows();
  place.base = place.now;
  folds_.forget();
  return true;
}

bool Player::go_to(Nanoseconds time) {
  const Instant target = run_.place.base.plus(time);
  if (target.since(run_.place.now) <= kShortestStep) return true;
  run_.rig.apply_rows(run_.place.now, run_.place.passes);
  return advance_to(target);
}

bool Player::advance_to(const Instant& target) {
  TablePlace& place = run_.place;
  Rig& rig = run_.rig;
  pulses_.begin_way();
  while (true) {
    if (pulses_.have_changed(rig.rails())) {
      pulses_.read(rig.rails());
      folds_.forget_ends();
    }
    if (pulses_.is_due(place.now)) rig.meet(present());
    pulses_.follow(site(), target);
    if (target.since(place.now) <= kShortestStep) break;
    if (!take_incidents()) return false;
    target_ = target;
    stop_ = common_stop(target);
    const std::int64_t trips = rig.trips();
    rig.act_by_links(present());
    rig.plan(present(), *this);
    rig.follow_lines(place.now, place.passes);
    if (rig.trips() != trips) {
      folds_.forget_phases();
      if (play_safe()) return false;
    }
    Instant next = target;
    for (const std::optional<Instant>& one :
         {pulses_.next_check(), incidents_.next(), rig.next_link(), rig.next_end()}) {
      if (one && one->since(next) < 0) next = *one;
    }
    go_on(next);
    if (waiting_ && waiting_->met) return true;
    if (budget_.is_spent()) {
      cut_short(rig.rails().front()->doing().statement, 0);
      return false;
    }
  }
  place.now = target;
  return true;
}

bool Player::take_incidents() {
  const TablePlace& place = run_.place;
  if (incidents_.fault_is_due(place.now)) {
    run_.rig.meet(present());
    incidents_.inject(run_.rig, place.now);
    pulses_.read(run_.rig.rails());
    pulses_.begin_way();
    folds_.forget();
  }
  if (incidents_.cut_off_is_due(place.now)) {
    incidents_.cut_off(run_.rig, place.now);
    folds_.forget();
    if (play_safe()) return false;
  }
  bool is_commanded = false;
  while (const Row* row = incidents_.take_commanded(place.now)) {
    run_.rig.take(*row, place.now, present());
    is_commanded = true;
  }
  if (is_commanded) run_.rig.apply_rows(place.now, place.passes);
  if (!incidents_.assertion_is_due(place.now)) return true;
  run_.rig.meet(present());
  incidents_.assert_line(place.table->profile(), run_.rig, place.now, place.passes);
  folds_.forget();
  return !play_safe();
}

Instant Player::common_stop(const Instant& target) const {
  Instant stop = sink_ != nullptr ? run_.rig.corner_before(target, run_.place.now) : kNever;
  for (const std::optional<Instant>& one : {pulses_.next_check(), incidents_.next()}) {
    if (one && one->since(stop) < 0) stop = *one;
  }
  return stop;
}

RailRun::Stops Player::of(std::size_t rail) const {
  if (sink_ != nullptr) return {target_, stop_};
  const std::optional<Nanoseconds> next = ahead_.next_of(rail);
  const Instant row = next ? run_.place.base.plus(*next) : target_;
  return {row, stop_.since(row) < 0 ? stop_ : row};
}

void Player::go_on(const Instant& next) {
  TablePlace& place = run_.place;
  const std::optional<double> met = waiting_ ? met_before(next) : std::nullopt;
  if (met) {
    place.now = place.now.plus_seconds(*met);
    waiting_->met = true;
  } else if (next.since(place.now) > 0) {
    place.now = next;
  }
  if (met || sink_ != nullptr) {
    run_.rig.meet(present());
  } else {
    run_.rig.go_to(present());
  }
}

std::optional<double> Player::met_before(const Instant& next) {
  const Instant& now = run_.place.now;
  const double length = next.since(now);
  if (length <= kShortestStep) return std::nullopt;
  const Rails& rails = run_.rig.rails();
  std::vector<RailSignals> signals;
  for (std::size_t i = 0; i < rails.size(); ++i) {
    signals.push_back({&waiting_->parts.of(i, rails[i]->group(), now, next),
                       run_.place.table->profile()[rails[i]->id()].reversed ? -1.0 : 1.0});
  }
  const std::optional<double> met = waiting_->watch.first_true(signals);
  if (met) return *met * length;
  waiting_->watch.follow(signals, now.seconds(), length);
  return std::nullopt;
}

void Player::take_step(std::size_t index, const RailRun& rail) {
  const TablePlace& place = run_.place;
  budget_.take_step(rail, *place.table, place.now, place.safe_playing);
  const Instant& begins = rail.group().begins();
  const double length = rail.circuit().piece().length;
  if (sink_ != nullptr) {
    if (run_.rig.events().count() != events_recorded_) sink_->keep();
    events_recorded_ = run_.rig.events().count();
    sink_->take(index, rail, place.table->profile().rails[index].reversed ? -1.0 : 1.0, begins, length);
  }
  if (!trial_) return;
  trial_->trace.rails.push_back(index);
  trial_->trace.lengths.push_back(length);
  trial_->trace.ways.push_back(rail.way());
}

bool Player::leave_unlike_passes(const PassEnded& pass) {
  if (!budget_.is_spent_by(pass, unlike_passes(pass, pulses_.period()))) return false;
  if (trial_ || sink_ != nullptr || folds_.may_add_by_phase(site(), pass)) return false;
  cut_short(pass.statement, pass.pass + pass.remaining);
  return true;
}

void Player::cut_short(const Span& statement, std::int64_t unlike_passes) {
  const TablePlace& place = run_.place;
  log_.cut_short = CutShort{place.now.seconds(), budget_.steps(), unlike_passes, statement, place.passes};
  finish();
  stopped_ = true;
}

void Player::finish() {
  run_.rig.finish(present());
  finished_ = true;
}

}  // namespace rampart
