#pragma once

#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/diff/table_difference.h"

namespace rampart::diff {

// Compares waits of two profiles by what they wait for, whatever rails and lines are called.
class WaitComparison {
 public:
  WaitComparison(const Table& before, const Table& after, const Partners& partners)
      : before_(before), after_(after), partners_(partners) {}

  // Adds what is not the same.
  void compare(const Await& before, const Await& after, const std::string& segment,
               std::vector<WaitChange>& changes) const;

 private:
  [[nodiscard]] bool same(const Await& before, const Await& after) const;
  [[nodiscard]] bool same(const Condition& before, const Condition& after) const;
  [[nodiscard]] bool same(const LinearForm& before, const LinearForm& after) const;

  const Table& before_;
  const Table& after_;
  const Partners& partners_;
};

}  // namespace rampart::diff
