#pragma once

#include <cstddef>
#include <cstdio>
#include <map>
#include <string>

#include "runtime/audit/record.h"

namespace rampart::audit {

// Names of segments whose rows come before their name, by their place among the segments. A program that writes JSON
// anew may put the keys of an object in any order.
using SegmentNames = std::map<std::size_t, std::string>;

// Reads what has to be known of a table before its rows: set-up, origin, and names that come late (at most
// kMaxRecorded). Ends at the first mistake, which is for who reads the rows to report.
[[nodiscard]] Record read_outline(std::FILE* stream, SegmentNames& names);

}  // namespace rampart::audit
