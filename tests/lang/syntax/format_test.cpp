#include "lang/syntax/format.h"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include "tests/support/ast_text.h"
#include "tests/support/parsed.h"
#include "tests/support/sample_profiles.h"

namespace {

using rampart::test::ast_text;
using rampart::test::Parsed;

std::string formatted(const std::string& text) {
  const Parsed parsed(text);
  REQUIRE(parsed.findings() == "");
  return rampart::format_profile(parsed.sources, parsed.file, parsed.profile);
}

// Formats, and checks what must hold of every formatting: it says the same, and is its own formatting.
std::string settled(const std::string& text) {
  const Parsed before(text);
  REQUIRE(before.findings() == "");
  const std::string result = rampart::format_profile(before.sources, before.file, before.profile);
  const Parsed after(result);
  CHECK(after.findings() == "");
  CHECK(ast_text(after.profile) == ast_text(before.profile));
  CHECK(after.profile.comments.size() == before.profile.comments.size());
  CHECK(formatted(result) == result);
  return result;
}

}  // namespace

TEST_CASE("numbers and units have one spelling") {
  CHECK(settled("let x=40ms+2 V/ms*3 \u00B5s-1k\u03A9/5%") == "let x = 40 ms + 2 V/ms * 3 us - 1 kOhm / 5 %\n");
  CHECK(settled("let x = 2 V / ms") == "let x = 2 V / ms\n");
  CHECK(settled("let x = 12 V/y") == "let x = 12 V / y\n");
}

TEST_CASE("operators, signs and brackets have one spacing") {
  CHECK(settled("let x = - ( - 1+2 )*min ( 3,4 )") == "let x = -(-1 + 2) * min(3, 4)\n");
  CHECK(settled("let x = a-1 - -b") == "let x = a - 1 - -b\n");
  CHECK(settled("rule \"r\" always(a>1 V)and not(b<2 V)") == "rule \"r\" always (a > 1 V) and not (b < 2 V)\n");
  CHECK(settled("param p=5% in - 5%..8%") == "param p = 5 % in -5 % .. 8 %\n");
  CHECK(settled("accept  no-overpower  on a because \"x\"") == "accept no-overpower on a because \"x\"\n");
  CHECK(settled("expect energy( a )<=100J") == "expect energy(a) <= 100 J\n");
  CHECK(settled("run { for v in[1,2]{ do always (v) } }") == "run { for v in [1, 2] { do always(v) } }\n");
}

TEST_CASE("statements stand on lines of their own, short blocks may stay on one") {
  CHECK(settled("let a=1;let b=2") == "let a = 1\nlet b = 2\n");
  CHECK(settled("safe{off a;;dwell 1s;}") == "safe { off a; dwell 1 s }\n");
  CHECK(settled("run {\n on a;off a }\n") == "run {\n  on a\n  off a\n}\n");
  CHECK(settled("run { together { { on a } { on b } }; on c }") == "run { together { { on a }; { on b } }; on c }\n");
  std::string steps;
  for (int i = 0; i < 20; ++i) steps += "on a; ";
  std::string lines;
  for (int i = 0; i < 20; ++i) lines += "  on a\n";
  CHECK(settled("run { " + steps + "}") == "run {\n" + lines + "}\n");
}

TEST_CASE("comments and blank lines are kept") {
  CHECK(settled("\n\n# top  \n\n\n\nlet a = 1 # one\nlet bcd = 2   # two\n\nlet e = 3 # three\n\n") ==
        "# top\n\nlet a = 1    # one\nlet bcd = 2  # two\n\nlet e = 3  # three\n");
  CHECK(settled("run { # why\n\n# before\non a\n\n# last\n\n}") == "run {  # why\n  # before\n  on a\n\n  # last\n}\n");
  CHECK(settled("let a = (1 + # one\n 2 # two\n)") == "let a = (1 +  # one\n    2         # two\n)\n");
  CHECK(settled("let a = 1\r\nlet b = 2\r\n") == "let a = 1\nlet b = 2\n");
}

