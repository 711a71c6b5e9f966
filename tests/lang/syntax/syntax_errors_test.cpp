#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>

#include "tests/support/ast_text.h"
#include "tests/support/parsed.h"

namespace {

using rampart::test::ast_text;
using rampart::test::Parsed;

std::string findings(const std::string& text) {
  return Parsed(text).findings();
}
std::string first_hint(const std::string& text) {
  const Parsed parsed(text);
  REQUIRE_FALSE(parsed.sink.findings().empty());
  return parsed.sink.findings().front().hint;
}
std::string repeated(const std::string& text, std::size_t times) {
  std::string result;
  for (std::size_t i = 0; i < times; ++i) result += text;
  return result;
}

}  // namespace

TEST_CASE("three errors in one file are all found at their places") {
  CHECK(findings("rail logic left.ch1\n"
                 "run {\n"
                 "  rmap logic to 3 V over 1 s\n"
                 "  repeat 2 {\n"
                 "    ramp logic to 3 V\n"
                 "    dwell 1 s\n"
                 "  }\n"
                 "}\n") ==
        "1:12 expected `on` and a channel after the rail's name, found `left`\n"
        "3:3 expected a statement, found `rmap`\n"
        "5:22 expected `over` and a time, or `at` and a rate, after the target, found the end of the line\n");
}

TEST_CASE("what can be read around an error is kept") {
  const Parsed parsed("let a = 1\nlet b 2\nrun { on x; dwel 3; off x }\n");
  CHECK(ast_text(parsed.profile) == "(let a <1>)\n(bad)\n(run {(on [x]) (bad) (off [x])})\n");
}

TEST_CASE("an error in a header leaves its block to be searched") {
  CHECK(findings("run {\n  repeat x y {\n    dwel 1 s\n  }\n  on a b\n}") ==
        "2:12 expected `{` and the repeated statements, found `y`\n"
        "3:5 expected a statement, found `dwel`\n"
        "5:8 expected the end of the statement, found `b`\n");
  CHECK(findings("protct a {\n  fuse 5 ms\n}") ==
        "1:1 expected a declaration, found `protct`\n"
        "2:8 expected `after` and a time, found `5 ms`\n");
  CHECK(findings("nonsense a {\n  anything { goes }\n}\nlet b 1") ==
        "1:1 expected a declaration, found `nonsense`\n"
        "4:7 expected `=` and a value, found `1`\n");
}

TEST_CASE("an open bracket does not swallow the next line") {
  CHECK(findings("let a = (1 + 2\nlet b = 3\nlet c = ]") ==
        "2:1 expected `)`, found `let`\n"
        "3:9 expected a value after `=`, found `]`\n");
  CHECK(findings("let a = 1 +\nlet b = 3") == "2:1 expected a value after the operator, found `let`\n");
  CHECK(findings("run {\n  do f(1,\n    2 3,\n    4)\n  dwel 1 s\n}") ==
        "3:7 expected `)`, found `3`\n"
        "5:3 expected a statement, found `dwel`\n");
}

TEST_CASE("unclosed and surplus braces are one error each") {
  const Parsed parsed("run {\n  repeat 2 {\n    on a\n");
  CHECK(parsed.findings() == "2:12 this `{` is never closed\n");
  CHECK(findings("run { }\n}\nlet a = ") ==
        "2:1 this `}` closes no block\n3:8 expected a value after `=`, found the end of the file\n");
  // What follows is read: its own mistakes are found, and nothing is said about where it stands.
  CHECK(findings("run {\n  repeat 2 {\n    on a\n}\nsafe {\n  off a\n}\nlet b = ]\n") ==
        "2:12 this `{` is never closed\n8:9 expected a value after `=`, found `]`\n");
  CHECK(findings("sequence s {\n  on a\nrun {\n  do s\n}\nsafe {\n  off a\n") ==
        "1:12 this `{` is never closed\n6:6 this `{` is never closed\n");
  CHECK(findings("run {\n  repeat 2 {\n    on a } }\n  dwell 1 s\n  dwel 1 s\n  off a\n}\nsafe { off a b }\n") ==
        "4:3 expected a declaration, found `dwell`\n5:3 expected a statement, found `dwel`\n"
        "8:14 expected the end of the statement, found `b`\n");
  // Indented, a declaration in a block is only out of its place.
  CHECK(findings("run {\n  let a = 1\n  on b\n}") == "2:3 expected a statement, found `let`\n");
}

