#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/text/source.h"

// Helps the tests of the readers of bench and load files.
namespace rampart::test {

// "2:5 bad-value: `a` is no voltage | write it anew": place, name, message and hint.
[[nodiscard]] std::string finding_line(const SourceSet& sources, const Finding& finding);
[[nodiscard]] std::vector<std::string> finding_lines(const SourceSet& sources, const FindingSink& findings);

// `text` with the first `from` replaced, which must be there.
[[nodiscard]] std::string with(std::string text, std::string_view from, std::string_view to);

// Random damage to a text: bytes changed, removed, doubled, lines swapped. The same for the same `number`.
[[nodiscard]] std::string damaged(std::string text, std::uint32_t number);

// Every text that one or two keys of `text` make when they are misspelt: each loses its last letter, or becomes `zzz`.
[[nodiscard]] std::vector<std::string> with_wrong_keys(const std::string& text);

// Empty if every span lies in the text of the one file, and there is an error whenever nothing was read.
[[nodiscard]] std::string broken_promise(const SourceSet& sources, const FindingSink& findings, bool was_read);

}  // namespace rampart::test
