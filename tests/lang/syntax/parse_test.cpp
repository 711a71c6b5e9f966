#include "lang/syntax/parse.h"

#include <doctest/doctest.h>

#include "tests/support/ast_text.h"
#include "tests/support/parsed.h"

// The grammar is the project's own, so these trees are worked by hand from its rules.
namespace {

using rampart::test::ast_text;
using rampart::test::Parsed;

std::string tree(const std::string& text) {
  const Parsed parsed(text);
  CHECK(parsed.findings() == "");
  std::string result = ast_text(parsed.profile);
  if (!result.empty()) result.pop_back();
  return result;
}

// The tree of statements in a run block.
std::string statements(const std::string& text) {
  const std::string result = tree("run {\n" + text + "\n}\n");
  return result.substr(6, result.size() - 8);
}

std::string expression(const std::string& text) {
  const std::string result = tree("let x = " + text);
  return result.substr(8, result.size() - 10);
}

std::string findings(const std::string& text) {
  return Parsed(text).findings();
}

}  // namespace

TEST_CASE("every statement") {
  CHECK(statements("on a, b") == "(on [a b])");
  CHECK(statements("off a") == "(off [a])");
  CHECK(statements("step a to 1 V, b by -2 V") == "(step [(a to <1[voltage]>) (b by <2[voltage] neg>)])");
  CHECK(statements("ramp a from 1 V to 2 V, b to 3 V over 4 s") ==
        "(ramp [(a from <1[voltage]> to <2[voltage]>) (b to <3[voltage]>)] over <4[time]>)");
  CHECK(statements("ramp a by 1 V at 2 V/s") == "(ramp [(a by <1[voltage]>)] at <2[voltage rate]>)");
  CHECK(statements("limit a to 1 A, b by 2 A") == "(limit [(a to <1[current]>) (b by <2[current]>)] -)");
  CHECK(statements("limit a ramp to 1 A, b to 2 A over 3 s") ==
        "(limit [(a to <1[current]>) (b to <2[current]>)] <3[time]>)");
  CHECK(statements("dwell 5 min") == "(dwell <300[time]>)");
  CHECK(statements("mark \"a \\\"b\\\" \\\\\"") == "(mark \"a \"b\" \\\")");
  CHECK(statements("mark \"{a}, \\{b} {c}}\"") == "(mark \"{a}, {b} {c}}\")");
  CHECK(statements("measure \"core {k}\" over\n 200 ms") == "(measure \"core {k}\" <1/5[time]>)");
  CHECK(statements("await operator \"plug {n} in\" within 1 s assume 1 s") ==
        "(await operator \"plug {n} in\" <1[time]> <1[time]>)");
  CHECK(statements("repeat 3 { dwell t }") == "(repeat <3> {(dwell <t>)})");
  CHECK(statements("repeat for 48 h { }") == "(repeat-for <172800[time]> {})");
  CHECK(statements("for v in 1 V .. 2 V step 0.5 V { }") ==
        "(for-range v <1[voltage]> <2[voltage]> <1/2[voltage]> {})");
  CHECK(statements("for v in [1, x] { }") == "(for-list v [<1> <x>] {})");
  CHECK(statements("together { { on a } { on b } }") == "(together {(group {(on [a])}) (group {(on [b])})})");
  CHECK(statements("track a with b { on b }") == "(track a b {(on [b])})");
  CHECK(statements("raise l; lower l; pulse l for 1 ms") == "(raise l) (lower l) (pulse l <1/1000[time]>)");
  CHECK(statements("await l high within 2 s assume 1 s") == "(await l high <2[time]> <1[time]>)");
  CHECK(statements("await high low within 2 s") == "(await high low <2[time]> -)");
  CHECK(statements("await a <= 1 V and b > 2 V within 2 s") ==
        "(await <a 1[voltage] <= b 2[voltage] > and> <2[time]> -)");
  CHECK(statements("await operator \"go\" within 1 h assume 1 s") == "(await operator \"go\" <3600[time]> <1[time]>)");
  CHECK(statements("waveform a from [[0 s, 0 V], [t, 2 * b]]") ==
        "(waveform a [(<0[time]> <0[voltage]>) (<t> <2 b *>)] -)");
  CHECK(statements("waveform a from [\n[0 s, 0 V],  # here\n[1 s,\n1 V]\n] scaled by 2") ==
        "(waveform a [(<0[time]> <0[voltage]>) (<1[time]> <1[voltage]>)] <2>)");
  CHECK(statements("waveform a from \"s.csv\" scaled by k") == "(waveform a \"s.csv\" <k>)");
  CHECK(statements("do s(1 V, a, b + 2)") == "(do s [<1[voltage]> <a> <b 2 +>])");
  CHECK(statements("do s; do s()") == "(do s []) (do s [])");
  CHECK(statements("{ { on a } }") == "(group {(group {(on [a])})})");
}