TEST_CASE("a missing opening brace is one error, and what stands in its block is kept and read") {
  struct Header {
    const char* text;
    const char* inside;
  };
  const Header headers[] = {{"run", "on a"},
                            {"safe", "on a"},
                            {"sequence s(x)", "on a"},
                            {"protect a", "ceiling 3 V"},
                            {"run { repeat 2 { on a }; repeat 3", "on a }"}};
  for (const Header& header : headers) {
    CAPTURE(header.text);
    const std::string before(header.text);
    const std::string inside(header.inside);
    const std::string tail = "let b = ]\n";
    // On lines of its own, on one line, with the brace on the next line, and without the other brace.
    for (const std::string& text : {before + "\n  " + inside + "\n}\n", before + " " + inside + "\n}\n",
                                    before + "\n{ " + inside + " }\n", before + "\n\n  # why\n  " + inside + "\n"}) {
      if (before.starts_with("run {") && text.find("why") != std::string::npos) continue;  // that of `run` is there
      CAPTURE(text);
      const std::string found = findings(text + tail);
      CHECK(std::count(found.begin(), found.end(), '\n') == 2);
      CHECK(found.find(" expected `{` and the ") != std::string::npos);
      CHECK(found.find(":9 expected a value after `=`, found `]`\n") != std::string::npos);
    }
  }
  for (const char* header :
       {"repeat 2", "repeat for 1 s", "for k in [1, 2]", "for k in 1 .. 2 step 1", "together", "track a with b"}) {
    CAPTURE(header);
    const std::string indented = "  " + std::string(header);
    // With its `}`, without, and with one left open in it.
    CHECK(findings("run {\n" + indented + "\n    on a\n  }\n  off a\n}\nsafe { off a }\n") ==
          "2:" + std::to_string(indented.size() + 1) + " expected `{` and the " +
              (std::string(header) == "together"      ? "branches after `together`"
               : std::string(header).starts_with("t") ? "statements that are tracked"
                                                      : "repeated statements") +
              ", found the end of the line\n");
    const auto count = [](const std::string& text) { return std::count(text.begin(), text.end(), '\n'); };
    CHECK(count(findings("run {\n" + indented + "\n    on a\n  off a\n}\nsafe { off a }\n")) == 1);
    CHECK(count(findings("run {\n" + indented + " on a; off a }\n}\n")) == 1);
    CHECK(count(findings("run {\n" + indented + "\n}\nlet a = 1\n")) == 1);
    CHECK(count(findings("run {\n" + indented + "\n    dwel 1 s\n  }\n  of a\n}\n")) == 3);
    // Flat text.
    CHECK(count(findings("run {\n" + std::string(header) + "\non a\n}\noff a\n}\n")) == 1);
  }
  const Parsed parsed("run {\n  repeat 2\n    on a\n  }\n  off a\n}\nprotect a\n  ceiling 3\n}\nlet b = 1\n");
  CHECK(ast_text(parsed.profile) ==
        "(run {(repeat <2> {(on [a])}) (off [a])})\n(protect a (ceiling <3>))\n(let b <1>)\n");
}

TEST_CASE("a closing brace too many is one error in every block") {
  CHECK(findings("protect a {\n  ceiling 3 V }\n  overvoltage 4 V\n  fuse 1 s\n}\nlet b = ]\n") ==
        "3:3 expected a declaration, found `overvoltage`\n4:8 expected `after` and a time, found `1 s`\n"
        "6:9 expected a value after `=`, found `]`\n");
  CHECK(first_hint("overvoltage 4 V") == "write protections inside `protect RAIL { }`");
  CHECK(first_hint("run { fuse after 1 s }") == "write protections inside `protect RAIL { }`");
  for (const char* block : {"repeat 2 {", "for k in [1, 2] {", "together {", "track a with b {", "{"}) {
    CAPTURE(block);
    CHECK(findings("run {\n  " + std::string(block) + "\n    on a\n  }\n  }\n  off a\n  dwell 1 s\n}\nlet b = 1\n") ==
          "6:3 expected a declaration, found `off`\n");
  }
}

TEST_CASE("where nothing was recognised the hint lists what may stand there") {
  CHECK(first_hint("xyzzy 'a'").starts_with("at the top of a file a line begins with `accept`, `bench`, "));
  CHECK(first_hint("run { xyzzy }").starts_with("a statement begins with `await`, `do`, "));
  CHECK(first_hint("run { mark \"a\" 5 }") == "a statement ends with its line or with `;`");
  CHECK(first_hint("title \"A board\"") == "write `profile`");
  CHECK(first_hint("supply left") == "write `bench`");
}

