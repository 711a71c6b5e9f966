#include "compiler/rules/monitor.h"

// `always CONDITION [while PREMISE]`: the least distance over the time in which the premise holds.
namespace rampart::rules {
namespace {

class AlwaysMonitor final : public Monitor {
 public:
  explicit AlwaysMonitor(const RulePlan& plan) : Monitor(plan), has_premise_(plan.conditions.size() > 1) {}

  void take(const Courses& courses, const Scene& scene) override {
    if (has_premise_) approach(courses, 1);
    take(courses, scene, Reading::AsWritten, Reading::AsWritten, written_);
    take(courses, scene, Reading::Surely, Reading::Possibly, worst_);
  }
  void finish(const Scene&) override {}
  void add_state(const Instant&, MonitorState&) const override {}
  void add_memory(const Instant&, std::vector<double>&) const override {}
  void shift(const Instant&, const Instant&) override {}
  [[nodiscard]] std::unique_ptr<Monitor> clone() const override { return std::make_unique<AlwaysMonitor>(*this); }
  void continue_as(const Monitor&, const Instant&, const Instant&) override {}
  [[nodiscard]] RuleResult result() const override { return result_of(written_, worst_); }

 private:
  void take(const Courses& courses, const Scene& scene, Reading condition, Reading premise, Tally& tally) {
    if (!has_premise_) {
      meet(courses, scene, condition, 0, courses.length(), tally);
      return;
    }
    std::vector<double> times;
    courses.add_changes(1, premise, times);
    each_stretch(courses, times, [&](double from, double to) {
      if (courses.holds(1, premise, from + (to - from) / 2)) meet(courses, scene, condition, from, to, tally);
    });
  }

  void meet(const Courses& courses, const Scene& scene, Reading condition, double from, double to, Tally& tally) {
    const std::optional<Least> least = courses.least_below(0, condition, from, to, tally.least());
    if (least) {
      tally.meet(least->value, plan_, scene, instant_at(scene.start, least->time));
    } else if (!tally.met()) {
      tally.meet(std::numeric_limits<double>::infinity(), plan_, scene, instant_at(scene.start, from));
    }
  }

  bool has_premise_;
  Tally written_;
  Tally worst_;
};

}  // namespace

std::unique_ptr<Monitor> make_always_monitor(const RulePlan& plan) {
  return std::make_unique<AlwaysMonitor>(plan);
}

}  // namespace rampart::rules
