#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "compiler/rules/monitor.h"
#include "compiler/table/table.h"
#include "runtime/as_run/answer.h"
#include "runtime/as_run/measured_courses.h"

namespace rampart::as_run {

// The rules of a profile on what was measured: a rule passes with the uncertainty taken off its margin, and fails with
// it added. What is between two readings is known where the bench bounds how fast a rail moves.
class RuleCheck {
 public:
  explicit RuleCheck(const Table& table);

  // What a rail is at a time of the run, which never goes back, s.
  void take(std::size_t rail, double run_s, const RailPoint& point);
  // `is_whole`: the log has readings all the way. `figures` by rail.
  [[nodiscard]] std::vector<MeasuredResult> finish(double end_s, bool is_whole,
                                                   const std::vector<MeasuredFigures>& figures);

 private:
  // One rule, with the uncertainty against it and for it.
  struct Watched {
    std::unique_ptr<rules::Monitor> at_worst;  // also between two readings, as far as the bench bounds that
    std::unique_ptr<rules::Monitor> at_readings;
    std::unique_ptr<rules::Monitor> at_best;
  };
  void end_instant();
  // Points that were read before `at_s`, with what they may have moved since, and between two instants `length` apart.
  [[nodiscard]] std::vector<RailPoint> moved(std::vector<RailPoint> points, double at_s, double length) const;
  [[nodiscard]] bool is_measured(const rules::RulePlan& plan) const;
  [[nodiscard]] bool is_bounded(const rules::RulePlan& plan) const;
  // Why what holds at every reading need not hold between two.
  [[nodiscard]] std::string why_unsure(const rules::RulePlan& plan) const;
  [[nodiscard]] MeasuredResult result_of(const Watched& watched, bool is_whole,
                                         const std::vector<MeasuredFigures>& figures) const;

  std::vector<rules::RulePlan> plans_;
  std::vector<Watched> watched_;
  std::vector<double> signs_;
  std::vector<double> slews_;         // V/s by rail; 0: not declared
  std::vector<Range<double>> reach_;  // V by rail: what its supply can give, with its sign
  std::vector<rules::RailDoing> doing_;
  std::vector<RailPoint> last_;     // at the last instant that is over
  std::vector<RailPoint> present_;  // at the one that goes on
  double longest_ = 0;              // between two instants, s
  double last_s_ = 0;
  double present_s_ = 0;
  bool has_last_ = false;
  bool has_present_ = false;
};

}  // namespace rampart::as_run
