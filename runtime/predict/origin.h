#pragma once

#include <string>
#include <vector>

#include "compiler/compile/compile.h"
#include "compiler/export/origin.h"
#include "runtime/load/load.h"

namespace rampart {

// The files and parameters that an answer was made from. The compiled profile is whole; without a load `load` is null.
[[nodiscard]] Origin origin_of(const Compiled& compiled, const Load* load);

// A line for each thing that decides what comes of it: program, files by their digests, parameters. What parts of one
// piece of work have in common.
[[nodiscard]] std::vector<std::string> origin_lines(const Origin& origin);

// The first file whose name is no UTF-8, which JSON cannot hold, with `?` for what is none; empty if there is none.
[[nodiscard]] std::string name_not_utf8(const Origin& origin);

// Where the set-up and origin of a table stand that does not hold them itself: beside it, as "FILE.setup.json".
[[nodiscard]] std::string setup_path(const std::string& table_path);

}  // namespace rampart
