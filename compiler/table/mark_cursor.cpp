#include "compiler/table/mark_cursor.h"

namespace rampart {

MarkCursor::MarkCursor(const Table& table) : timeline_(table.timeline().walk()), grid_(coarsest_grid(table)) {}

std::optional<MarkCursor::Item> MarkCursor::next() {
  while (true) {
    if (block_ != nullptr && mark_ < block_->marks.size()) {
      ++given_;
      return mark_of(*block_, block_->marks[mark_++], grid_);
    }
    if (block_ != nullptr && measurement_ < block_->measurements.size()) {
      ++given_;
      return measurement_of(*block_, block_->measurements[measurement_++], grid_);
    }
    const std::optional<TimelineItem> item = timeline_.next();
    const auto* block = item ? std::get_if<const Block*>(&*item) : nullptr;
    block_ = block != nullptr ? *block : nullptr;
    mark_ = 0;
    measurement_ = 0;
    if (!item) return std::nullopt;
    if (const auto* pass = std::get_if<TimelinePassEnded>(&*item)) end_pass(*pass);
    if (std::holds_alternative<TimelineSegmentEnded>(*item)) {
      ++given_;
      return std::nullopt;
    }
  }
}

// Where a pass gave nothing, those to come give nothing either: there may be more of them than anyone waits for.
void MarkCursor::end_pass(const TimelinePassEnded& pass) {
  const auto [end, is_new] = ends_.try_emplace(pass.loop, given_);
  if (!is_new && pass.pass > 1 && pass.remaining > 0 && end->second == given_) timeline_.skip_passes(pass.remaining);
  end->second = given_;
}

}  // namespace rampart
