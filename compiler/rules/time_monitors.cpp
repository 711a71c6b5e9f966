#include "compiler/rules/monitor.h"

// `A before B by T` and `A within T after B`: the time that is left. Each rule is followed twice: as written, and with
// A as late and B as early as accuracy, stairs and skew let them be.
namespace rampart::rules {
namespace {

constexpr double kNever = -std::numeric_limits<double>::infinity();

// The truths of A and B as they come, and what is remembered of them.
struct Turn {
  Instant at;
  bool first = false;   // A, or the response
  bool second = false;  // B, or what calls for it
};

class TimeMonitor : public Monitor {
 public:
  using Monitor::Monitor;

  void take(const Courses& courses, const Scene& scene) override {
    for (const std::size_t condition : {0U, 1U}) approach(courses, condition);
    follow(courses, scene, Reading::AsWritten, Reading::AsWritten, false);
    follow(courses, scene, Reading::Surely, Reading::Possibly, true);
  }

 protected:
  // `at_worst` tells the two ways of following the rule apart.
  virtual void turn(const Turn& turn, const Scene& scene, bool at_worst) = 0;

  [[nodiscard]] Nanoseconds allowance(bool at_worst) const { return at_worst ? plan_.skew : Nanoseconds{0}; }

 private:
  void follow(const Courses& courses, const Scene& scene, Reading first, Reading second, bool at_worst) {
    std::vector<double> times;
    courses.add_changes(0, first, times);
    courses.add_changes(1, second, times);
    each_stretch(courses, times, [&](double from, double to) {
      const double middle = from + (to - from) / 2;
      turn({instant_at(scene.start, from), courses.holds(0, first, middle), courses.holds(1, second, middle)}, scene,
           at_worst);
    });
  }
};

class BeforeMonitor final : public TimeMonitor {
 public:
  explicit BeforeMonitor(const RulePlan& plan) : TimeMonitor(plan), by_(std::get<BeforeRule>(plan.rule->what).by) {}

  void finish(const Scene&) override {
    for (Follow* follow : {&written_, &worst_}) {
      if (follow->late_since) follow->tally.meet(kNever, *follow->late_since);
    }
  }
  void add_state(const Instant& now, MonitorState& state) const override {
    for (const Follow* follow : {&written_, &worst_}) {
      state.add(follow->tally.met());
      // How late A is, or how long it holds, is counted from an instant that does not move: its age is no state.
      state.add(follow->late_since.has_value());
      state.add_age(follow->tally.met() ? std::nullopt : follow->first_since, now, to_seconds(by_).to_double());
    }
  }
  void add_memory(const Instant& now, std::vector<double>& memory) const override {
    for (const Follow* follow : {&written_, &worst_}) {
      memory.push_back(follow->tally.met() ? 1 : 0);
      if (follow->tally.met()) continue;
      remember(follow->first_since, now, memory);
      remember(follow->late_since, now, memory);
    }
  }
  void shift(const Instant& by, const Instant& pass_began) override {
    for (Follow* follow : {&written_, &worst_}) {
      shift_if_since(follow->first_since, by, pass_began);
      shift_if_since(follow->late_since, by, pass_began);
    }
  }
  [[nodiscard]] std::unique_ptr<Monitor> clone() const override { return std::make_unique<BeforeMonitor>(*this); }
  void continue_as(const Monitor& other, const Instant& by, const Instant& pass_began) override {
    const auto& from = static_cast<const BeforeMonitor&>(other);
    written_.continue_as(from.written_, by, pass_began);
    worst_.continue_as(from.worst_, by, pass_began);
  }
  [[nodiscard]] RuleResult result() const override { return result_of(written_.tally, worst_.tally); }
  [[nodiscard]] bool is_over() const override { return written_.tally.met() && worst_.tally.met() && has_met_all(); }

