#pragma once

#include <string>

#include "compiler/table/table.h"
#include "runtime/load/load.h"

namespace rampart {

// Says where the stairs of a ramp are what draws more than a current: how high they are, what each draws, and how slow
// a ramp stays below it. Both outlive it.
class Stairs {
 public:
  Stairs(const Table& table, const Load& load) : table_(table), load_(load) {}

  // Empty where something else draws the current, or where that cannot be told from resistances and capacitances alone.
  // The statement brings the rail to where it draws more than `most_A`.
  [[nodiscard]] std::string words(RailId rail, const Span& statement, double most_A) const;

 private:
  const Table& table_;
  const Load& load_;
};

}  // namespace rampart
