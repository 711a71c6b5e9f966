#pragma once

#include <cstddef>

namespace rampart {

// True if a table has one row a kind, in the order of its enumerators, of which there are `count`.
template <class Rows>
[[nodiscard]] constexpr bool rows_in_order(const Rows& rows, std::size_t count) {
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (static_cast<std::size_t>(rows[i].kind) != i) return false;
  }
  return rows.size() == count;
}

}  // namespace rampart