TEST_CASE("a number that is written wrongly is one mistake") {
  CHECK(findings("let x = 5. V\nlet y = 3,3 V + 1 V\nrun { limit a to 1,5 A, b to 2 A; dwel 1 s }") ==
        "1:10 a decimal point needs a digit on both sides\n2:9 `3,3 V` has a decimal comma\n"
        "3:18 `1,5 A` has a decimal comma\n3:35 expected a statement, found `dwel`\n");
  CHECK(findings("let x = max(1,2)\nrun { for k in [1,2] { do f(1,2) } }") == "");
}

TEST_CASE("hints name what was probably meant") {
  CHECK(first_hint("run { rmap a to 1 V over 1 s }") == "did you mean `ramp`?");
  CHECK(first_hint("run { ramp a too 1 V over 1 s }") == "did you mean `to`?");
  CHECK(first_hint("run { ramp a to 1 V ovr 1 s }") == "did you mean `over`?");
  CHECK(first_hint("expect trip a by fusee") == "did you mean `fuse`?");
  CHECK(first_hint("ramp a to 1 V over 1 s") == "write statements inside `run { }`, `safe { }` or a sequence");
  CHECK(first_hint("run { let a = 1 }") == "write `let` at the top of the file, outside every block");
  CHECK(first_hint("let x = 5 m") == "minutes are `min`, and milli needs a unit, as in `ms` or `mV`");
  CHECK(first_hint("let x = 5 mv") == "upper and lower case matter: write `mV`");
  CHECK(first_hint("let x = 5 sec") == "write `s`");
  CHECK(first_hint("let x = 1e3") ==
        "there are no exponents: write the digits out, or use a prefix as in `mV` or `kOhm`");
  CHECK(first_hint("let x = a < b < c") == "join two comparisons with `and`");
  CHECK(first_hint("let x = voltage(a)") == "a rail's name alone stands for its voltage");
  CHECK(first_hint("run\n{ }") == "put the `{` on the line of its statement");
  CHECK(first_hint("profile 'x'") == "put texts in straight double quotes");
  CHECK(first_hint("let step = 1") == "`step` is a word of the language and cannot be a name");
  CHECK(first_hint("let x =\u00A05 V") == "put a plain space there");
  CHECK(first_hint("RUN { }") == "words of the language are in small letters: write `run`");
  CHECK(first_hint("run { wait 5 s }") == "write `dwell`");
  CHECK(first_hint("run { wait for 5 s }") == "write `dwell 5 s`");
  CHECK(first_hint("run { wait until io >= 3.2 V; dwell 1 s }") ==
        "to wait for a voltage write `await io >= 3.2 V within 10 ms`, for a fixed time `dwell 10 ms`");
  CHECK(first_hint("run { wait for core <= 0.1 V within 5 s\n}") ==
        "to wait for a voltage write `await core <= 0.1 V within 5 s`, for a fixed time `dwell 10 ms`");
  CHECK(first_hint("run { wait until done }") ==
        "to wait for a voltage write `await io >= 3.2 V within 10 ms`, for a fixed time `dwell 10 ms`");
  CHECK(first_hint("run { until io >= 3.2 V }") == "write `await`");
  CHECK(first_hint("let x = 5 k") == "`k` is a prefix and needs a unit, as in `kV`");
  CHECK(first_hint("let x = 3,3 V") == "write a decimal point, not a comma: `3.3 V`");
  CHECK(first_hint("run { ramp a to 1 V in 1 s }") == "write `over`");
  CHECK(first_hint("run { limit a ramp to 1 A within 1 s }") == "write `over`");
  CHECK(first_hint("let x = 3 V/min(1, 2)") == "to divide by the function, put blanks around `/`");
}

TEST_CASE("a word that is not a unit is one error, whatever stands behind it") {
  CHECK(findings("let x = 1e3 V\nlet y = 2 \u00D7 3\nlet z = 5 zz + 3 qq") ==
        "1:10 `e3` is not a unit\n2:11 `\u00D7` is not a unit\n3:11 `zz` is not a unit\n3:18 `qq` is not a unit\n");
}

TEST_CASE("a profile larger than any that people review is not read") {
  CHECK(findings(std::string(rampart::kMaxProfileBytes, '\n')) == "");
  CHECK(findings(std::string(rampart::kMaxProfileBytes + 1, '\n')) == "1:1 this file is larger than 16384 KiB\n");
}

TEST_CASE("columns count characters, not bytes") {
  CHECK(findings("run { mark \"\u00B5\U0001F600\u00E9\" x }") == "1:18 expected the end of the statement, found `x`\n");
  CHECK(findings("let \u00FC = 1") == "1:5 expected a name after `let`, found `\u00FC`\n");
}

