#include "lang/render.h"

#include <doctest/doctest.h>

#include <chrono>

#include "lang/character.h"
#include "lang/findings/files.h"
#include "tests/support/parsed.h"

namespace {

using rampart::test::Parsed;

// All findings of a text as a terminal shows them.
std::string rendered(const std::string& text) {
  const Parsed parsed(text);
  std::string result;
  for (const rampart::Finding& finding : parsed.sink.findings()) {
    result += rampart::render_text(finding, parsed.sources);
  }
  return result;
}

}  // namespace

TEST_CASE("a finding shows its line with the span underlined, and its hint") {
  CHECK(rendered("run {\n  rmap logic to 3 V over 1 s\n}\n") ==
        "test.ramp:2:3: error: expected a statement, found `rmap` [syntax]\n"
        "  2 |   rmap logic to 3 V over 1 s\n"
        "    |   ^~~~\n"
        "hint: did you mean `ramp`?\n");
}

TEST_CASE("a note shows its own place") {
  CHECK(rendered("let a = (1 +\n  2\n") ==
        "test.ramp:2:4: error: expected `)`, found the end of the line [syntax]\n"
        "  2 |   2\n"
        "    |    ^\n"
        "test.ramp:1:9: note: opened here\n"
        "  1 | let a = (1 +\n"
        "    |         ^\n");
}

// Widths of characters: Unicode Standard Annex 11 (wide: CJK and emoji, none: combining marks).
TEST_CASE("underlines stand under wide characters, combining marks and tabs") {
  CHECK(rendered("let \u96FB = 1") ==
        "test.ramp:1:5: error: expected a name after `let`, found `\u96FB` [syntax]\n"
        "  1 | let \u96FB = 1\n"
        "    |     ^~\n"
        "hint: names are made of the letters a to z, digits and `_`\n");
  CHECK(rendered("mark \"\u96FB\u5727\U0001F600e\u0301\"\nrun { mark \"\u96FB\U0001F600e\u0301\" x }")
            .ends_with("  2 | run { mark \"\u96FB\U0001F600e\u0301\" x }\n"
                       "    |                    ^\n"));
  CHECK(rendered("\tlet\tx 1")
            .find("  1 |     let x 1\n"
                  "    |           ^\n") != std::string::npos);
}

TEST_CASE("long lines are cut around the span") {
  const std::string line = "let a = " + std::string(50'000, '(') + "1";
  const std::string text = rendered(line);
  CHECK(text.size() < 1000);
  CHECK(text.find("…((((") != std::string::npos);
  CHECK(text.find("(…\n") != std::string::npos);
  const auto begin = std::chrono::steady_clock::now();
  CHECK(rendered("let a = " + std::string(5'000'000, ' ') + "]").size() < 1000);
  CHECK(std::chrono::steady_clock::now() - begin < std::chrono::seconds(5));
}

TEST_CASE("control characters reach no terminal") {
  const std::string text = rendered("let a = 1\x1B[2J");
  CHECK(text.find('\x1B') == std::string::npos);
  CHECK(text.find("  1 | let a = 1\uFFFD[2J\n") != std::string::npos);
}

// What turns the direction of writing: Unicode Standard Annex 9, the explicit and the implicit marks of table 2-1.
TEST_CASE("what a terminal obeys and does not show is replaced, also in names and messages") {
  for (const char* hidden : {"\u061C", "\u200E", "\u200F", "\u202A", "\u202E", "\u2066", "\u2069", "\u2028", "\u009B",
                             "\x9B", "\r", "\x7F"}) {
    CHECK(rampart::visible_text("a" + std::string(hidden) + "b\n") == "a\uFFFDb\uFFFD");
    CHECK(rampart::visible_lines("a" + std::string(hidden) + "b\n") == "a\uFFFDb\n");
    rampart::SourceSet sources;
    rampart::FindingSink sink;
    sink.report(rampart::finding::Unreadable, {sources.add(hidden, ""), 0, 0}, hidden, "is a folder");
    CHECK(rampart::render_text(sink.findings()[0], sources) ==
          "\uFFFD: error: cannot read `\uFFFD`: is a folder [unreadable]\n");
  }
  CHECK(rampart::visible_text("\u00B5 \u96FB \U0001F600 e\u0301") == "\u00B5 \u96FB \U0001F600 e\u0301");
}

TEST_CASE("a file without text shows no line") {
  rampart::SourceSet sources;
  const rampart::FileId file = sources.add("bench.yaml", "");
  rampart::FindingSink sink;
  sink.report(rampart::finding::Unreadable, {file, 0, 0}, "bench.yaml", "is a folder");
  CHECK(rampart::render_text(sink.findings()[0], sources) ==
        "bench.yaml: error: cannot read `bench.yaml`: is a folder [unreadable]\n");
}

TEST_CASE("colour adds escape sequences and nothing else") {
  const Parsed parsed("let a 1");
  const rampart::Finding& finding = parsed.sink.findings()[0];
  std::string coloured = rampart::render_text(finding, parsed.sources, true);
  std::string plain;
  for (std::size_t i = 0; i < coloured.size(); ++i) {
    if (coloured[i] == '\x1B') {
      i = coloured.find('m', i);
    } else {
      plain += coloured[i];
    }
  }
  CHECK(coloured != plain);
  CHECK(plain == rampart::render_text(finding, parsed.sources));
}