TEST_CASE("every declaration") {
  CHECK(tree("profile \"p\"; bench \"b\"; load \"l\"; import \"i\"") ==
        "(profile \"p\")\n(bench \"b\")\n(load \"l\")\n(import \"i\")");
  CHECK(tree("param p = 5 % in 0 % .. 8 %") == "(param p <1/20> <0> <2/25>)");
  CHECK(tree("param p = 5") == "(param p <5> - -)");
  CHECK(tree("rail a on left.ch1") == "(rail a left.ch1 local straight)");
  CHECK(tree("rail a on both reversed sense remote") == "(rail a both remote reversed)");
  CHECK(tree("line l on left.on output") == "(line l left.on output none [])");
  CHECK(tree("line l on x.y output when trip a, b") == "(line l x.y output trip [a b])");
  CHECK(tree("line l on x.y output when cc a") == "(line l x.y output cc [a])");
  CHECK(tree("line l on x.y input off a") == "(line l x.y input off [a])");
  CHECK(tree("protect a { ceiling 1 V; overvoltage 2 V\nfuse at 1 A after 1 s linked with b, c; fuse after 2 s\n"
             "overpower 1 W; overpower 1 W after 3 s }") ==
        "(protect a (ceiling <1[voltage]>) (overvoltage <2[voltage]>) (fuse <1[current]> <1[time]> [b c]) "
        "(fuse - <2[time]> []) (overpower <1[power]> -) (overpower <1[power]> <3[time]>))");
  CHECK(tree("accept no-overpower on a because \"x\"") == "(accept no-overpower a \"x\")");
  CHECK(tree("rule \"r\" always a >= 1 V while not b > 1 V") ==
        "(rule \"r\" (always <a 1[voltage] >=> <b 1[voltage] > not>))");
  CHECK(tree("rule \"r\" a > 1 V before b > 1 V by 5 ms") ==
        "(rule \"r\" (before <a 1[voltage] >> <b 1[voltage] >> <1/200[time]>))");
  CHECK(tree("rule \"r\" a > 1 V before b > 1 V") == "(rule \"r\" (before <a 1[voltage] >> <b 1[voltage] >> -))");
  CHECK(tree("rule \"r\" a > 1 V within 1 s after b > 1 V") ==
        "(rule \"r\" (within <a 1[voltage] >> <1[time]> <b 1[voltage] >>))");
  CHECK(tree("rule \"r\" a rises from 1 V to 2 V within 1 s") ==
        "(rule \"r\" (rises a <1[voltage]> <2[voltage]> <1[time]>))");
  CHECK(tree("rule \"r\" a falls from 2 V to 1 V") == "(rule \"r\" (falls a <2[voltage]> <1[voltage]> -))");
  CHECK(tree("sequence s(a, b) { on a }\nsequence t { }\nsequence u() { }") ==
        "(sequence s [a b] {(on [a])})\n(sequence t [] {})\n(sequence u [] {})");
  CHECK(tree("run { }\nsafe { off a }") == "(run {})\n(safe {(off [a])})");
  CHECK(tree("expect no trip\nexpect no trip under f") == "(expect no-trip -)\n(expect no-trip f)");
  CHECK(tree("expect trip a by overtemperature under f") == "(expect trip a overtemperature f)");
  CHECK(tree("expect duration < 5 min") == "(expect duration - - < <300[time]> -)");
  CHECK(tree("expect energy(total) <= 2 * 50 J under f") == "(expect energy total - <= <2 50[energy] *> f)");
  CHECK(tree("expect voltage(a) at \"m\" >= 1 V") == "(expect voltage a \"m\" >= <1[voltage]> -)");
  CHECK(tree("") == "");
}

TEST_CASE("operators bind by their precedence and from the left") {
  CHECK(expression("1 + 2 * 3 - 4 / 5") == "1 2 3 * + 4 5 / -");
  CHECK(expression("1 - 2 - 3") == "1 2 - 3 -");
  CHECK(expression("-a * --b") == "a neg b neg neg *");
  CHECK(expression("(1 + 2) * 3") == "1 2 + group 3 *");
  CHECK(expression("not a < 1 and b > 2 or c") == "a 1 < not b 2 > and c or");
  CHECK(expression("a or b and not not c") == "a b c not not and or");
  CHECK(expression("min(1, 2 + 3, max(a)) - abs(-b)") == "1 2 3 + a max1 min3 b neg abs -");
  CHECK(expression("current(a) + power(b) * slew(c)") == "a current() b power() c slew() * +");
}