TEST_CASE("texts end on their line") {
  CHECK(findings("profile \"abc\nlet x 1") ==
        "1:9 this text has no closing quote\n2:7 expected `=` and a value, found `1`\n");
  CHECK(findings("profile \"a\\nb\"") == "1:11 `\\n` is not an escape sequence\n");
  CHECK(findings("profile \"a\\") == "1:9 this text has no closing quote\n");
}

TEST_CASE("what is no text gives one finding") {
  CHECK(findings(std::string("\x7F"
                             "ELF\0\1\2",
                             7)) == "1:5 the text contains a NUL byte, as in a binary file\n");
  CHECK(findings("let a = 1\n\xFF\xFE garbage {{{") == "2:1 the text contains bytes that are not valid UTF-8\n");
  CHECK(findings("let a = \xC0\xAF") == "1:9 the text contains bytes that are not valid UTF-8\n");
  CHECK(findings("let a = \xED\xA0\x80") == "1:9 the text contains bytes that are not valid UTF-8\n");
  CHECK(findings("let a = 1\x1B[2J") == "1:10 the text contains the control character U+001B\n");
  CHECK(findings("let a = 1\rlet b = 2") == "1:10 the text contains a carriage return without a newline\n");
  CHECK(findings("# \u202E hidden") ==
        "1:3 the text contains the character U+202E, which turns the direction of writing\n");
  CHECK(findings("\xEF\xBB\xBFlet a 1") ==
        "1:1 the text contains a byte-order mark\n1:8 expected `=` and a value, found `1`\n");
  CHECK(findings("\xFF\xFEl\0e\0") == "1:1 the text contains the byte-order mark of UTF-16\n");
}

TEST_CASE("nesting is bounded, and later errors are still found") {
  constexpr std::size_t kDeep = 100'000;
  const std::string tail = "\nlet b = ]";
  const std::string found = "2:9 expected a value after `=`, found `]`\n";
  CHECK(findings("let a = " + repeated("(", kDeep) + "1" + repeated(")", kDeep) + tail) ==
        "1:73 nested deeper than 64 levels\n" + found);
  CHECK(findings("let a = " + repeated("-", kDeep) + "1" + tail) == "1:73 nested deeper than 64 levels\n" + found);
  CHECK(findings("let a = " + repeated("not ", kDeep) + "1" + tail) == "1:265 nested deeper than 64 levels\n" + found);
  CHECK(findings("let a = " + repeated("min(", kDeep) + "1" + repeated(")", kDeep) + tail) ==
        "1:265 nested deeper than 64 levels\n" + found);
  CHECK(findings("run " + repeated("{", kDeep) + repeated("}", kDeep) + tail) ==
        "1:69 nested deeper than 64 levels\n" + found);
  CHECK(findings("let a = " + repeated("(", 64) + "1" + repeated(")", 64)) == "");
  CHECK(findings("let a = " + repeated("1+", kDeep) + "1" + tail) == found);
}

TEST_CASE("the parser stops after a hundred errors and says so") {
  const Parsed parsed(repeated("x\n", 1000));
  CHECK(parsed.sink.error_count() == rampart::kMaxSyntaxFindings);
  CHECK(parsed.sink.findings().back().message == "100 syntax errors: the rest of the file was not read");
}

TEST_CASE("a function takes a bounded number of values") {
  CHECK(findings("let a = min(" + repeated("1,", 999) + "1)") == "");
  CHECK(findings("let a = min(" + repeated("1,", 2000) + "1)").ends_with("a function takes at most 1000 values\n"));
}

TEST_CASE("a number with a finding gets it wherever it is written") {
  const auto count = [](const std::string& number) {
    return Parsed("run { dwell " + number + "; dwell " + number + "; dwell " + number + " }\n").sink.findings().size();
  };
  CHECK(count("5. s") == 3);
  CHECK(count("5 degC") == 3);
  CHECK(count("5 furlong") == 3);
  CHECK(count(std::string(60, '9') + " s") == 3);
  CHECK(count("5 s") == 0);
}

TEST_CASE("numbers that are written again are the same numbers") {
  const Parsed parsed("let a = 10 mV + 10 mV + 10.0 mV\nlet b = 10 mV\nlet c = 10 ms\n");
  CHECK(
      ast_text(parsed.profile) ==
      "(let a <1/100[voltage] 1/100[voltage] + 1/100[voltage] +>)\n(let b <1/100[voltage]>)\n(let c <1/100[time]>)\n");
}
