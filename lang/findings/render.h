#pragma once

#include <string>

#include "lang/findings/finding.h"
#include "lang/text/source.h"

namespace rampart {

// A finding as text: its place, severity, message and name, then the source line with the span underlined, the notes
// likewise, and the hint. Columns count code points; the underline follows the width that a terminal gives the text. A
// finding in a file without text shows no line. `colour` adds the escape sequences of ECMA-48 for bold and colours.
[[nodiscard]] std::string render_text(const Finding& finding, const SourceSet& sources, bool colour = false);

// Its first line alone: place, severity, message and name; and its last: the hint.
[[nodiscard]] std::string render_line(const Finding& finding, const SourceSet& sources, bool colour = false);
[[nodiscard]] std::string render_hint(const Finding& finding, bool colour = false);

}  // namespace rampart
