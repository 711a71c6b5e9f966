#include "compiler/checks/rail_course.h"

#include "compiler/checks/moves.h"
#include "lang/values/fitting.h"

namespace rampart::checks {
namespace {

Rational on_line(const Rational& from, const Rational& to, Nanoseconds part, Nanoseconds whole) {
  const double share = static_cast<double>(part.count()) / static_cast<double>(whole.count());
  return fitting(from + (to - from) * Rational::fraction(part.count(), whole.count()),
                 from.to_double() + (to.to_double() - from.to_double()) * share);
}

Point on_line(const Point& from, const Point& to, Nanoseconds part, Nanoseconds whole) {
  return {on_line(from.voltage, to.voltage, part, whole), on_line(from.limit, to.limit, part, whole)};
}

}  // namespace

Point Way::at(Nanoseconds time) const {
  if (time == begin || begin == end) return from;
  return time == end ? to : on_line(from, to, time - begin, end - begin);
}

const Setter& Way::last_setter() const {
  const Setter& level = voltage_by.number > limit_by.number ? voltage_by : limit_by;
  return output_by.number > level.number ? output_by : level;
}

RailCourse::RailCourse(const RailState& initial, bool reversed, const Timing& timing)
    : state_(initial),
      reversed_(reversed),
      linear_(timing.interpolation == Interpolation::Linear),
      minimum_step_(timing.minimum_step) {
  begin_segment();
}

std::vector<Way> RailCourse::through(const Block& block, const std::vector<const Move*>& moves, std::size_t& number) {
  find_instants(moves, block.start, state_, instants_);
  ways_.clear();
  // Passes that were left out shift what still runs.
  jumped_ += block.start - now_;
  landing_ += block.start - now_;
  now_ = block.start;
  std::size_t next = 0;
  for (const RailInstant& instant : instants_) {
    go(instant.time, point(instant.voltage_before, instant.limit_before));
    for (; next < moves.size() && block.start + moves[next]->start == instant.time; ++next) note(*moves[next], number);
    stand(instant);
    jump(point(instant.after.voltage, instant.after.limit));
    way_.on = instant.after.on;
  }
  go(block.start + block.length, point(state_.voltage, state_.limit));
  return std::move(ways_);
}

Way RailCourse::last(Nanoseconds end) {
  ways_.clear();
  now_ = end;
  if (gliding_) go(landing_, exact_);
  return ways_.empty() ? standing(end) : ways_.back();
}

void RailCourse::begin_segment() {
  now_ = Nanoseconds{0};
  actual_ = exact_ = point(state_.voltage, state_.limit);
  way_.on = state_.on;
  gliding_ = false;
}

Way RailCourse::standing(Nanoseconds time) const {
  Way way = way_;
  way.begin = way.end = time;
  way.from = way.to = actual_;
  return way;
}

Point RailCourse::point(const Rational& voltage, const Rational& limit) const {
  return {reversed_ ? -voltage : voltage, limit};
}

void RailCourse::note(const Move& move, std::size_t& number) {
  const Setter setter{move.statement, place_of(move), ++number};
  if (move.kind == MoveKind::Voltage) way_.voltage_by = setter;
  if (move.kind == MoveKind::Limit) way_.limit_by = setter;
  if (move.kind == MoveKind::Output) way_.output_by = setter;
}

// To `time`, by when the setpoints have run straight to `exact`.
void RailCourse::go(Nanoseconds time, const Point& exact) {
  if (time == now_) return;
  if (gliding_ && landing_ < time) {
    const Point landed = on_line(exact_, exact, landing_ - now_, time - now_);
    add(landing_, landed);
    gliding_ = false;
  }
  if (gliding_ && landing_ > time) {
    add(time, on_line(actual_, exact, time - now_, landing_ - now_));
  } else {
    add(time, exact);
    gliding_ = false;
  }
  exact_ = exact;
}

void RailCourse::add(Nanoseconds time, const Point& to) {
  way_.begin = now_;
  way_.end = time;
  way_.from = actual_;
  way_.to = to;
  ways_.push_back(way_);
  actual_ = to;
  now_ = time;
}

// What `safe` sets for the first time has nothing before it to run from.
void RailCourse::stand(const RailInstant& instant) {
  const Point after = point(instant.after.voltage, instant.after.limit);
  if (!instant.known_before.voltage) actual_.voltage = after.voltage;
  if (!instant.known_before.limit) actual_.limit = after.limit;
}

// Nor has what stands at the start of a segment.
void RailCourse::jump(const Point& after) {
  exact_ = after;
  if (!linear_ || now_ == Nanoseconds{0}) {
    actual_ = after;
    gliding_ = false;
    return;
  }
  if (actual_ == after || (gliding_ && jumped_ == now_)) return;
  gliding_ = true;
  jumped_ = now_;
  landing_ = now_ + minimum_step_;
}

std::vector<RailState> begin_of(const Timeline& timeline, const std::vector<bool>& may_be_on) {
  std::vector<RailState> rails = timeline.initial();
  for (std::size_t i = 0; i < may_be_on.size(); ++i) {
    if (!rails[i].known.output) rails[i].on = may_be_on[i];
  }
  return rails;
}

CourseWalk::CourseWalk(const Table& table, const std::vector<Abilities>& abilities, const std::vector<bool>& may_be_on)
    : table_(table) {
  const std::vector<RailState> initial = begin_of(table.timeline(), may_be_on);
  for (std::size_t i = 0; i < abilities.size(); ++i) {
    courses_.emplace_back(initial[i], table.profile().rails[i].reversed, abilities[i].timing);
  }
}

void CourseWalk::play(const Block& block) {
  std::map<std::size_t, std::vector<const Move*>> moves;
  for (const Move& move : block.moves) moves[static_cast<std::size_t>(move.rail)].push_back(&move);
  for (const auto& [rail, own] : moves) pending_.insert(rail);
  if (block.length == Nanoseconds{0}) {
    for (const auto& [rail, own] : moves) static_cast<void>(courses_[rail].through(block, own, number_));
    return;
  }
  for (const std::size_t rail : pending_) ways_[rail] = courses_[rail].through(block, moves[rail], number_);
}

// What stands at the end without time to stand counts too.
void CourseWalk::end_segment(Nanoseconds end) {
  for (const std::size_t rail : pending_) ways_[rail] = {courses_[rail].last(end)};
}

void CourseWalk::begin_segment() {
  for (RailCourse& course : courses_) course.begin_segment();
  ++segment_;
}

void CourseWalk::settle() {
  ways_.clear();
  std::erase_if(pending_, [this](std::size_t rail) { return !courses_[rail].glides(); });
}

}  // namespace rampart::checks
