#include "compiler/export/list_fold.h"

#include <algorithm>

namespace rampart {

void ListFold::add(const ListPoint& point) {
  const auto repeats = [&](std::int64_t period) { return first_[static_cast<std::size_t>(count_ % period)] == point; };
  std::erase_if(periods_, [&](std::int64_t period) { return !repeats(period); });
  if (count_ < memory_) {
    first_.push_back(point);
    periods_.push_back(count_ + 1);
  }
  ++count_;
}

std::optional<ListFold::Result> ListFold::result(std::int64_t passes) const {
  for (const std::int64_t period : periods_) {
    if (count_ % period != 0 || count_ / period > passes) continue;
    if (period < count_ && !can_begin_again(period)) continue;
    return Result{{first_.begin(), first_.begin() + period}, count_ / period};
  }
  return std::nullopt;
}

bool ListFold::can_begin_again(std::int64_t period) const {
  const ListPoint& first = first_.front();
  const ListPoint& last = first_[static_cast<std::size_t>(period - 1)];
  return !runs_straight_ || (first.voltage == last.voltage && first.current == last.current);
}

}  // namespace rampart