 protected:
  void turn(const Turn& turn, const Scene& scene, bool at_worst) override {
    Follow& follow = at_worst ? worst_ : written_;
    if (follow.tally.met()) return;
    if (!turn.first) follow.first_since.reset();
    if (turn.first && !follow.first_since) follow.first_since = turn.at;
    if (!follow.late_since && !turn.second) return;
    if (!turn.first) {
      if (!follow.late_since) follow.late_since = place_of(plan_, scene, turn.at);
      return;
    }
    const Instant second = follow.late_since ? follow.late_since->at : turn.at;
    follow.tally.meet(seconds_between(*follow.first_since, second, by_ + allowance(at_worst)), plan_, scene, turn.at);
    follow.late_since.reset();
  }

 private:
  struct Follow {
    Tally tally;  // one occurrence: the first
    std::optional<Instant> first_since;
    std::optional<Place> late_since;  // B has come, and A has not

    void continue_as(const Follow& other, const Instant& by, const Instant& pass_began) {
      take_if_since(first_since, other.first_since, by, pass_began);
      take_if_since(late_since, other.late_since, by, pass_began);
    }
  };

  Nanoseconds by_;
  Follow written_;
  Follow worst_;
};

class WithinMonitor final : public TimeMonitor {
 public:
  explicit WithinMonitor(const RulePlan& plan) : TimeMonitor(plan), time_(std::get<WithinRule>(plan.rule->what).time) {}

  // Where the run ends before the time is up, nothing is known.
  void finish(const Scene& scene) override {
    for (Follow* follow : {&written_, &worst_}) {
      if (!follow->open || seconds_between(follow->open->at, scene.start, time_) <= 0) continue;
      follow->tally.meet(kNever, *follow->open);
    }
  }
  void add_state(const Instant& now, MonitorState& state) const override {
    for (const Follow* follow : {&written_, &worst_}) {
      state.add(follow->called);
      state.add_age(follow->open ? std::optional(follow->open->at) : std::nullopt, now, to_seconds(time_).to_double());
    }
  }
  void add_memory(const Instant& now, std::vector<double>& memory) const override {
    for (const Follow* follow : {&written_, &worst_}) {
      memory.push_back(follow->called ? 1 : 0);
      remember(follow->open, now, memory);
    }
  }
  void shift(const Instant& by, const Instant& pass_began) override {
    for (Follow* follow : {&written_, &worst_}) shift_if_since(follow->open, by, pass_began);
  }
  [[nodiscard]] std::unique_ptr<Monitor> clone() const override { return std::make_unique<WithinMonitor>(*this); }
  void continue_as(const Monitor& other, const Instant& by, const Instant& pass_began) override {
    const auto& from = static_cast<const WithinMonitor&>(other);
    written_.continue_as(from.written_, by, pass_began);
    worst_.continue_as(from.worst_, by, pass_began);
  }
  [[nodiscard]] RuleResult result() const override { return result_of(written_.tally, worst_.tally); }

 protected:
  void turn(const Turn& turn, const Scene& scene, bool at_worst) override {
    Follow& follow = at_worst ? worst_ : written_;
    const bool calls = turn.second && !follow.called;
    follow.called = turn.second;
    if (calls && !follow.open) follow.open = place_of(plan_, scene, turn.at);
    if (!follow.open || !turn.first) return;
    follow.tally.meet(-seconds_between(follow.open->at, turn.at, time_ - allowance(at_worst)), plan_, scene, turn.at);
    follow.open.reset();
  }

 private:
  struct Follow {
    Tally tally;
    bool called = false;        // B holds
    std::optional<Place> open;  // the first call that is not answered: the one with the least time left

    void continue_as(const Follow& other, const Instant& by, const Instant& pass_began) {
      called = other.called;
      take_if_since(open, other.open, by, pass_began);
    }
  };

  Nanoseconds time_;
  Follow written_;
  Follow worst_;
};

}  // namespace

std::unique_ptr<Monitor> make_before_monitor(const RulePlan& plan) {
  return std::make_unique<BeforeMonitor>(plan);
}

std::unique_ptr<Monitor> make_within_monitor(const RulePlan& plan) {
  return std::make_unique<WithinMonitor>(plan);
}

}  // namespace rampart::rules
