#include "lang/syntax/expected.h"
#include "lang/syntax/format.h"
#include "lang/syntax/parse.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/targets.h"
#include "tests/support/ast_text.h"
#include "tests/support/parsed.h"

namespace rampart::fuzz {

void profile(std::string_view text) {
  const test::Parsed parsed{std::string(text)};
  for (const Finding& one : parsed.sink.findings()) {
    require(one.span.begin <= one.span.end && one.span.end <= text.size(), "a finding lies in its text");
  }
  static_cast<void>(keywords_of(text));
  // What may stand at a place that the text itself chooses.
  const std::size_t place = text.empty() ? 0 : static_cast<unsigned char>(text.front()) * text.size() / 256;
  static_cast<void>(expected_at(text, static_cast<std::uint32_t>(place)));
  if (parsed.sink.has_errors()) return;
  const std::string formatted = format_profile(parsed.sources, parsed.file, parsed.profile);
  const test::Parsed again(formatted);
  require(again.findings().empty(), "what was formatted is read without findings");
  require(test::ast_text(again.profile) == test::ast_text(parsed.profile), "formatting changes nothing");
  require(again.profile.comments.size() == parsed.profile.comments.size(), "formatting keeps comments");
  require(format_profile(again.sources, again.file, again.profile) == formatted, "formatting is settled");
}

}  // namespace rampart::fuzz
