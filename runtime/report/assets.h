#pragma once

#include <string_view>

// Files that are part of the program, as they were when it was built.
namespace rampart::report {

[[nodiscard]] std::string_view page_style();
// The chart library, its notice at its beginning, and what the page does with it.
[[nodiscard]] std::string_view page_script();

}  // namespace rampart::report
