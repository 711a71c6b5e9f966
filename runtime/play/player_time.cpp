#include "runtime/play/player.h"

#include <algorithm>

namespace rampart {
namespace {

// Steps from one word on progress to the next.
constexpr std::int64_t kStepsBetween = 256;

}  // namespace

bool Player::go_to(Nanoseconds time) {
  const Instant target = base_.plus(time);
  if (target.since(now_) <= kShortestStep) return true;
  apply_rows();
  return advance_to(target);
}

void Player::apply_rows() {
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    if (rows_came_[i]) rails_[i]->apply(now_, passes_);
    if (rows_came_[i]) rules_.note_change(*rails_[i], now_);
    if (!rows_came_[i]) rails_[i]->settle_pending(now_);
    rows_came_[i] = false;
  }
  for (const std::string& mark : first_marks_) {
    for (const auto& rail : rails_) rail->read_mark(mark, now_);
  }
  first_marks_.clear();
}

void Player::close_contacts() {
  for (const auto& rail : rails_) {
    if (rail->close_contact(now_)) rules_.note_change(*rail, now_);
  }
}

bool Player::advance_to(const Instant& target) {
  pulse_check_.reset();
  pulses_since_.reset();
  while (true) {
    follow_pulses(target);
    const double left = target.since(now_);
    if (left <= kShortestStep) break;
    if (fault_ != nullptr && fault_->at.since(now_) <= kShortestStep) inject();
    if (assertion_ != nullptr && assertion_->at.since(now_) <= kShortestStep && !assert_line()) return false;
    close_contacts();
    const std::int64_t trips = trips_;
    const Instant corner = next_corner(target);
    const double step = std::min(left, corner.since(now_));
    const double planned = plan_all(step, left);
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
    if (work_ > kMostSteps) {
      cut_short(rails_.front()->doing().statement, 0);
      return false;
    }
    if (planned >= step && corner.since(target) < 0) turn_corners();
  }
  now_ = target;
  return true;
}

Instant Player::next_corner(const Instant& target) const {
  Instant corner = target;
  for (const auto& rail : rails_) {
    const std::optional<Instant> own = rail->corner(now_);
    if (own && own->since(corner) < 0) corner = *own;
  }
  if (pulse_check_ && pulse_check_->since(corner) < 0) corner = *pulse_check_;
  const std::optional<Instant> incident = next_incident();
  return incident && incident->since(corner) < 0 ? *incident : corner;
}

std::optional<double> Player::met_in_piece() const {
  std::vector<RailSignals> signals;
  for (const auto& rail : rails_) {
    signals.push_back({&rail->circuit().piece(), table_->profile()[rail->id()].reversed ? -1.0 : 1.0});
  }
  return watch_->first_true(signals);
}

void Player::tell_progress() {
  const std::int64_t all = table_->timeline().duration().count();
  ++steps_;
  if (!*progress_ || safe_playing_ || steps_ % kStepsBetween != 0 || now_.whole.count() >= all) return;
  (*progress_)(static_cast<std::size_t>(now_.whole.count()), static_cast<std::size_t>(all));
}

void Player::cut_short(const Span& statement, std::int64_t unlike_passes) {
  cut_short_ = CutShort{now_.seconds(), steps_, unlike_passes, statement, passes_};
  finish();
  stopped_ = true;
}

void Player::take_step(double length) {
  tell_progress();
  for (const auto& rail : rails_) work_ += rail->circuit().is_affine() ? 1 : kSolvedStep;
  for (const auto& rail : rails_) rail->cut(length);
  if (recorder_ != nullptr) record(length);
  if (trial_) trace_step(length);
  rules_.take(rails_, now_, length, passes_);
  for (const auto& rail : rails_) rail->advance(now_);
  raise_total_power(total_power_, rails_, now_, length, passes_);
  supply_powers_.take(rails_, now_, length, passes_);
}

void Player::record(double length) {
  if (events_.count() != events_recorded_) recorder_->keep();
  events_recorded_ = events_.count();
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    recorder_->take(i, *rails_[i], table_->profile().rails[i].reversed ? -1.0 : 1.0, now_, length);
  }
}

void Player::turn_corners() {
  for (const auto& rail : rails_) rail->turn_corner(now_);
}

double Player::plan_all(double longest, double to_row) {
  // A trip changes what the others may do only by switching them off, so each rail trips at most once here.
  for (std::size_t guard = 0; guard <= rails_.size(); ++guard) {
    bool tripped = false;
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      const std::optional<TripCause> cause = rails_[i]->plan(now_, longest, to_row);
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

}  // namespace rampart
