#pragma once

#include <array>
#include <string_view>

#include "compiler/yaml/file_values.h"

// The keys of a load file, map by map; those of its elements stand with the elements. docs/load.schema.json has the
// same under the same names, and docs/load.md says what each means; a test compares them.
namespace rampart::load_keys {

inline constexpr std::array<std::string_view, 3> kLoad{"load", "rails", "faults"};
inline constexpr std::array<std::string_view, 2> kRail{"wire", "elements"};
inline constexpr std::array<std::string_view, 3> kFault{"rail", "at", "becomes"};

inline constexpr std::array<KeyTable, 3> kTables{{{"load", kLoad}, {"rail", kRail}, {"fault", kFault}}};

}  // namespace rampart::load_keys
