#include "compiler/timeline/setpoints.h"

#include <algorithm>

#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// Writes the moves of one statement and keeps the setpoints in step.
class Player {
 public:
  Player(const Statement& statement, Setpoints& setpoints, Block& block)
      : statement_(&statement), setpoints_(setpoints), block_(block) {}

  [[nodiscard]] bool ok() const { return ok_; }

  void operator()(const Switch& action) {
    for (const RailId rail : action.rails) {
      bool& on = state(rail).on;
      block_.moves.push_back(
          move(rail, MoveKind::Output, Nanoseconds{0}, Rational(on ? 1 : 0), Rational(action.on ? 1 : 0)));
      on = action.on;
      state(rail).known.output = true;
    }
  }
  void operator()(const Jump& action) {
    for (const Motion& motion : action.motions) travel(motion, Nanoseconds{0});
  }
  void operator()(const Ramp& action) {
    for (const Motion& motion : action.motions) {
      if (motion.from) drive(motion, *motion.from, Nanoseconds{0});
      travel(motion, length_of(action, motion));
    }
    // A ramp over a time lasts that long even where it changes nothing.
    if (const auto* time = std::get_if<Nanoseconds>(&action.pace)) block_.length = *time;
  }
  void operator()(const Dwell& action) { block_.length = action.time; }
  void operator()(const Mark& action) { block_.marks.push_back({Nanoseconds{0}, &action, statement_}); }
  void operator()(const Measurement& action) { block_.measurements.push_back({Nanoseconds{0}, &action, statement_}); }
  void operator()(const SetLine& action) { set_line(action.line, action.high, Nanoseconds{0}); }
  void operator()(const Pulse& action) {
    set_line(action.line, true, Nanoseconds{0});
    set_line(action.line, false, action.time);
    block_.length = action.time;
  }
  void operator()(const Repeat&) {}
  void operator()(const Together&) {}
  void operator()(const Track&) {}
  void operator()(const Await&) {}

 private:
  RailState& state(RailId rail) { return setpoints_.rails[static_cast<std::size_t>(rail)]; }
  Rational& level(RailId rail, Drive drive) {
    return drive == Drive::Voltage ? state(rail).voltage : state(rail).limit;
  }

  Move move(RailId rail, MoveKind kind, Nanoseconds length, const Rational& from, const Rational& to) const {
    return {Nanoseconds{0}, length, rail, kind, from, to, statement_};
  }

  Nanoseconds length_of(const Ramp& action, const Motion& motion) {
    if (const auto* time = std::get_if<Nanoseconds>(&action.pace)) return *time;
    const Rational distance = motion.relative ? motion.value : motion.value - level(motion.rail, motion.drive);
    const std::optional<Nanoseconds> time = to_nanoseconds(abs(distance) / std::get<Rational>(action.pace));
    if (!time) ok_ = false;
    return time.value_or(Nanoseconds{0});
  }

  void travel(const Motion& motion, Nanoseconds length) {
    const Rational target = motion.relative ? level(motion.rail, motion.drive) + motion.value : motion.value;
    drive(motion, target, length);
  }

  void drive(const Motion& motion, const Rational& target, Nanoseconds length) {
    const bool may_lead = motion.drive == Drive::Voltage && !setpoints_.tracks.empty();
    const Rational change = may_lead ? target - level(motion.rail, motion.drive) : Rational();
    go_to(motion.rail, motion.drive, target, length);
    if (may_lead) shift_followers(motion.rail, change, length);
  }

  void go_to(RailId rail, Drive drive, const Rational& target, Nanoseconds length) {
    Rational& value = level(rail, drive);
    ok_ = ok_ && is_settable(target);
    block_.moves.push_back(
        move(rail, drive == Drive::Voltage ? MoveKind::Voltage : MoveKind::Limit, length, value, target));
    block_.length = std::max(block_.length, length);
    value = target;
    KnownSetpoints& known = state(rail).known;
    (drive == Drive::Voltage ? known.voltage : known.limit) = true;
  }

  // Followers of followers too; a rail never follows itself, and each pair is gone through once.
  void shift_followers(RailId leader, const Rational& change, Nanoseconds length) {
    for (std::size_t i = setpoints_.tracks.size(); i-- > 0;) {
      const Tracking track = setpoints_.tracks[i];
      if (track.leader != leader) continue;
      const Rational followed = track.mirrored ? -change : change;
      go_to(track.follower, Drive::Voltage, level(track.follower, Drive::Voltage) + followed, length);
      shift_followers(track.follower, followed, length);
    }
  }

  void set_line(LineId line, bool high, Nanoseconds start) {
    block_.lines.push_back({start, line, high, statement_});
    setpoints_.lines[static_cast<std::size_t>(line)] = high;
  }

  const Statement* statement_;
  Setpoints& setpoints_;
  Block& block_;
  bool ok_ = true;
};

}  // namespace

Tracking tracking_of(const Track& track, const Profile& profile) {
  return {track.follower, track.leader, profile[track.follower].reversed != profile[track.leader].reversed};
}

bool is_settable(const Rational& value) {
  return !value.overflowed() && fits_int64(value.numerator()) && fits_int64(value.denominator());
}

void take_changes(const std::vector<RailState>& before, const std::vector<RailState>& after,
                  std::vector<RailState>& rails) {
  for (std::size_t i = 0; i < rails.size(); ++i) {
    if (after[i].voltage != before[i].voltage) rails[i].voltage = after[i].voltage;
    if (after[i].limit != before[i].limit) rails[i].limit = after[i].limit;
    if (after[i].on != before[i].on) rails[i].on = after[i].on;
    const KnownSetpoints& known = after[i].known;
    rails[i].known = {rails[i].known.voltage || known.voltage, rails[i].known.limit || known.limit,
                      rails[i].known.output || known.output};
  }
}

std::optional<RailId> goes_on_from_unknown(const Statement& statement, const Setpoints& setpoints) {
  const bool ramps = std::holds_alternative<Ramp>(statement.what);
  const std::vector<Motion>* motions = nullptr;
  if (const auto* jump = std::get_if<Jump>(&statement.what)) motions = &jump->motions;
  if (const auto* ramp = std::get_if<Ramp>(&statement.what)) motions = &ramp->motions;
  if (motions == nullptr) return std::nullopt;
  for (const Motion& motion : *motions) {
    if (motion.from || !(ramps || motion.relative)) continue;
    const KnownSetpoints& known = setpoints.rails[static_cast<std::size_t>(motion.rail)].known;
    if (!(motion.drive == Drive::Voltage ? known.voltage : known.limit)) return motion.rail;
  }
  return std::nullopt;
}

bool is_simple(const Statement& statement) {
  return std::visit(Overloaded{[](const Repeat&) { return false; }, [](const Together&) { return false; },
                               [](const Track&) { return false; }, [](const Await&) { return false; },
                               [](const auto&) { return true; }},
                    statement.what);
}

bool play(const Statement& statement, Setpoints& setpoints, Block& block) {
  block.length = Nanoseconds{0};
  block.moves.clear();
  block.lines.clear();
  block.marks.clear();
  block.measurements.clear();
  block.statement = &statement;
  Player player(statement, setpoints, block);
  std::visit(player, statement.what);
  return player.ok();
}

}  // namespace rampart