TEST_CASE("a unit stands behind a number, and only there") {
  CHECK(expression("5 min") == "300[time]");
  CHECK(expression("min(5,6)") == "5 6 min2");
  CHECK(expression("2 V/ms") == "2000[voltage rate]");
  CHECK(expression("2 V / ms") == "2[voltage] ms /");
  CHECK(expression("2 V/x") == "2[voltage] x /");
  CHECK(expression("40ms") == "1/25[time]");
  CHECK(expression("5%") == "1/20");
  CHECK(expression("3 \u00B5s + 3 \u03BCs + 3 us") == "3/1000000[time] 3/1000000[time] + 3/1000000[time] +");
  CHECK(expression("1 k\u03A9 + 1 k\u2126 + 1 kOhm") == "1000[resistance] 1000[resistance] + 1000[resistance] +");
  CHECK(expression("V") == "V");
  CHECK(findings("let x = 5 m") == "1:11 `m` is not a unit\n");
  CHECK(findings("let x = 25 degC") == "1:12 `degC` is a unit of bench and load files only\n");
  CHECK(findings("let x = 1e3 V") == "1:10 `e3` is not a unit\n");
  CHECK(findings("let x = 5.") == "1:10 a decimal point needs a digit on both sides\n");
  CHECK(findings("let x = .5") == "1:9 a decimal point needs a digit on both sides\n");
  CHECK(findings("let x = inf V") == "1:13 expected the end of the statement, found `V`\n");
  CHECK(findings("let x = 170141183460469231731687303715884105728") == "1:9 this number does not fit in 128 bits\n");
  CHECK(Parsed("let x = 170141183460469231731687303715884105727").findings() == "");
}

TEST_CASE("a newline ends a statement except where it plainly goes on") {
  CHECK(tree("let x = (1\n+\n2\n)") == "(let x <1 2 + group>)");
  CHECK(tree("let x =\n1 +\n\n# note\n2") == "(let x <1 2 +>)");
  CHECK(statements("on a,\nb") == "(on [a b])");
  CHECK(statements("ramp a to\n1 V over\n1 s") == "(ramp [(a to <1[voltage]>)] over <1[time]>)");
  CHECK(statements("for v in [\n1,\n2\n] { }") == "(for-list v [<1> <2>] {})");
  CHECK(tree("rule \"r\" a > 1 V and\nnot\nb > 1 V before\nc > 1 V by\n1 s") ==
        "(rule \"r\" (before <a 1[voltage] > b 1[voltage] > not and> <c 1[voltage] >> <1[time]>))");
  CHECK(tree("let x = 1;;\n;let y = 2;") == "(let x <1>)\n(let y <2>)");
  CHECK(tree("run { on a }") == "(run {(on [a])})");
  CHECK(tree("let x =\r\n1\r\nlet y = 2\r\n") == "(let x <1>)\n(let y <2>)");
  CHECK(findings("rail a\non b.c") ==
        "1:7 expected `on` and a channel after the rail's name, found the end of the line\n"
        "2:1 expected a declaration, found `on`\n");
  CHECK(findings("let x = 1\n+ 2") == "2:1 expected a declaration, found `+`\n");
  CHECK(findings("run\n{\n}") == "1:4 expected `{` and the statements after `run`, found the end of the line\n");
}

TEST_CASE("comments are kept, once each") {
  const Parsed parsed("# a\nlet x = 1 # b\nrun { # c \"\n  mark \"# no\" # d\n}\n# e");
  CHECK(parsed.findings() == "");
  std::string comments;
  for (const rampart::ast::Comment& comment : parsed.profile.comments) comments += parsed.sources.text(comment.span);
  CHECK(comments == "# a# b# c \"# d# e");
}

TEST_CASE("words are reserved only where the language needs them") {
  CHECK(tree("let load = 1\nlet high = 2\nlet input = load") == "(let load <1>)\n(let high <2>)\n(let input <load>)");
  CHECK(findings("let step = 1") == "1:5 expected a name after `let`, found `step`\n");
  CHECK(findings("rail within on a.b") == "1:6 expected a name after `rail`, found `within`\n");
}

TEST_CASE("a node's span covers its source") {
  const Parsed parsed("let x = a + (b - -2 V) * 3\nrun {\n  dwell 5 ms # c\n}");
  const auto& let = std::get<rampart::ast::Let>(parsed.profile.declarations[0].what);
  CHECK(parsed.sources.text(let.value.span()) == "a + (b - -2 V) * 3");
  CHECK(parsed.sources.text(let.value.nodes[4].span) == "b - -2 V");
  CHECK(parsed.sources.text(let.value.nodes[5].span) == "(b - -2 V)");
  CHECK(parsed.sources.text(parsed.profile.declarations[0].span) == "let x = a + (b - -2 V) * 3");
  const auto& run = std::get<rampart::ast::Run>(parsed.profile.declarations[1].what);
  CHECK(parsed.sources.text(run.body.span) == "{\n  dwell 5 ms # c\n}");
  CHECK(parsed.sources.text(run.body.statements[0].span) == "dwell 5 ms");
}
