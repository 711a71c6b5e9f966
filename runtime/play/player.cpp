#include "runtime/play/player.h"

#include <algorithm>

namespace rampart {

Player::Player(const Table& table, const Table* safe, const Load& load, const Incidents& incidents, CourseSink* sink,
               const Job& job)
    : run_{TablePlace(table, safe), Rig(table, load, incidents.deviations)},
      incidents_(incidents),
      pulses_(run_.rig.rails()),
      budget_(&job),
      sink_(sink) {}

Player::Player(Run run, LoopId trial_of) : run_(std::move(run)), budget_(nullptr), trial_(Trial{trial_of, {}}) {}

Simulation Player::play() {
  log_.segment_starts.push_back(run_.place.base);
  while (std::optional<TableItem> item = stopped_ ? std::nullopt : run_.place.cursor.next()) take(*item);
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

std::optional<PassEnded> Player::play_passes(std::int64_t passes) {
  while (std::optional<TableItem> item = run_.place.cursor.next()) {
    take(*item);
    if (run_.rig.trips() != 0 || stopped_) return std::nullopt;
    const auto* ended = std::get_if<PassEnded>(&*item);
    if (ended != nullptr && ended->loop == trial_->loop && --passes == 0) return *ended;
  }
  return std::nullopt;
}

void Player::take(const TableItem& item) {
  std::visit([this](const auto& one) { take(one); }, item);
}

void Player::take(const Row& row) {
  if (!go_to(row.time)) return;
  run_.rig.take(*run_.place.table, row, run_.place.base);
  run_.place.read_passes();
}

void Player::take(const LineRow& row) {
  if (!go_to(row.time)) return;
  run_.place.read_passes();
  run_.rig.set_line(row.line, row.high, run_.place.now, {row.statement, run_.place.passes});
}

void Player::take(const MarkReached& mark) {
  if (!go_to(mark.time)) return;
  run_.place.read_passes();
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
}

void Player::take(const MeasurementDue& due) {
  if (!go_to(due.time)) return;
  run_.place.read_passes();
  folds_.note_reading(run_.place.now.plus(-due.measurement->over));
  run_.rig.read(due, run_.place.now, run_.place.passes);
}

void Player::note_first(const MarkReached& mark) {
  const bool is_known = std::any_of(log_.first_marks.begin(), log_.first_marks.end(),
                                    [&](const MarkTime& known) { return known.mark == mark.name; });
  if (!is_known) log_.first_marks.push_back({std::string(mark.name), run_.place.now, mark.statement});
}

void Player::take(const SegmentEnded& segment) {
  TablePlace& place = run_.place;
  if (!go_to(segment.time)) return;
  if (segment.await == nullptr) {
    finish();
    return;
  }
  ++place.segments;
  run_.rig.apply_rows(place.now, place.passes);
  place.read_passes();
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

void Player::take(const PassEnded& pass) {
  // Where passes put their rows on the grid in different ways, the last row of each is the common end.
  if (pass.unit == 1 && is_on_grid(pass.time) ? !go_to(pass.time) : !catch_up(pass)) return;
  run_.rig.apply_rows(run_.place.now, run_.place.passes);
  run_.place.read_passes();
  if (trial_ && trial_->loop == pass.loop) return;
  folds_.note_walked(pass);
  if (sink_ != nullptr) sink_->split();
  if ((!incidents_.has_waits() && folds_.add_by_phase(site(), pass)) || leave_unlike_passes(pass)) return;
  folds_.add_alike(site(), pass);
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
  waiting_ = Waiting{ConditionWatch(place.table->profile().conditions[condition]), false};
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
  run_.rig.interrupt(place.now);
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
    pulses_.follow(site(), target);
    const double left = target.since(place.now);
    if (left <= kShortestStep) break;
    if (!take_incidents()) return false;
    rig.close_contacts(place.now);
    const std::int64_t trips = rig.trips();
    const Instant corner = next_corner(target);
    const double step = std::min(left, corner.since(place.now));
    const double planned = rig.plan(place.now, step, left);
    rig.follow_lines(place.now, place.passes);
    if (rig.trips() != trips) {
      folds_.forget_phases();
      if (play_safe()) return false;
    }
    rig.cut(planned);
    if (waiting_) {
      if (const std::optional<double> met = met_in_piece(planned)) {
        if (*met * planned > kShortestStep) take_step(*met * planned);
        place.now = place.now.plus_seconds(*met * planned);
        waiting_->met = true;
        return true;
      }
    }
    take_step(planned);
    place.now = planned >= step ? corner : place.now.plus_seconds(planned);
    if (budget_.is_spent()) {
      cut_short(rig.rails().front()->doing().statement, 0);
      return false;
    }
    if (planned >= step && corner.since(target) < 0) rig.turn_corners(place.now);
  }
  place.now = target;
  return true;
}

bool Player::take_incidents() {
  const TablePlace& place = run_.place;
  if (incidents_.fault_is_due(place.now)) {
    incidents_.inject(run_.rig, place.now);
    pulses_.read(run_.rig.rails());
    pulses_.begin_way();
    folds_.forget();
  }
  if (!incidents_.assertion_is_due(place.now)) return true;
  incidents_.assert_line(place.table->profile(), run_.rig, place.now, place.passes);
  folds_.forget();
  return !play_safe();
}

Instant Player::next_corner(const Instant& target) const {
  Instant corner = run_.rig.corner_before(target, run_.place.now);
  for (const std::optional<Instant>& one : {pulses_.next_check(), incidents_.next()}) {
    if (one && one->since(corner) < 0) corner = *one;
  }
  return corner;
}

std::optional<double> Player::met_in_piece(double length) {
  std::vector<RailSignals> signals;
  for (const auto& rail : run_.rig.rails()) {
    signals.push_back({&rail->circuit().piece(), run_.place.table->profile()[rail->id()].reversed ? -1.0 : 1.0});
  }
  const std::optional<double> met = waiting_->watch.first_true(signals);
  if (!met) waiting_->watch.follow(signals, run_.place.now.seconds(), length);
  return met;
}

void Player::take_step(double length) {
  const TablePlace& place = run_.place;
  budget_.take_step(run_.rig.rails(), *place.table, place.now, place.safe_playing);
  run_.rig.cut(length);
  if (sink_ != nullptr) record(length);
  if (trial_) {
    trial_->trace.lengths.push_back(length);
    for (const auto& rail : run_.rig.rails()) trial_->trace.ways.push_back(rail->way());
  }
  run_.rig.advance(place.now, length, place.passes);
}

void Player::record(double length) {
  const TablePlace& place = run_.place;
  if (run_.rig.events().count() != events_recorded_) sink_->keep();
  events_recorded_ = run_.rig.events().count();
  const Rails& rails = run_.rig.rails();
  for (std::size_t i = 0; i < rails.size(); ++i) {
    sink_->take(i, *rails[i], place.table->profile().rails[i].reversed ? -1.0 : 1.0, place.now, length);
  }
}

bool Player::leave_unlike_passes(const PassEnded& pass) {
  if (!budget_.is_spent_by(pass)) return false;
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
  run_.rig.finish(run_.place.now, run_.place.passes);
  finished_ = true;
}

}  // namespace rampart
