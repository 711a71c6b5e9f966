#pragma once

#include <algorithm>
#include <map>
#include <set>
#include <vector>

#include "compiler/table/abilities.h"
#include "compiler/table/folded_walk.h"
#include "compiler/table/rail_motion.h"

// Where rails stand over time, setpoint and limit alike: straight ways between the instants at which something changes.
// What is changed again at the same instant never stands. A jump of a `linear` supply is a straight run of one minimum
// step.
namespace rampart::checks {

// What set one quantity of a rail last.
struct Setter {
  const Statement* statement = nullptr;
  Span place;
  std::size_t number = 0;  // of those walked, counted from 1; 0: nothing set it
};

struct Point {
  Rational voltage;  // by magnitude
  Rational limit;

  friend bool operator==(const Point&, const Point&) = default;
};

// A straight way of one rail.
struct Way {
  Nanoseconds begin{0};  // from the start of the segment
  Nanoseconds end{0};
  Point from;
  Point to;
  bool on = false;
  Setter voltage_by;
  Setter limit_by;
  Setter output_by;

  [[nodiscard]] Point at(Nanoseconds time) const;
  // What changed last of all three.
  [[nodiscard]] const Setter& last_setter() const;
};

// One rail as it is walked.
class RailCourse {
 public:
  RailCourse(const RailState& initial, bool reversed, const Timing& timing);

  // The ways through a block, in order; none where it takes no time. `moves` are the rail's own, `number` counts them.
  [[nodiscard]] std::vector<Way> through(const Block& block, const std::vector<const Move*>& moves,
                                         std::size_t& number);
  // The way that a jump at the end of a segment still takes; none left: where the rail stands, without time.
  [[nodiscard]] Way last(Nanoseconds end);
  // The next segment begins where the rail stands: nothing leads up to it.
  void begin_segment();

  [[nodiscard]] Way standing(Nanoseconds time) const;
  // Whether it still runs where a jump leads.
  [[nodiscard]] bool glides() const { return gliding_; }

 private:
  [[nodiscard]] Point point(const Rational& voltage, const Rational& limit) const;
  void note(const Move& move, std::size_t& number);
  void go(Nanoseconds time, const Point& exact);
  void add(Nanoseconds time, const Point& to);
  void stand(const RailInstant& instant);
  void jump(const Point& after);

  RailState state_;
  bool reversed_;
  bool linear_;
  Nanoseconds minimum_step_;
  std::vector<RailInstant> instants_;
  std::vector<Way> ways_;
  Way way_;  // with what the next one has from the last
  Nanoseconds now_{0};
  Point exact_;   // the setpoints
  Point actual_;  // where the supply is
  bool gliding_ = false;
  Nanoseconds jumped_{0};
  Nanoseconds landing_{0};
};

// A stretch of time in which some rails move, or come to stand, and all others stay as they are.
struct Stretch {
  const std::map<std::size_t, std::vector<Way>>& ways;  // by RailId, each from the begin of the stretch to its end
  const std::vector<RailCourse>& courses;               // by RailId, at the end of the stretch
  std::size_t segment = 0;                              // counted from 0
  std::int64_t pass = 0;                                // of the innermost loop; 0 outside

  // Calls visit(now, begin, end) for each part in which all rails go straight; `now` has the way of each that moves.
  template <class Visit>
  void for_each_part(Visit&& visit) const {
    std::vector<Nanoseconds> times;
    for (const auto& [rail, own] : ways) {
      for (const Way& way : own) times.insert(times.end(), {way.begin, way.end});
    }
    std::sort(times.begin(), times.end());
    times.erase(std::unique(times.begin(), times.end()), times.end());
    std::map<std::size_t, std::size_t> place;
    for (std::size_t i = 0; i == 0 || i + 1 < times.size(); ++i) {
      std::map<std::size_t, Way> now;
      for (const auto& [rail, own] : ways) {
        std::size_t& at = place[rail];
        while (at + 1 < own.size() && own[at].end <= times[i]) ++at;
        now.emplace(rail, own[at]);
      }
      visit(now, times[i], times[std::min(i + 1, times.size() - 1)]);
    }
  }
};

// Where the rails stand when a timeline begins. An output of which it does not know that counts as on if it may be, by
// RailId; empty: none may.
[[nodiscard]] std::vector<RailState> begin_of(const Timeline& timeline, const std::vector<bool>& may_be_on);

// Walks a table's timeline, folded loops as often as they bring anything new.
class CourseWalk {
 public:
  // `may_be_on` as begin_of() takes it.
  CourseWalk(const Table& table, const std::vector<Abilities>& abilities, const std::vector<bool>& may_be_on = {});

  // Calls visit(stretch) for each stretch.
  template <class Visit>
  void walk(Visit&& visit) {
    walk_folded(table_.timeline(), [&](const TimelineItem& item, const TimelineCursor& cursor) {
      if (const auto* const* block = std::get_if<const Block*>(&item)) {
        pass_ = cursor.passes().empty() ? 0 : cursor.passes().back();
        play(**block);
        if ((*block)->length > Nanoseconds{0}) give(visit);
      } else if (const auto* end = std::get_if<TimelineSegmentEnded>(&item)) {
        end_segment(end->time);
        give(visit);
        begin_segment();
      }
    });
  }

 private:
  void play(const Block& block);
  void end_segment(Nanoseconds end);
  void begin_segment();
  // Rails that glide on are told in the next stretch too.
  void settle();
  template <class Visit>
  void give(Visit&& visit) {
    if (ways_.empty()) return;
    visit(Stretch{ways_, courses_, segment_, pass_});
    settle();
  }

  const Table& table_;
  std::vector<RailCourse> courses_;
  std::set<std::size_t> pending_;  // rails that moved since time last went on
  std::map<std::size_t, std::vector<Way>> ways_;
  std::size_t segment_ = 0;
  std::int64_t pass_ = 0;
  std::size_t number_ = 0;
};

}  // namespace rampart::checks
