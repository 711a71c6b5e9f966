#include "compiler/export/list_fold.h"

namespace rampart {

void ListFold::add(const ListPoint& point) {
  if (is_beyond()) {
    ++count_;
  } else if (count_ < 2 * memory_) {
    keep(point);
  } else {
    // Two periods that fit into half of the sequence have one in common that divides both (N. J. Fine, H. S. Wilf,
    // Proc. AMS 16 (1965) 109): if the least one ends here, so do all others.
    if (first(count_ % period_) != point) period_ = 0;
    ++count_;
  }
}

// The borders of all starts, each from those before it (D. E. Knuth, J. H. Morris, V. R. Pratt, SIAM J. Comput. 6
// (1977) 323).
void ListFold::keep(const ListPoint& point) {
  std::int64_t border = borders_.empty() ? 0 : borders_.back();
  while (border > 0 && first(border) != point) border = borders_[static_cast<std::size_t>(border - 1)];
  if (count_ > 0 && first(border) == point) ++border;
  first_.push_back(point);
  borders_.push_back(border);
  ++count_;
  period_ = count_ - border;
  if (count_ == 2 * memory_ && period_ > memory_) period_ = 0;
}

bool ListFold::repeat(std::int64_t points, std::int64_t times) {
  std::int64_t left = points * times;
  // Whole periods go on with the period.
  if (left > 0 && !is_beyond() && points % period_ != 0) return false;
  for (; left > 0 && count_ < 2 * memory_; --left) add(ListPoint(first(count_ % period_)));
  count_ += left;
  return true;
}

std::optional<ListFold::Result> ListFold::result(std::int64_t passes) const {
  if (count_ == 0 || is_beyond()) return std::nullopt;
  const auto played = [&](std::int64_t points) {
    return Result{{first_.begin(), first_.begin() + points}, count_ / points};
  };
  // All periods that divide the sequence are multiples of the least one.
  if (count_ % period_ == 0 && can_begin_again()) {
    for (std::int64_t points = period_; points < count_ && points <= memory_; points += period_) {
      if (count_ % points == 0 && count_ / points <= passes) return played(points);
    }
  }
  if (count_ > memory_ || passes < 1) return std::nullopt;
  return played(count_);
}

bool ListFold::can_begin_again() const {
  const ListPoint& last = first(period_ - 1);
  return !runs_straight_ || (first(0).voltage == last.voltage && first(0).current == last.current);
}

}  // namespace rampart
