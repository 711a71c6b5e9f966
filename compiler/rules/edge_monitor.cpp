#include <algorithm>
#include <cmath>

#include "compiler/rules/monitor.h"

// `R rises from a to b [within T]`, and `falls`: every way from the last instant at or beyond the one level to the
// first at or beyond the other, without turning back in between. What turns back to where it started was no such way.
namespace rampart::rules {
namespace {

constexpr double kNeverMet = -std::numeric_limits<double>::infinity();

class EdgeMonitor final : public Monitor {
 public:
  explicit EdgeMonitor(const RulePlan& plan)
      : Monitor(plan), within_(std::get<MonotonicRule>(plan.rule->what).within) {}

  void take(const Courses& courses, const Scene& scene) override {
    for (const std::size_t condition : {0U, 1U}) approach(courses, condition);
    std::vector<double> times;
    for (const std::size_t condition : {0U, 1U}) {
      for (const Follow* follow : {&written_, &worst_}) {
        courses.add_changes(condition, follow->reading(condition), times);
      }
    }
    if (times.empty() && !is_under_way(courses)) {
      // Where it turns around does not matter.
      take(courses, scene, 0, 0);
      if (courses.length() > 0) take(courses, scene, 0, courses.length());
      return;
    }
    courses.add_turns(times);
    each_stretch(courses, times, [&](double from, double to) { take(courses, scene, from, to); });
  }

  void finish(const Scene&) override {
    if (within_ && owed_) worst_.tally.meet(kNeverMet, *owed_);
  }

  void add_state(const Instant& now, MonitorState& state) const override {
    const double oldest = within_ ? to_seconds(*within_).to_double() : 0;
    for (const Follow* follow : {&written_, &worst_}) {
      state.add(follow->armed);
      state.add_age(follow->left, now, oldest);
    }
    state.add(owed_.has_value());
    if (!written_.left) return;
    state.add(peak_, std::abs(peak_));
    state.add(fall_, std::abs(peak_));
  }

  void add_memory(const Instant& now, std::vector<double>& memory) const override {
    for (const Follow* follow : {&written_, &worst_}) {
      memory.push_back(follow->armed ? 1 : 0);
      remember(follow->left, now, memory);
    }
    remember(owed_, now, memory);
    // One that has fallen is not compared with one that has only been slow.
    memory.push_back(falls_.met() ? 1 : 0);
    if (!written_.left) return;
    memory.insert(memory.end(), {peak_, fall_, fall_ > 0 ? fell_.since(now) : 0});
  }

  void shift(const Instant& by, const Instant& pass_began) override {
    shift_if_since(written_.left, by, pass_began);
    shift_if_since(worst_.left, by, pass_began);
    shift_if_since(owed_, by, pass_began);
  }

  [[nodiscard]] std::unique_ptr<Monitor> clone() const override { return std::make_unique<EdgeMonitor>(*this); }
  void continue_as(const Monitor& other, const Instant& by, const Instant& pass_began) override {
    const auto& from = static_cast<const EdgeMonitor&>(other);
    if (written_.continue_as(from.written_, by, pass_began)) {
      peak_ = from.peak_;
      fall_ = from.fall_;
      fell_ = from.fell_.plus(by);
    }
    worst_.continue_as(from.worst_, by, pass_began);
    take_if_since(owed_, from.owed_, by, pass_began);
  }

  [[nodiscard]] RuleResult result() const override {
    RuleResult result;
    if (falls_.met()) {
      result = result_of(falls_, falls_);
      result.unit = "V";
    } else {
      result = result_of(written_.tally, worst_.tally);
    }
    return result;
  }

 private:
  struct Follow {
    Follow(Reading left_way, Reading reached_way) : left_reading(left_way), reached_reading(reached_way) {}

    Reading left_reading;
    Reading reached_reading;
    Tally tally;
    bool armed = false;           // it has been at or beyond the level where it starts
    std::optional<Instant> left;  // the level where it starts
    bool has_left = false;
    bool has_reached = false;

    bool continue_as(const Follow& other, const Instant& by, const Instant& pass_began) {
      armed = other.armed;
      has_left = other.has_left;
      has_reached = other.has_reached;
      return take_if_since(left, other.left, by, pass_began);
    }
    [[nodiscard]] Reading reading(std::size_t condition) const {
      return condition == 0 ? left_reading : reached_reading;
    }
  };

  // In a piece in which no condition changes: whether it is on a way from the one level to the other.
  [[nodiscard]] bool is_under_way(const Courses& courses) const {
    const double middle = courses.length() / 2;
    return (written_.left || written_.armed) && courses.holds(0, written_.left_reading, middle) &&
           !courses.holds(1, written_.reached_reading, middle);
  }

  void take(const Courses& courses, const Scene& scene, double from, double to) {
    const double middle = from + (to - from) / 2;
    const Instant at = instant_at(scene.start, from);
    for (Follow* follow : {&written_, &worst_}) {
      follow->has_left = courses.holds(0, follow->left_reading, middle);
      follow->has_reached = courses.holds(1, follow->reached_reading, middle);
      if (!follow->has_left) {
        follow->armed = true;
        follow->left.reset();
      } else if (follow->armed && !follow->left) {
        follow->left = at;
        if (follow == &written_) peak_ = fall_ = 0;
      }
    }
    take_written(courses, scene, at, from, to);
    if (within_) take_worst(scene, at);
  }

  void take_written(const Courses& courses, const Scene& scene, const Instant& at, double from, double to) {
    if (!written_.left) return;
    if (!written_.has_reached) {
      for (const double time : {from, to}) {
        const double height = courses.height(time);
        peak_ = std::max(peak_, height);
        if (peak_ - height <= std::max(fall_, courses.height_noise())) continue;
        fall_ = peak_ - height;
        fell_ = instant_at(scene.start, time);
      }
      return;
    }
    if (fall_ > 0) falls_.meet(-fall_, plan_, scene, fell_);
    const double time_left =
        within_ ? -seconds_between(*written_.left, at, *within_) : std::numeric_limits<double>::infinity();
    written_.tally.meet(time_left, plan_, scene, at);
    written_.left.reset();
    written_.armed = false;
    owed_ = place_of(plan_, scene, at);
  }

  // The level must be reached whatever accuracy does, before the next way begins.
  void take_worst(const Scene& scene, const Instant& at) {
    if (owed_ && worst_.has_reached) owed_.reset();
    if (owed_ && !written_.has_left) {
      worst_.tally.meet(kNeverMet, *owed_);
      owed_.reset();
    }
    if (!worst_.left || !worst_.has_reached) return;
    worst_.tally.meet(-seconds_between(*worst_.left, at, *within_ - plan_.skew), plan_, scene, at);
    worst_.left.reset();
    worst_.armed = false;
  }

  std::optional<Nanoseconds> within_;
  Follow written_{Reading::AsWritten, Reading::AsWritten};
  Follow worst_{Reading::Possibly, Reading::Surely};
  std::optional<Place> owed_;  // reached as written then, but not yet whatever accuracy does
  // On the present way.
  double peak_ = 0;
  double fall_ = 0;
  Instant fell_;
  Tally falls_;
};

}  // namespace

std::unique_ptr<Monitor> make_edge_monitor(const RulePlan& plan) {
  return std::make_unique<EdgeMonitor>(plan);
}

}  // namespace rampart::rules
