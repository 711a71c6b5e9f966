#include "runtime/editor/places.h"

#include <doctest/doctest.h>

#include <rapidcheck.h>
#include "runtime/editor/text_change.h"
#include "runtime/editor/text_edits.h"

// UTF-16 takes two units for a code point above U+FFFF (Unicode 15.0, section 3.9, D91).
namespace {

using namespace rampart::editor;
using rampart::SourceFile;

// Letters of one to four bytes, and line ends.
rc::Gen<std::string> texts() {
  return rc::gen::map(rc::gen::container<std::vector<std::string>>(
                          rc::gen::element<std::string>("a", "\n", "\u00B5", "\u4E2D", "\U0001F50B", " ", "\r\n")),
                      [](const std::vector<std::string>& parts) {
                        std::string text;
                        for (const std::string& part : parts) text += part;
                        return text;
                      });
}

bool begins_character(std::string_view text, std::size_t at) {
  return at >= text.size() || (static_cast<unsigned char>(text[at]) & 0xC0U) != 0x80U;
}

}  // namespace

TEST_CASE("places: what a column counts") {
  const SourceFile text("t", "a\n\u00B5\U0001F50Bx\n");
  const std::uint32_t x = 2 + 2 + 4;
  CHECK(Places(text, Encoding::Utf8).at(x) == Place{1, 6});
  CHECK(Places(text, Encoding::Utf16).at(x) == Place{1, 3});
  CHECK(Places(text, Encoding::Utf32).at(x) == Place{1, 2});
  for (const Encoding encoding : {Encoding::Utf8, Encoding::Utf16, Encoding::Utf32}) {
    const Places places(text, encoding);
    CHECK(places.offset(Places(text, encoding).at(x)) == x);
    CHECK(places.offset({0, 99}) == 1);
    CHECK(places.offset({99, 0}) == text.text().size());
  }
  // Inside of the pair of units: the character's begin.
  CHECK(Places(text, Encoding::Utf16).offset({1, 2}) == 4);
}

TEST_CASE("places: there and back, in any order") {
  CHECK(rc::check("offset(at(x)) is x", [] {
    const SourceFile text("t", *texts());
    const auto encoding = *rc::gen::element(Encoding::Utf8, Encoding::Utf16, Encoding::Utf32);
    Places places(text, encoding);
    for (int i = 0; i < 20; ++i) {
      const auto offset = *rc::gen::inRange<std::uint32_t>(0, static_cast<std::uint32_t>(text.text().size()) + 1);
      const bool in_line_end = offset > 0 && text.text()[offset - 1] == '\r';
      if (!begins_character(text.text(), offset) || in_line_end) continue;
      RC_ASSERT(places.offset(places.at(offset)) == offset);
      RC_ASSERT(places.at(offset) == Places(text, encoding).at(offset));
    }
  }));
}

TEST_CASE("text change: what stayed is found again") {
  CHECK(rc::check("the same characters stand there", [] {
    const std::string before = *texts();
    const SourceFile source("t", before);
    const Place from{*rc::gen::inRange(0U, 4U), *rc::gen::inRange(0U, 5U)};
    const Place to{*rc::gen::inRange(0U, 4U), *rc::gen::inRange(0U, 5U)};
    const std::string after = replaced(source, {from, to}, *texts(), Encoding::Utf16);
    const TextChange change(before, after);
    const std::size_t kept = before.size() - (change.end_before() - change.begin());
    RC_ASSERT(after.size() - (change.end_after() - change.begin()) == kept);
    RC_ASSERT(begins_character(before, change.begin()) && begins_character(before, change.end_before()));
    for (std::uint32_t i = 0; i < before.size(); ++i) {
      const auto moved = change.after(i);
      const bool changed = i >= change.begin() && i < change.end_before();
      if (!changed && moved && *moved < after.size()) RC_ASSERT(after[*moved] == before[i]);
      if (!changed && moved) RC_ASSERT(change.before(*moved).has_value());
    }
  }));
  const TextChange none("same", "same");
  CHECK(none.is_none());
  const TextChange one("dwell 1 s", "dwell 10 s");
  CHECK(one.after(8) == 9);
  CHECK(one.after(rampart::Span{rampart::FileId{1}, 0, 5}, rampart::FileId{2}) ==
        rampart::Span{rampart::FileId{2}, 0, 5});
}
