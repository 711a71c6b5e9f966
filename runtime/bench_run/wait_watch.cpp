#include "runtime/bench_run/wait_watch.h"

namespace rampart::bench_run {

WaitWatch::WaitWatch(const TableWait& wait, const Plan& plan, Clock::time_point begin) : wait_(wait), begin_(begin) {
  if (const auto* line = std::get_if<LineWait>(&wait.what)) line_ = plan.find_line(line->line);
}

bool WaitWatch::line_has_come() const {
  return line_ && level_ && level_->line == *line_ && level_->asked >= begin_ &&
         level_->high == std::get<LineWait>(wait_.what).high;
}

std::optional<WaitWatch::End> WaitWatch::look(Clock::time_point now, Person& person,
                                              const RecentReadings& recent) const {
  if (asked() != nullptr) {
    const std::optional<bool> answer = person.answer();
    if (answer) return *answer ? End::Operator : End::NotYes;
  }
  if (line_has_come()) return End::Line;
  // One reading may be a glitch: two in a row, both begun after the wait did.
  if (const auto* condition = std::get_if<ConditionWait>(&wait_.what)) {
    if (recent.holds(*condition, 0, begin_) == true && recent.holds(*condition, 1, begin_) == true) {
      return End::Condition;
    }
  }
  return now >= until() ? std::optional(End::Timeout) : std::nullopt;
}

}  // namespace rampart::bench_run
