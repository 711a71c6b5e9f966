#pragma once

#include <cstddef>
#include <deque>
#include <memory>
#include <optional>
#include <vector>

#include "compiler/table/table.h"
#include "lang/values/instant.h"

namespace rampart {

// The items of a table in their order, read ahead up to the next one at which all rails meet: a mark, a measurement,
// the end of a pass or of a segment. So it is known when the next row of each rail comes, whatever rows of others come
// before it.
class ItemsAhead {
 public:
  struct Item {
    TableItem what;
    std::shared_ptr<const Passes> passes;
  };

  explicit ItemsAhead(const Table& table);

  // The next item. None at the end of the table. Where no more items are ahead, the cursor stands behind it.
  [[nodiscard]] std::optional<Item> take(RowCursor& cursor);
  // When the next row of a rail comes, or what stands for it: the item at which all rails meet, or the last one that
  // was read. The item taken last is still to come. None if nothing is ahead of that.
  [[nodiscard]] std::optional<Nanoseconds> next_of(std::size_t rail) const;
  // The item taken last has come, or what was read ahead does not.
  void clear();

 private:
  void read(RowCursor& cursor);
  [[nodiscard]] bool is_empty() const { return next_ == items_.size(); }

  std::vector<std::optional<std::size_t>> rail_of_;  // by channel
  std::vector<Item> items_;                          // read ahead, and taken up to `next_`
  std::size_t next_ = 0;
  std::vector<std::deque<Nanoseconds>> rows_;  // of each rail, that of the item taken last included
  std::optional<std::size_t> taken_from_;      // the rail of that, if it is a row
  Nanoseconds end_{0};                         // of the last item read
  std::shared_ptr<const Passes> passes_;
};

}  // namespace rampart
