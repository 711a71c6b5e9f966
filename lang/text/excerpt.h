#pragma once

#include <string>

#include "lang/text/source.h"

namespace rampart {

// The source line of a span with its number, and below it a line that underlines the span:
//   5 |   ramp core to 1.35 V over 5 ms
//     |                ^~~~~~
// Tabs become blanks, control characters are shown as U+FFFD, long lines are cut around the span. Empty for a file
// without text.
[[nodiscard]] std::string excerpt(const SourceSet& sources, const Span& span);

}  // namespace rampart
