#include "runtime/play/items_ahead.h"

#include <algorithm>
#include <utility>

namespace rampart {
namespace {

// Items that are read ahead at most.
constexpr std::size_t kMostItems = 16'384;

Nanoseconds time_of(const TableItem& item) {
  return std::visit([](const auto& one) { return one.time; }, item);
}

// All rails meet there.
bool is_meeting(const TableItem& item) {
  return !std::holds_alternative<Row>(item) && !std::holds_alternative<LineRow>(item);
}

}  // namespace

ItemsAhead::ItemsAhead(const Table& table) : rail_of_(table.bench().channels.size()), rows_(table.rails().size()) {
  for (std::size_t i = 0; i < table.rails().size(); ++i) {
    for (const ChannelId channel : table.rails()[i].members) rail_of_[static_cast<std::size_t>(channel)] = i;
  }
}

std::optional<ItemsAhead::Item> ItemsAhead::take(RowCursor& cursor) {
  if (taken_from_) rows_[*std::exchange(taken_from_, std::nullopt)].pop_front();
  if (is_empty()) read(cursor);
  if (is_empty()) return std::nullopt;
  Item item = std::move(items_[next_++]);
  if (const auto* row = std::get_if<Row>(&item.what)) taken_from_ = rail_of_[static_cast<std::size_t>(row->channel)];
  return item;
}

void ItemsAhead::read(RowCursor& cursor) {
  items_.clear();
  next_ = 0;
  while (items_.size() < kMostItems) {
    std::optional<TableItem> item = cursor.next();
    if (!item) return;
    const std::span<const std::int64_t> passes = cursor.passes();
    if (passes_ == nullptr || !std::equal(passes.begin(), passes.end(), passes_->begin(), passes_->end())) {
      passes_ = std::make_shared<const Passes>(passes.begin(), passes.end());
    }
    end_ = time_of(*item);
    if (const auto* row = std::get_if<Row>(&*item)) {
      const std::optional<std::size_t> rail = rail_of_[static_cast<std::size_t>(row->channel)];
      if (rail) rows_[*rail].push_back(row->time);
    }
    const bool is_last = is_meeting(*item);
    items_.push_back({std::move(*item), passes_});
    if (is_last) return;
  }
}

std::optional<Nanoseconds> ItemsAhead::next_of(std::size_t rail) const {
  if (!rows_[rail].empty()) return rows_[rail].front();
  return is_empty() ? std::nullopt : std::optional(end_);
}

void ItemsAhead::clear() {
  items_.clear();
  next_ = 0;
  for (std::deque<Nanoseconds>& rows : rows_) rows.clear();
  taken_from_.reset();
}

}  // namespace rampart
