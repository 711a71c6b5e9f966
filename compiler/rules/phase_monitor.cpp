#include <algorithm>
#include <limits>

#include "compiler/rules/monitor.h"

// A rule of a phase between two marks: a monitor of its own for each time that the phase comes, and the worst of them.
namespace rampart::rules {
namespace {

// The less of two; one that has no measure is kept without bound, or broken without.
std::optional<double> less_nominal(const RuleResult& a, const RuleResult& b) {
  const auto is_broken_outright = [](const RuleResult& one) { return !one.nominal && !one.holds_as_written; };
  if (is_broken_outright(a) || is_broken_outright(b)) return std::nullopt;
  if (!a.nominal || !b.nominal) return a.nominal ? a.nominal : b.nominal;
  return std::min(*a.nominal, *b.nominal);
}

// Of each condition the greatest distance; empty where it was met at some time.
void take_nearest(std::vector<std::optional<double>>& nearest, const std::vector<std::optional<double>>& others) {
  for (std::size_t i = 0; i < nearest.size() && i < others.size(); ++i) {
    nearest[i] = nearest[i] && others[i] ? std::optional(std::max(*nearest[i], *others[i])) : std::nullopt;
  }
}

RuleResult worse_of(RuleResult a, RuleResult b) {
  if (a.exercised != b.exercised) return a.exercised ? a : b;
  if (!a.exercised) {
    take_nearest(a.nearest, b.nearest);
    return a;
  }
  const std::optional<double> nominal = less_nominal(a, b);
  const bool holds_as_written = a.holds_as_written && b.holds_as_written;
  RuleResult worse = badness_of(b) < badness_of(a) ? std::move(b) : std::move(a);
  worse.nominal = nominal;
  worse.holds_as_written = holds_as_written;
  return worse;
}

class PhaseMonitor final : public Monitor {
 public:
  explicit PhaseMonitor(const RulePlan& plan) : Monitor(plan) {}

  void take(const Courses& courses, const Scene& scene) override {
    if (inner_) inner_->take(courses, scene);
  }
  void mark(std::string_view name, const Scene& scene) override {
    if (inner_ && name == plan_.rule->phase->to) close(scene);
    if (!inner_ && name == plan_.rule->phase->from) inner_ = make_whole_monitor(plan_);
  }
  void finish(const Scene& scene) override {
    if (inner_) close(scene);
  }
  void add_state(const Instant& now, MonitorState& state) const override {
    state.add(inner_ != nullptr);
    if (inner_) inner_->add_state(now, state);
  }
  // Results of phases are merged as they come, and those of different runs are not.
  void add_memory(const Instant& now, std::vector<double>& memory) const override {
    memory.push_back(result_ ? std::numeric_limits<double>::quiet_NaN() : inner_ ? 1 : 0);
    if (inner_) inner_->add_memory(now, memory);
  }
  void shift(const Instant& by, const Instant& pass_began) override {
    if (inner_) inner_->shift(by, pass_began);
  }
  [[nodiscard]] std::unique_ptr<Monitor> clone() const override { return std::make_unique<PhaseMonitor>(*this); }
  void continue_as(const Monitor& other, const Instant& by, const Instant& pass_began) override {
    const auto& from = static_cast<const PhaseMonitor&>(other);
    if (inner_ && !from.inner_) keep(inner_->result());
    if (!from.inner_) {
      inner_.reset();
      return;
    }
    if (!inner_) inner_ = make_whole_monitor(plan_);
    inner_->continue_as(*from.inner_, by, pass_began);
  }
  [[nodiscard]] RuleResult result() const override {
    std::optional<RuleResult> all = result_;
    if (inner_) all = all ? worse_of(*all, inner_->result()) : inner_->result();
    if (all) return *all;
    RuleResult never;
    never.rule = plan_.index;
    never.unit = plan_.unit;
    return never;
  }

  PhaseMonitor(const PhaseMonitor& other)
      : Monitor(other), inner_(other.inner_ ? other.inner_->clone() : nullptr), result_(other.result_) {}
  PhaseMonitor& operator=(const PhaseMonitor&) = delete;
  ~PhaseMonitor() override = default;

 private:
  void close(const Scene& scene) {
    inner_->finish(scene);
    keep(inner_->result());
    inner_.reset();
  }
  void keep(RuleResult result) {
    if (result_) result = worse_of(std::move(*result_), std::move(result));
    result_ = std::move(result);
  }

  std::unique_ptr<Monitor> inner_;    // while the phase lasts
  std::optional<RuleResult> result_;  // of those that are over
};

}  // namespace

double badness_of(const RuleResult& result) {
  if (result.margin) return *result.margin;
  return result.holds ? std::numeric_limits<double>::infinity() : -std::numeric_limits<double>::infinity();
}

std::unique_ptr<Monitor> make_phase_monitor(const RulePlan& plan) {
  return std::make_unique<PhaseMonitor>(plan);
}

}  // namespace rampart::rules
