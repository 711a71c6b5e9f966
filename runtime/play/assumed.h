#pragma once

#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/answer/assumption.h"
#include "runtime/load/load.h"

namespace rampart {

// What the simulation takes as ideal because the bench or the load says nothing of it.
[[nodiscard]] std::vector<Assumption> assumed_of(const Table& table, const Load& load);

}  // namespace rampart
