#include "lang/findings/render.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>

#include "lang/findings/files.h"
#include "lang/findings/syntax.h"
#include "lang/text/character.h"
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
                       "    |                    ^\n"
                       "hint: a statement ends with its line or with `;`\n"));
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

TEST_CASE("findings come in one order, whatever the order they were found in") {
  rampart::SourceSet sources;
  const rampart::FileId profile = sources.add("p.ramp", "");
  const rampart::FileId bench = sources.add("b.bench.yaml", "");
  using rampart::Span;
  // Family, file, place, name; what is equal in all of these in the order of the reports.
  const auto report = [&](rampart::FindingSink& sink, int which) {
    namespace finding = rampart::finding;
    if (which == 0) sink.report(finding::NoBench, Span{profile, 9, 12});
    if (which == 1) sink.report(finding::BarePoint, Span{bench, 0, 1});
    if (which == 2) sink.report(finding::BarePoint, Span{profile, 5, 7});
    if (which == 3) sink.report(finding::UnclosedText, Span{profile, 5, 6});
    if (which == 4) sink.report(finding::DuplicateName, Span{profile, 5, 7}, "x");
    if (which == 5) sink.report(finding::DuplicateName, Span{profile, 5, 7}, "y");
  };
  std::vector<int> order{0, 1, 2, 3, 4, 5};
  do {
    rampart::FindingSink sink;
    for (const int which : order) report(sink, which);
    std::string found;
    for (const rampart::Finding& one : sink.findings()) found += one.message + "\n";
    const bool x_first = std::find(order.begin(), order.end(), 4) < std::find(order.begin(), order.end(), 5);
    CHECK(found ==
          "this text has no closing quote\n" + std::string(x_first ? "`x`" : "`y`") + " is defined twice\n" +
              (x_first ? "`y`" : "`x`") +
              " is defined twice\na decimal point needs a digit on both sides\na decimal point needs a digit on "
              "both sides\nthe profile names no bench\n");
    CHECK(sink.error_count() == 6);
  } while (std::next_permutation(order.begin(), order.end()));
}

TEST_CASE("the column of a place costs nothing for the length of its line") {
  // Two bytes and one byte by turns: the column is the number of characters before, plus one.
  std::string line;
  for (int i = 0; i < 2'000'000; ++i) line += i % 2 == 0 ? "\u00E9" : "x";
  const rampart::SourceFile file("one line", "first\n" + line);
  const auto start = std::chrono::steady_clock::now();
  for (std::uint32_t i = 0; i < 100'000; ++i) {
    const std::uint32_t pairs = i * 10;
    REQUIRE(file.position(6 + pairs * 3).column == 1 + pairs * 2);
  }
  // A walk over the line each time would take 10^11 steps, which is minutes.
  CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(10));
  CHECK(rampart::SourceFile("empty", "").position(7).column == 1);
}
