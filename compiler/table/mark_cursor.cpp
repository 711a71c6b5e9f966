#include "compiler/table/mark_cursor.h"

namespace rampart {

MarkCursor::MarkCursor(const Table& table) : timeline_(table.timeline().walk()), grid_(coarsest_grid(table)) {}

std::optional<MarkCursor::Item> MarkCursor::next() {
  while (true) {
    if (block_ != nullptr && mark_ < block_->marks.size()) return mark_of(*block_, block_->marks[mark_++], grid_);
    if (block_ != nullptr && measurement_ < block_->measurements.size()) {
      return measurement_of(*block_, block_->measurements[measurement_++], grid_);
    }
    const std::optional<TimelineItem> item = timeline_.next();
    const auto* block = item ? std::get_if<const Block*>(&*item) : nullptr;
    block_ = block != nullptr ? *block : nullptr;
    mark_ = 0;
    measurement_ = 0;
    if (!item || std::holds_alternative<TimelineSegmentEnded>(*item)) return std::nullopt;
  }
}

}  // namespace rampart
