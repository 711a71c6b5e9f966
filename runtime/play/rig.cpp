#include "runtime/play/rig.h"

#include <algorithm>
#include <limits>

namespace rampart {
namespace {

// Before anything began.
const Instant kLongAgo{Nanoseconds{std::numeric_limits<std::int64_t>::min() / 4}, 0};

}  // namespace

Rig::Rig(const Table& table, const Load& load, const std::vector<RailDeviation>& deviations)
    : profile_(&table.profile()),
      events_(std::make_unique<EventLog>()),
      rules_(table, !deviations.empty() && deviations.front().is_certain),
      lines_(table.profile(), *events_),
      rows_came_(table.rails().size(), false),
      supply_powers_(table) {
  const Profile& profile = table.profile();
  const Nanoseconds in_safe = profile.safe ? longest_reading(*profile.safe) : Nanoseconds{0};
  const double reach = to_seconds(std::max(longest_reading(profile.run), in_safe)).to_double();
  for (std::size_t i = 0; i < table.rails().size(); ++i) {
    const RailSetup& setup = table.rails()[i];
    const RailLoad* rail = load.find_rail(table.profile()[setup.rail].name);
    const RailDeviation deviation = deviations.empty() ? RailDeviation{} : deviations[i];
    rails_.push_back(std::make_unique<RailRun>(table, setup, rail, deviation, reach, *events_));
  }
}

Rig::Rig(const Rig& other, ForTrial)
    : profile_(other.profile_),
      events_(std::make_unique<EventLog>()),
      rules_(other.rules_.without_rules()),
      lines_(*other.profile_, *events_),
      rows_came_(other.rows_came_),
      first_marks_(other.first_marks_),
      supply_powers_(other.supply_powers_) {
  for (const auto& rail : other.rails_) rails_.push_back(rail->trial(*events_));
}

Rig Rig::trial(bool judges) const {
  Rig result(*this, ForTrial{});
  if (judges) {
    result.rules_ = rules_.clone();
    result.lines_.continue_as(lines_);
  }
  return result;
}

void Rig::forget_past() {
  for (const auto& rail : rails_) rail->past().forget();
}

void Rig::move_on(const Instant& by) {
  for (const auto& rail : rails_) {
    rail->shift(by, kLongAgo);
    rail->past().shift(by);
    rail->put_off_contact(by);
  }
  rules_.shift(by, kLongAgo);
}

void Rig::take(const Table& table, const Row& row, const Instant& base) {
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    const auto& members = table.rails()[i].members;
    if (std::find(members.begin(), members.end(), row.channel) == members.end()) continue;
    rails_[i]->take(row, base);
    rows_came_[i] = true;
  }
}

void Rig::read_mark(std::string_view mark, const Instant& now) {
  // A mark reads what was until now; at the very start there is nothing before it.
  if (now.whole.count() == 0 && now.rest == 0) {
    first_marks_.emplace_back(mark);
    return;
  }
  for (const auto& rail : rails_) rail->read_mark(mark);
}

void Rig::apply_rows(const Instant& now, const Passes& passes) {
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    if (rows_came_[i]) rails_[i]->apply(now, passes);
    if (rows_came_[i]) rules_.note_change(*rails_[i], now);
    if (!rows_came_[i]) rails_[i]->settle_pending(now);
    rows_came_[i] = false;
  }
  for (const std::string& mark : first_marks_) {
    for (const auto& rail : rails_) rail->read_mark(mark);
  }
  first_marks_.clear();
}

void Rig::close_contacts(const Instant& now) {
  for (const auto& rail : rails_) {
    if (rail->close_contact(now)) rules_.note_change(*rail, now);
  }
}

void Rig::trip(std::size_t rail, TripCause cause, const Instant& now) {
  rails_[rail]->trip(cause, now);
  ++trips_;
  const Protection& protection = profile_->rails[rail].protection;
  // A link is the fuse's: what another protection or a link switches off takes nothing along.
  if (!protection.fuse || cause != TripCause::Fuse) return;
  for (const RailId linked : protection.fuse->linked) {
    const auto other = static_cast<std::size_t>(linked);
    if (!rails_[other]->tripped()) trip(other, TripCause::Linked, now);
  }
}

void Rig::interrupt(const Instant& now) {
  for (const auto& rail : rails_) rail->interrupt(now);
  rows_came_.assign(rails_.size(), false);
}

double Rig::plan(const Instant& now, double longest, double to_row) {
  // A trip changes what the others may do only by switching them off, so each rail trips at most once here.
  for (std::size_t guard = 0; guard <= rails_.size(); ++guard) {
    bool tripped = false;
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      const std::optional<TripCause> cause = rails_[i]->plan(now, longest, to_row);
      if (!cause) continue;
      trip(i, *cause, now);
      tripped = true;
    }
    if (!tripped) break;
  }
  double step = longest;
  for (const auto& rail : rails_) step = std::min(step, rail->quiet_time(now));
  return step;
}

Instant Rig::corner_before(const Instant& latest, const Instant& now) const {
  Instant corner = latest;
  for (const auto& rail : rails_) {
    const std::optional<Instant> own = rail->corner(now);
    if (own && own->since(corner) < 0) corner = *own;
  }
  return corner;
}

void Rig::cut(double length) {
  for (const auto& rail : rails_) rail->cut(length);
}

void Rig::advance(const Instant& now, double length, const Passes& passes) {
  rules_.take(rails_, now, length, passes);
  for (const auto& rail : rails_) rail->advance(now);
  raise_total_power(total_power_, rails_, now, length, passes);
  supply_powers_.take(rails_, now, length, passes);
}

void Rig::turn_corners(const Instant& now) {
  for (const auto& rail : rails_) rail->turn_corner(now);
}

void Rig::finish(const Instant& now, const Passes& passes) {
  for (const auto& rail : rails_) rail->finish(now);
  // What is switched at the very end is told, though nothing comes of it.
  apply_rows(now, passes);
  follow_lines(now, passes);
  rules_.finish(now, {});
}

void Rig::add_to(Simulation& result) {
  for (const auto& rail : rails_) {
    result.rails.push_back(rail->figures());
    result.total_energy_J += result.rails.back().energy_J;
    rail->add_margins(result.margins);
    result.rails.back().clears_s = rail->time_to_clear();
    result.chatter.insert(result.chatter.end(), rail->chatter().begin(), rail->chatter().end());
  }
  supply_powers_.add_margins(result.margins);
  result.rules = rules_.results();
  readings_.add_to(result);
  result.total_power_W = total_power_;
  result.events_left_out = events_->left_out();
  result.events = events_->take();
}

}  // namespace rampart
