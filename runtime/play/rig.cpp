#include "runtime/play/rig.h"

#include <algorithm>
#include <limits>

namespace rampart {
namespace {

// Before anything began.
const Instant kLongAgo{Nanoseconds{std::numeric_limits<std::int64_t>::min() / 4}, 0};

// A link whose bench does not tell its delay was reported by a check.
constexpr Nanoseconds kAtOnce{0};

}  // namespace

Rig::Rig(const Table& table, const Load& load, const std::vector<RailDeviation>& deviations, RulesAsked asked)
    : table_(&table),
      profile_(&table.profile()),
      events_(std::make_unique<EventLog>()),
      rules_(asked == RulesAsked::Nothing
                 ? RuleWatch(table.rails().size())
                 : RuleWatch(table, !deviations.empty() && deviations.front().is_certain, asked == RulesAsked::All)),
      lines_(table.profile(), *events_),
      rail_of_(table.bench().channels.size()),
      rows_came_(table.rails().size(), false),
      powers_(table) {
  const Profile& profile = table.profile();
  const Nanoseconds in_safe = profile.safe ? longest_reading(*profile.safe) : Nanoseconds{0};
  const double reach = to_seconds(std::max(longest_reading(profile.run), in_safe)).to_double();
  for (std::size_t i = 0; i < table.rails().size(); ++i) {
    const RailSetup& setup = table.rails()[i];
    const RailLoad* rail = load.find_rail(table.profile()[setup.rail].name);
    const RailDeviation deviation = deviations.empty() ? RailDeviation{} : deviations[i];
    rails_.push_back(std::make_unique<RailRun>(table, setup, rail, deviation, reach, *events_));
    for (const ChannelId channel : setup.members) rail_of_[static_cast<std::size_t>(channel)] = i;
    standing_.push_back(i);
  }
}

Rig::Rig(const Rig& other, ForTrial)
    : table_(other.table_),
      profile_(other.profile_),
      events_(std::make_unique<EventLog>()),
      rules_(other.rules_.without_rules()),
      lines_(*other.profile_, *events_),
      rail_of_(other.rail_of_),
      rows_came_(other.rows_came_),
      first_marks_(other.first_marks_),
      powers_(other.powers_.trial()),
      linked_off_(other.linked_off_) {
  for (const auto& rail : other.rails_) {
    standing_.push_back(rails_.size());
    rails_.push_back(rail->trial(*events_));
  }
}

Rig::Rig(const Rig& other, AsFork)
    : table_(other.table_),
      profile_(other.profile_),
      events_(std::make_unique<EventLog>(*other.events_)),
      rules_(other.rules_.without_rules()),
      lines_(*other.profile_, *events_),
      readings_(other.readings_),
      rail_of_(other.rail_of_),
      rows_came_(other.rows_came_),
      first_marks_(other.first_marks_),
      powers_(other.powers_),
      trips_(other.trips_),
      switched_on_(other.switched_on_),
      linked_off_(other.linked_off_),
      standing_(other.standing_) {
  lines_.continue_as(other.lines_);
  for (const auto& rail : other.rails_) rails_.push_back(rail->fork(*events_));
}

Rig Rig::fork() const {
  return {*this, AsFork{}};
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
  for (LinkedOff& linked : linked_off_) linked.at = {linked.at.whole + by.whole, linked.at.rest + by.rest};
  rules_.shift(by, kLongAgo);
}

void Rig::take(const Row& row, const Instant& base, const Present& present) {
  const std::optional<std::size_t> rail = rail_of_[static_cast<std::size_t>(row.channel)];
  if (!rail) return;
  stop(*rail, present);
  rails_[*rail]->take(row, base);
  rows_came_[*rail] = true;
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
  for (const std::size_t i : standing_) {
    if (!rows_came_[i]) {
      rails_[i]->settle_pending(now);
      continue;
    }
    const bool was_on = rails_[i]->is_told_on();
    rails_[i]->apply(now, passes);
    if (!was_on && rails_[i]->is_told_on()) ++switched_on_;
    rules_.note_change(*rails_[i], now);
    rows_came_[i] = false;
  }
  for (const std::string& mark : first_marks_) {
    for (const auto& rail : rails_) rail->read_mark(mark);
  }
  first_marks_.clear();
}

void Rig::close_contacts(const Instant& now) {
  for (const std::size_t i : standing_) {
    if (rails_[i]->close_contact(now)) rules_.note_change(*rails_[i], now);
  }
}

void Rig::trip(std::size_t rail, TripCause cause, const Present& present) {
  stop(rail, present);
  rails_[rail]->trip(cause, present.now);
  ++trips_;
  const Protection& protection = profile_->rails[rail].protection;
  // A link is the fuse's: what another protection or a link switches off takes nothing along.
  if (!protection.fuse || cause != TripCause::Fuse) return;
  for (const RailId linked : protection.fuse->linked) {
    const auto other = static_cast<std::size_t>(linked);
    if (rails_[other]->tripped()) continue;
    const std::vector<ChannelId>& members = table_->rails()[rail].members;
    const auto delay = table_->bench().link_delay(members, table_->rails()[other].members);
    if (delay.value_or(kAtOnce) == kAtOnce) {
      trip(other, TripCause::Linked, present);
    } else {
      linked_off_.push_back({other, present.now.plus(*delay), false});
    }
  }
}

void Rig::interlock(const Line& line, const Instant& now) {
  for (const RailId rail : line.rails) {
    const auto index = static_cast<std::size_t>(rail);
    const auto delay = table_->bench().link_delay(line.supply, table_->rails()[index].members);
    if (delay.value_or(kAtOnce) == kAtOnce) {
      rails_[index]->cut_off(now);
    } else {
      linked_off_.push_back({index, now.plus(*delay), true});
    }
  }
}

void Rig::act_by_links(const Present& present) {
  for (std::size_t i = 0; i < linked_off_.size();) {
    if (linked_off_[i].at.since(present.now) > kShortestStep) {
      ++i;
      continue;
    }
    const LinkedOff linked = linked_off_[i];
    linked_off_.erase(linked_off_.begin() + static_cast<std::ptrdiff_t>(i));
    if (linked.by_interlock) {
      stop(linked.rail, present);
      rails_[linked.rail]->cut_off(present.now);
    } else if (rails_[linked.rail]->is_wanted_on(present.now) && !rails_[linked.rail]->tripped()) {
      trip(linked.rail, TripCause::Linked, present);
    }
  }
}

std::optional<Instant> Rig::next_link() const {
  std::optional<Instant> next;
  for (const LinkedOff& linked : linked_off_) {
    if (!next || linked.at.since(*next) < 0) next = linked.at;
  }
  return next;
}

void Rig::interrupt(const Instant& now) {
  for (const auto& rail : rails_) rail->interrupt(now);
  rows_came_.assign(rails_.size(), false);
}

void Rig::plan(const Present& present, const Stops& stops) {
  if (standing_.empty()) return;
  if (standing_.size() == rails_.size()) {
    rules_.stand_at(present.now);
    powers_.stand_at(present.now);
  }
  for (const std::size_t i : standing_) rails_[i]->turn_corner(present.now);
  close_contacts(present.now);
  // A trip changes what the others may do only by switching them off, so each rail trips at most once here.
  for (std::size_t guard = 0; guard <= rails_.size(); ++guard) {
    const std::int64_t trips = trips_;
    planned_ = standing_;
    for (const std::size_t i : planned_) {
      const std::optional<TripCause> cause = rails_[i]->plan(present.now, stops.of(i));
      if (cause) trip(i, *cause, present);
    }
    if (trips_ == trips) break;
  }
  for (const std::size_t i : standing_) {
    rails_[i]->bound_step(present.now);
    powers_.begin_step(i, *rails_[i]);
    ends_.push_back({rails_[i]->group().ends(), i});
    std::push_heap(ends_.begin(), ends_.end(), is_later);
  }
  standing_.clear();
}

bool Rig::add_memory(const Instant& now, std::vector<double>& memory) const {
  if (trips_ != 0 || !linked_off_.empty()) return false;
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    if (!rails_[i]->has_whole_memory() || rails_[i]->waits_for_contact()) return false;
    rails_[i]->add_memory(now, memory);
    memory.push_back(rows_came_[i] ? 1 : 0);
  }
  rules_.add_memory(now, memory);
  lines_.add_memory(memory);
  return true;
}

