#pragma once

#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/rules/courses.h"
#include "compiler/rules/rule_plan.h"

namespace rampart::rules {

// What brought a rail where it is.
struct RailDoing {
  Span statement;
  CallId call = kNoCall;
  Instant since;
};

// Where a piece begins, and what the rails are doing during it.
struct Scene {
  Instant start;
  const std::vector<RailDoing>& rails;
  const Passes& passes;
};

struct Place {
  Instant at;
  Span statement;
  CallId call = kNoCall;
  Passes passes;
};
[[nodiscard]] Place place_of(const RulePlan& plan, const Scene& scene, const Instant& at);

// What a monitor's coming verdicts depend on. Numbers agree that differ by less than 1e-9 of their scale. Two ages
// agree also where both count from one instant: what began before two passes, and is open after both, is open after any
// more.
struct MonitorState {
  std::vector<double> numbers;
  std::vector<double> scales;
  std::vector<bool> flags;
  std::vector<std::optional<Instant>> began;  // of each number that is an age

  void add(double number, double scale);
  void add(bool flag) { flags.push_back(flag); }
  // How long ago something began; older than `oldest` is all one.
  void add_age(const std::optional<Instant>& since, const Instant& now, double oldest);
  friend bool operator==(const MonitorState& a, const MonitorState& b);
};

// The least distance met so far, and where.
class Tally {
 public:
  // -inf: broken without measure.
  void meet(double distance, const RulePlan& plan, const Scene& scene, const Instant& at);
  // For what shows only later.
  void meet(double distance, const Place& place);
  [[nodiscard]] bool met() const { return met_; }
  // +inf before the first; -inf where it is broken without measure.
  [[nodiscard]] double least() const { return least_; }
  [[nodiscard]] const Place& place() const { return place_; }

 private:
  [[nodiscard]] bool is_less(double distance) const;

  bool met_ = false;
  double least_ = std::numeric_limits<double>::infinity();
  Place place_;
};

// How near a condition comes that is not met.
struct Approach {
  bool met = false;                                           // or not asked for
  double nearest = -std::numeric_limits<double>::infinity();  // its greatest distance
};

// Follows one rule through a run, piece by piece.
class Monitor {
 public:
  explicit Monitor(const RulePlan& plan)
      : plan_(plan), approaches_(plan.conditions.size(), {.met = !plan.tells_nearest}) {}
  virtual ~Monitor() = default;
  Monitor& operator=(const Monitor&) = delete;
  // One that goes on by itself, for as long as this one's plan is there.
  [[nodiscard]] virtual std::unique_ptr<Monitor> clone() const = 0;

  virtual void take(const Courses& courses, const Scene& scene) = 0;
  // The run reaches a mark; pieces before it have been taken.
  virtual void mark(std::string_view, const Scene&) {}
  // The run is over; nothing comes after `scene.start`.
  virtual void finish(const Scene& scene) = 0;
  virtual void add_state(const Instant& now, MonitorState& state) const = 0;
  // All that the coming verdicts depend on, exactly: where two of one rule agree in it at one instant, and see the same
  // from then on, they meet the same distances. One that has to be followed by itself adds what equals nothing.
  virtual void add_memory(const Instant& now, std::vector<double>& memory) const = 0;
  // Passes were added without being walked: what has begun since `pass_began` began later.
  virtual void shift(const Instant& by, const Instant& pass_began) = 0;
  // Goes on as another of the same rule would, `by` later. Its tallies, and what began before the other's last pass
  // did, are its own.
  virtual void continue_as(const Monitor& other, const Instant& by, const Instant& pass_began) = 0;
  [[nodiscard]] virtual RuleResult result() const = 0;
  // Nothing that comes can change the result: it need not be told of more pieces.
  [[nodiscard]] virtual bool is_over() const { return false; }

  [[nodiscard]] const RulePlan& plan() const { return plan_; }

 protected:
  // To be told of every piece: keeps how near the rule's condition comes until it is met.
  void approach(const Courses& courses, std::size_t condition);
  [[nodiscard]] bool has_met_all() const;
  // From the least distances as written and at worst.
  [[nodiscard]] RuleResult result_of(const Tally& written, const Tally& worst) const;

  Monitor(const Monitor&) = default;

  const RulePlan& plan_;

 private:
  std::vector<Approach> approaches_;  // of each condition
};

[[nodiscard]] std::unique_ptr<Monitor> make_monitor(const RulePlan& plan);
// That of its kind, whatever its phase.
[[nodiscard]] std::unique_ptr<Monitor> make_whole_monitor(const RulePlan& plan);
// One for each kind of rule, and for those of a phase.
[[nodiscard]] std::unique_ptr<Monitor> make_phase_monitor(const RulePlan& plan);
[[nodiscard]] std::unique_ptr<Monitor> make_always_monitor(const RulePlan& plan);
[[nodiscard]] std::unique_ptr<Monitor> make_before_monitor(const RulePlan& plan);
[[nodiscard]] std::unique_ptr<Monitor> make_within_monitor(const RulePlan& plan);
[[nodiscard]] std::unique_ptr<Monitor> make_edge_monitor(const RulePlan& plan);

// The less, the worse: broken without measure is worst, kept without measure best.
[[nodiscard]] double badness_of(const RuleResult& result);

// An instant that may be remembered, as part of a memory.
void remember(const std::optional<Instant>& instant, const Instant& now, std::vector<double>& memory);
void remember(const std::optional<Place>& place, const Instant& now, std::vector<double>& memory);

// A time inside a piece that begins at `start`: on a whole nanosecond if it is one but for rounding.
[[nodiscard]] Instant instant_at(const Instant& start, double time);
// Seconds from one instant to another less some time, exact where both are whole.
[[nodiscard]] double seconds_between(const Instant& from, const Instant& to, Nanoseconds less);
void shift_if_since(std::optional<Instant>& instant, const Instant& by, const Instant& began);
void shift_if_since(std::optional<Place>& place, const Instant& by, const Instant& began);
// Another's, `by` later, but where both began before `began`. True if it was taken.
bool take_if_since(std::optional<Instant>& own, const std::optional<Instant>& other, const Instant& by,
                   const Instant& began);
bool take_if_since(std::optional<Place>& own, const std::optional<Place>& other, const Instant& by,
                   const Instant& began);

// Sorts times, and makes one of those that differ by rounding only.
void tidy_times(std::vector<double>& times, double length);

// Calls visit(from, to) for the instant at which the piece begins (from = to = 0), then for each stretch between
// `times`, which are tidied.
template <class Visit>
void each_stretch(const Courses& courses, std::vector<double>& times, Visit&& visit) {
  const double length = courses.length();
  visit(0.0, 0.0);
  if (length <= 0) return;
  tidy_times(times, length);
  double from = 0;
  for (const double time : times) {
    visit(from, time);
    from = time;
  }
  visit(from, length);
}

}  // namespace rampart::rules
