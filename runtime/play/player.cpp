#include "runtime/play/player.h"
#include "runtime/play/simulate.h"

#include <algorithm>

namespace rampart {

Player::Player(const Table& table, const Table* safe, const Load& load, const Incidents& incidents,
               WaveRecorder* recorder, const Progress& progress)
    : table_(&table),
      safe_(safe),
      cursor_(table),
      rules_(table),
      supply_powers_(table),
      fault_(incidents.fault ? &*incidents.fault : nullptr),
      assertion_(incidents.assertion ? &*incidents.assertion : nullptr),
      lines_(table.profile(), events_),
      recorder_(recorder),
      progress_(&progress) {
  for (std::size_t i = 0; i < table.rails().size(); ++i) {
    const RailSetup& setup = table.rails()[i];
    const RailLoad* rail = load.find_rail(table.profile()[setup.rail].name);
    const RailDeviation deviation = incidents.deviations.empty() ? RailDeviation{} : incidents.deviations[i];
    rails_.push_back(std::make_unique<RailRun>(table, setup, rail, deviation, events_));
  }
  rows_came_.assign(rails_.size(), false);
  read_clocks();
}

Simulation Player::run() {
  segment_starts_.push_back(base_);
  while (std::optional<TableItem> item = stopped_ ? std::nullopt : cursor_.next()) take(*item);
  return answer();
}

void Player::take(const TableItem& item) {
  std::visit([this](const auto& one) { take(one); }, item);
}

Passes Player::passes() const {
  return {cursor_.passes().begin(), cursor_.passes().end()};
}

void Player::take(const Row& row) {
  if (!go_to(row.time)) return;
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    const auto& members = table_->rails()[i].members;
    if (std::find(members.begin(), members.end(), row.channel) == members.end()) continue;
    rails_[i]->take(row, base_);
    rows_came_[i] = true;
  }
  passes_ = passes();
}

void Player::take(const LineRow& row) {
  if (!go_to(row.time)) return;
  passes_ = passes();
  lines_.set(row.line, row.high, now_, {row.statement, passes_});
}

void Player::take(const MarkReached& mark) {
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

void Player::note_first(const MarkReached& mark) {
  const bool is_known = std::any_of(mark_times_.begin(), mark_times_.end(),
                                    [&](const MarkTime& known) { return known.mark == mark.name; });
  if (!is_known) mark_times_.push_back({std::string(mark.name), now_, mark.statement});
}

void Player::take(const SegmentEnded& segment) {
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

void Player::begin_segment(const Instant& at) {
  base_ = at;
  if (!safe_playing_ && segment_starts_.size() < kMaxSegmentStarts) segment_starts_.push_back(at);
}

void Player::wait_for(const Condition& condition, Nanoseconds within, const Span& statement) {
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

std::optional<Instant> Player::next_incident() const {
  std::optional<Instant> next;
  if (fault_ != nullptr) next = fault_->at;
  if (assertion_ != nullptr && (!next || assertion_->at.since(*next) < 0)) next = assertion_->at;
  return next;
}

bool Player::assert_line() {
  const Line& line = table_->profile()[assertion_->line];
  lines_.set(assertion_->line, true, now_, {line.span, passes_});
  for (const RailId rail : line.rails) rails_[static_cast<std::size_t>(rail)]->cut_off(now_);
  asserted_ = true;
  assertion_ = nullptr;
  pass_states_.clear();
  phase_loops_.clear();
  lines_.follow(rails_, now_, passes_);
  if (safe_ == nullptr || safe_playing_) return true;
  play_safe();
  return false;
}

void Player::inject() {
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
  phase_loops_.clear();
}

void Player::trip(std::size_t index, TripCause cause) {
  rails_[index]->trip(cause, now_);
  ++trips_;
  phase_loops_.clear();
  const Protection& protection = table_->profile().rails[index].protection;
  // A link is the fuse's: what another protection or a link switches off takes nothing along.
  if (!protection.fuse || cause != TripCause::Fuse) return;
  for (const RailId linked : protection.fuse->linked) {
    const auto other = static_cast<std::size_t>(linked);
    if (!rails_[other]->tripped()) trip(other, TripCause::Linked);
  }
}

void Player::play_safe() {
  safe_playing_ = true;
  for (const auto& rail : rails_) rail->interrupt();
  table_ = safe_;
  cursor_ = safe_->rows();
  base_ = now_;
  pass_states_.clear();
  phase_loops_.clear();
  rows_came_.assign(rails_.size(), false);
}

void Player::finish() {
  for (const auto& rail : rails_) rail->finish(now_);
  // What is switched at the very end is told, though nothing comes of it.
  apply_rows();
  lines_.follow(rails_, now_, passes_);
  rules_.finish(now_, {});
  finished_ = true;
}

Simulation Player::answer() {
  if (!finished_) finish();
  Simulation result;
  result.duration_s = now_.seconds();
  double total = 0;
  for (const auto& rail : rails_) {
    result.rails.push_back(rail->figures());
    total += result.rails.back().energy_J;
    rail->add_margins(result.margins);
    result.rails.back().clears_s = rail->clear();
    result.chatter.insert(result.chatter.end(), rail->chatter().begin(), rail->chatter().end());
  }
  supply_powers_.add_margins(result.margins);
  result.total_energy_J = total;
  result.rules = rules_.results();
  result.total_power_W = total_power_;
  result.events_left_out = events_.left_out();
  result.events = events_.take();
  result.folded = folded_;
  for (FoldedLoop& loop : result.folded) loop.error = told_error(loop.error);
  result.awaited = std::move(awaited_);
  result.safe_played = safe_playing_;
  result.first_marks = std::move(mark_times_);
  result.segment_starts = std::move(segment_starts_);
  result.fault = fault_record_;
  result.asserted = asserted_;
  result.cut_short = std::move(cut_short_);
  return result;
}

}  // namespace rampart