Instant Rig::corner_before(const Instant& latest, const Instant& now) const {
  Instant corner = latest;
  for (const auto& rail : rails_) {
    const std::optional<Instant> own = rail->corner(now);
    if (own && own->since(corner) < 0) corner = *own;
  }
  return corner;
}

bool Rig::is_later(const End& a, const End& b) {
  const double later = a.at.since(b.at);
  return later != 0 ? later > 0 : a.rail > b.rail;
}

bool Rig::is_due(const End& end) const {
  const Group& group = rails_[end.rail]->group();
  return group.is_under_way() && group.ends().since(end.at) == 0;
}

void Rig::drop_old_ends() {
  while (!ends_.empty() && !is_due(ends_.front())) {
    std::pop_heap(ends_.begin(), ends_.end(), is_later);
    ends_.pop_back();
  }
}

std::optional<Instant> Rig::next_end() {
  drop_old_ends();
  return ends_.empty() ? std::nullopt : std::optional(ends_.front().at);
}

void Rig::go_to(const Present& present) {
  for (drop_old_ends(); !ends_.empty() && ends_.front().at.since(present.now) <= 0; drop_old_ends()) {
    stop(ends_.front().rail, present);
  }
}

void Rig::meet(const Present& present) {
  if (standing_.size() == rails_.size()) return;
  std::vector<bool> ends(rails_.size(), false);
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    ends[i] = rails_[i]->group().is_under_way() && rails_[i]->end_step(present.now);
  }
  follow(present.now, present.passes);
  standing_.clear();
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    standing_.push_back(i);
    if (!ends[i]) continue;
    present.observer.take_step(i, *rails_[i]);
    rails_[i]->advance();
  }
  ends_.clear();
}

