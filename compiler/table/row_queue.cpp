#include "compiler/table/row_queue.h"

#include <algorithm>
#include <tuple>

#include "lang/text/overloaded.h"

namespace rampart {
namespace {

using Key = std::tuple<Nanoseconds, std::size_t>;

Key key(const RowQueue::Entry& entry) {
  return {entry.time, entry.order};
}

}  // namespace

void RowQueue::put(const Row& row, bool forced) {
  insert({row.time, 1 + static_cast<std::size_t>(row.channel), forced, row, passes_}, true);
}

void RowQueue::put(const LineRow& row) {
  insert({row.time, 1 + channels_ + static_cast<std::size_t>(row.line), false, row, passes_}, true);
}

void RowQueue::put(const MarkReached& mark) {
  insert({mark.time, 0, true, mark, passes_}, false);
}

void RowQueue::put(const MeasurementDue& measurement) {
  insert({measurement.time, 0, true, measurement, passes_}, false);
}

void RowQueue::set_passes(std::span<const std::int64_t> passes) {
  if (std::equal(passes.begin(), passes.end(), passes_->begin(), passes_->end())) return;
  passes_ = std::make_shared<const std::vector<std::int64_t>>(passes.begin(), passes.end());
}

void RowQueue::insert(Entry entry, bool replace) {
  auto place = entries_.end();
  // Nearly everything arrives in order, at the end.
  if (!entries_.empty() && key(entries_.back()) > key(entry)) {
    place = std::upper_bound(entries_.begin(), entries_.end(), key(entry),
                             [](const Key& wanted, const Entry& e) { return wanted < key(e); });
  }
  if (replace && place != entries_.begin() && key(*(place - 1)) == key(entry)) {
    entry.forced = entry.forced || (place - 1)->forced;
    *(place - 1) = std::move(entry);
  } else {
    entries_.insert(place, std::move(entry));
  }
}

RowQueue::Entry RowQueue::take() {
  Entry entry = std::move(entries_.front());
  entries_.pop_front();
  return entry;
}

Row* RowQueue::find(Nanoseconds time, ChannelId channel) {
  const Key wanted{time, 1 + static_cast<std::size_t>(channel)};
  const auto place = std::lower_bound(entries_.begin(), entries_.end(), wanted,
                                      [](const Entry& e, const Key& w) { return key(e) < w; });
  return place != entries_.end() && key(*place) == wanted ? std::get_if<Row>(&place->item) : nullptr;
}

void RowQueue::shift(Nanoseconds by) {
  for (Entry& entry : entries_) {
    entry.time += by;
    std::visit(Overloaded{[by](Row& row) {
                            row.time += by;
                            row.until += by;
                          },
                          [by](auto& item) { item.time += by; }},
               entry.item);
  }
}

void RowQueue::append_state(Nanoseconds origin, StateKey& state) const {
  for (const Entry& entry : entries_) {
    state.add((entry.time - origin).count());
    state.add(static_cast<std::int64_t>(entry.order));
    if (const auto* row = std::get_if<Row>(&entry.item)) {
      for (const std::int64_t number : {row->voltage, row->current, std::int64_t{row->output},
                                        (row->until - origin).count(), row->voltage_until, row->current_until}) {
        state.add(number);
      }
    } else if (const auto* line = std::get_if<LineRow>(&entry.item)) {
      state.add(std::int64_t{line->high});
    }
  }
}

}  // namespace rampart
