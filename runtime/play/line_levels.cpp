#include "runtime/play/line_levels.h"

#include <algorithm>

namespace rampart {

void LineLevels::set(LineId line, bool high, const Instant& now, const Doing& doing) {
  const auto at = static_cast<std::size_t>(line);
  if (levels_[at] == high) return;
  levels_[at] = high;
  Event event;
  event.time_s = now.seconds();
  event.kind = high ? EventKind::LineHigh : EventKind::LineLow;
  event.statement = doing.statement;
  event.passes = doing.passes;
  event.line = line;
  events_->add(std::move(event));
}

void LineLevels::follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes) {
  for (std::size_t i = 0; i < profile_->lines.size(); ++i) {
    const Line& line = profile_->lines[i];
    if (!line.is_output || line.trigger == LineTrigger::None) continue;
    const bool high = std::any_of(line.rails.begin(), line.rails.end(), [&](RailId rail) {
      const RailRun& run = *rails[static_cast<std::size_t>(rail)];
      return line.trigger == LineTrigger::Trip ? run.tripped() : run.limited();
    });
    set(LineId{static_cast<std::uint32_t>(i)}, high, now, {line.span, passes});
  }
}

}  // namespace rampart