void Rig::stop(std::size_t rail, const Present& present) {
  RailRun& run = *rails_[rail];
  if (!run.group().is_under_way()) return;
  if (run.end_step(present.now)) {
    // What watches the rail sees its step before that is over.
    const Instant end = run.group().ends();
    rules_.follow(rails_, rail, end, present.passes);
    powers_.follow(rails_, rail, end, present.passes);
    present.observer.take_step(rail, run);
    run.advance();
  }
  const auto place = std::lower_bound(standing_.begin(), standing_.end(), rail);
  if (place == standing_.end() || *place != rail) standing_.insert(place, rail);
}

void Rig::follow(const Instant& now, const Passes& passes) {
  if (standing_.size() == rails_.size()) return;
  rules_.follow(rails_, now, passes);
  powers_.follow(rails_, now, passes);
}

void Rig::finish(const Present& present) {
  meet(present);
  for (const auto& rail : rails_) rail->finish(present.now);
  // What is switched at the very end is told, though nothing comes of it.
  apply_rows(present.now, present.passes);
  follow_lines(present.now, present.passes);
  rules_.finish(present.now, {});
}

void Rig::add_to(Simulation& result) {
  for (const auto& rail : rails_) {
    result.rails.push_back(rail->figures());
    result.total_energy_J += result.rails.back().energy_J;
    rail->add_margins(result.margins);
    result.rails.back().clears_s = rail->time_to_clear();
    result.rails.back().ends_on = rail->is_told_on();
    result.chatter.insert(result.chatter.end(), rail->chatter().begin(), rail->chatter().end());
  }
  powers_.add_margins(result.margins);
  result.rules = rules_.results();
  readings_.add_to(result);
  result.total_power_W = powers_.all();
  result.events_left_out = events_->left_out();
  result.events = events_->take();
}

}  // namespace rampart
