#pragma once

#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/load/load.h"

namespace rampart {

// What the simulation takes as ideal because the bench or the load says nothing of it, in words.
[[nodiscard]] std::vector<std::string> assumed_of(const Table& table, const Load& load);

}  // namespace rampart
