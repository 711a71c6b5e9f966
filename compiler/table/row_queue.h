#pragma once

#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "compiler/table/table.h"

namespace rampart {

// Rows, line rows, marks and measurements that have been made but may still be overwritten at their own instant, in
// table order.
class RowQueue {
 public:
  using SharedPasses = std::shared_ptr<const std::vector<std::int64_t>>;

  explicit RowQueue(std::size_t channels) : channels_(channels) {}

  // Replaces the row of the same channel at the same time. `forced`: given even where nothing changes.
  void put(const Row& row, bool forced);
  void put(const LineRow& row);
  // Marks and measurements come before the rows of their instant: they read what was there until then.
  void put(const MarkReached& mark);
  void put(const MeasurementDue& measurement);

  // What is put from now on belongs to these passes.
  void set_passes(std::span<const std::int64_t> passes);
  [[nodiscard]] const SharedPasses& passes() const { return passes_; }

  [[nodiscard]] bool has_before(Nanoseconds bound) const { return !entries_.empty() && entries_.front().time < bound; }

  [[nodiscard]] bool has_any() const { return !entries_.empty(); }
  [[nodiscard]] Nanoseconds first_time() const { return entries_.front().time; }

  struct Entry {
    Nanoseconds time{0};
    std::size_t order = 0;
    bool forced = false;
    TableItem item;
    SharedPasses passes;
  };
  [[nodiscard]] Entry take();
  // The row of a channel at `time`, if it is queued.
  [[nodiscard]] Row* find(Nanoseconds time, ChannelId channel);

  void shift(Nanoseconds by);
  // Appends what is queued, times counted from `origin`, to a key.
  void append_state(Nanoseconds origin, StateKey& state) const;

 private:
  void insert(Entry entry, bool replace);

  std::size_t channels_;
  SharedPasses passes_ = std::make_shared<const std::vector<std::int64_t>>();
  std::deque<Entry> entries_;  // sorted by time and order
};

}  // namespace rampart
