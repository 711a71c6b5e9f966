#pragma once

#include <string>
#include <string_view>

#include "lang/findings/finding.h"
#include "lang/text/source.h"

namespace rampart {

// Reports the first byte of a bench or load file that cannot be in a text: no UTF-8, or a control character (those that
// turn the direction of writing are some). True if there is none.
[[nodiscard]] bool check_file_text(std::string_view text, FileId file, FindingSink& findings);

// Whether a text holds any of these.
[[nodiscard]] bool has_hidden(std::string_view text);

// A text of the file as a message may quote it: on one line, shortened after 60 bytes.
[[nodiscard]] std::string shown_text(std::string_view text);

}  // namespace rampart