TEST_CASE("a profile in the canonical layout stays as it is") {
  for (const std::string& text : rampart::test::sample_profiles()) CHECK(settled(text) == text);
}

TEST_CASE("an empty profile stays empty") {
  CHECK(settled("") == "");
  CHECK(settled(" \n\n") == "");
}

namespace {

rc::Gen<std::string> blank() {
  return rc::gen::element<std::string>(" ", "  ", "\t");
}
rc::Gen<std::string> separator() {
  return rc::gen::element<std::string>("\n", ";", " ; ", "\n\n\n", " # note\n", "\n  # alone\n");
}

std::string number() {
  return *rc::gen::element<std::string>("0", "3.3", "12", "0.050", "007") +
         *rc::gen::element<std::string>("", " V", "V", "  ms", "\u00B5s", " V/ms", "%", " k\u2126", "min");
}

std::string expression(int depth) {
  const int form = depth == 0 ? *rc::gen::inRange(0, 2) : *rc::gen::inRange(0, 7);
  const std::string gap = *rc::gen::element<std::string>("", " ", "   ");
  switch (form) {
    case 0:
      return number();
    case 1:
      return *rc::gen::element<std::string>("a", "v_l", "load", "ms");
    case 2:
      return "-" + gap + expression(depth - 1);
    case 3:
      return "(" + gap + expression(depth - 1) + gap + ")";
    case 4:
      return "min" + gap + "(" + expression(depth - 1) + gap + "," + gap + expression(depth - 1) + ")";
    case 5:
      return "current(" + gap + "a)";
    default:
      return expression(depth - 1) + " " + gap + *rc::gen::element<std::string>("+", "-", "*", "/") +
             *rc::gen::element<std::string>(" ", "\n", " # goes on\n ") + expression(depth - 1);
  }
}

std::string statement(int depth);

std::string block(int depth) {
  std::string text = "{" + *rc::gen::element<std::string>("", " ", "\n", " # opens\n");
  const int count = *rc::gen::inRange(0, 4);
  for (int i = 0; i < count; ++i) text += statement(depth) + *separator();
  return text + "}";
}

std::string statement(int depth) {
  const int form = *rc::gen::inRange(0, depth == 0 ? 6 : 10);
  switch (form) {
    case 0:
      return "on" + *blank() + "a,b";
    case 1:
      return "ramp a" + *blank() + "to " + expression(2) + " over " + expression(1);
    case 2:
      return "dwell " + expression(2);
    case 3:
      return "do f(" + expression(1) + "," + *blank() + expression(1) + ")";
    case 4:
      return "mark \"a # \\\" \u00E9\"";
    case 5:
      return "await a >= " + number() + " within" + *blank() + "5s";
    case 6:
      return "repeat " + expression(1) + *blank() + block(depth - 1);
    case 7:
      return "for k in [" + expression(1) + "," + expression(1) + "]" + block(depth - 1);
    case 8:
      return "together" + block(depth - 1);
    default:
      return block(depth - 1);
  }
}

}  // namespace

TEST_CASE("formatting any profile keeps its tree and its comments, and settles at once") {
  CHECK(rc::check("formatting settles", [] {
    std::string text;
    const int count = *rc::gen::inRange(1, 5);
    for (int i = 0; i < count; ++i) {
      text +=
          *rc::gen::element<std::string>("let x = 1", "accept no-fuse on a because \"r\"",
                                         "rule \"r\" always a>=1V while b<2V", "protect a{ceiling 3V;fuse after 2ms}") +
          *separator();
      text += "run " + block(3) + *separator();
    }
    const Parsed before(text);
    RC_ASSERT(before.findings() == std::string());
    const std::string once = rampart::format_profile(before.sources, before.file, before.profile);
    const Parsed after(once);
    RC_ASSERT(after.findings() == std::string());
    RC_ASSERT(ast_text(after.profile) == ast_text(before.profile));
    RC_ASSERT(after.profile.comments.size() == before.profile.comments.size());
    RC_ASSERT(rampart::format_profile(after.sources, after.file, after.profile) == once);
  }));
}
