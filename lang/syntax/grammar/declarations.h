#pragma once

#include "lang/syntax/grammar/statements.h"

// What a file consists of.
namespace rampart::grammar {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

// Settings are read into the ast::Protect around.
struct SettingList : Filling<SettingList> {
  template <class Context, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, ast::Protect& around, Attribute&) const {
    return settings.parse(first, last, context, x3::unused, around);
  }
};
const auto protect = word("protect") >> need("a rail's name after `protect`", set<&ast::Protect::rail>(rail_name)) >>
                     need_braces("`{` and the protections after the rail's name", SettingList());

// profile = "profile" text;  bench = "bench" text;  load = "load" text;  import = "import" text
const auto title = word("profile") >> need("a title in double quotes after `profile`", set<&ast::Title::text>(text));
const auto bench_path = word("bench") >>
                        need("a path in double quotes after `bench`", set<&ast::BenchPath::path>(bench_path_text));
const auto load_path = word("load") >>
                       need("a path in double quotes after `load`", set<&ast::LoadPath::path>(load_path_text));
const auto import_path = word("import") >>
                         need("a path in double quotes after `import`", set<&ast::Import::path>(import_path_text));

// param = "param" name "=" value ["in" value ".." value]
const auto parameter = word("param") >> need("a name after `param`", set<&ast::Parameter::name>(name)) >>
                       need("`=` and a value", symbol("=")) >>
                       need("a value after `=`", set<&ast::Parameter::value>(expression)) >>
                       -(word("in") >> need("the lowest value after `in`", set<&ast::Parameter::low>(expression)) >>
                         need("`..` and the highest value", symbol("..")) >>
                         need("the highest value after `..`", set<&ast::Parameter::high>(expression)));

// let = "let" name "=" value
const auto let = word("let") >> need("a name after `let`", set<&ast::Let::name>(name)) >>
                 need("`=` and a value", symbol("=")) >> need("a value after `=`", set<&ast::Let::value>(expression));

// rail = "rail" name "on" output { "sense" "remote" | "reversed" }
const auto rail_option =
    (word("sense") >> need("`remote` after `sense`", mark<&ast::Rail::remote_sense>(word("remote")))) |
    mark<&ast::Rail::reversed>(word("reversed"));
const auto rail = word("rail") >> need("a name after `rail`", set<&ast::Rail::name>(name)) >>
                  need("`on` and a channel after the rail's name", word("on")) >>
                  need("an output of the bench, or a channel as in `left.ch1`, after `on`",
                       set<&ast::Rail::channel>(channel)) >>
                  *rail_option;

// line = "line" name "on" channel ( "output" ["when" ("trip" | "cc") rails] | "input" ["off" rails] )
const auto line_rails = push<&ast::Line::rails>(rail_name);
const auto line_output = mark<&ast::Line::direction, ast::Direction::Output>(word("output")) >>
                         -(word("when") >> need("`trip` or `cc` after `when`",
                                                mark<&ast::Line::trigger, ast::LineTrigger::Trip>(word("trip")) |
                                                    mark<&ast::Line::trigger, ast::LineTrigger::Cc>(word("cc"))) >>
                           list("a rail's name after the cause", "a rail's name after the comma", line_rails));
const auto line_input = mark<&ast::Line::direction, ast::Direction::Input>(word("input")) >>
                        -(mark<&ast::Line::trigger, ast::LineTrigger::Off>(word("off")) >>
                          list("a rail's name after `off`", "a rail's name after the comma", line_rails));
const auto line = word("line") >> need("a name after `line`", set<&ast::Line::name>(name)) >>
                  need("`on` and the supply's line after the name", word("on")) >>
                  need("a line of a supply, as in `left.line1`, after `on`", set<&ast::Line::channel>(trigger_line)) >>
                  need("`output` or `input` after the supply's line", line_output | line_input);

// accept = "accept" finding-name "on" rail "because" text
const auto accept = word("accept") >>
                    need("a finding's name after `accept`", set<&ast::Accept::finding>(finding_name)) >>
                    need("`on` and a rail's name", word("on")) >>
                    need("a rail's name after `on`", set<&ast::Accept::rail>(rail_name)) >>
                    need("`because` and a reason in double quotes", word("because")) >>
                    need("a reason in double quotes after `because`", set<&ast::Accept::reason>(text));

// always = "always" condition ["while" condition]
const auto always = word("always") >>
                    need("a condition after `always`", set<&ast::AlwaysRule::condition>(expression)) >>
                    -(word("while") >> need("a condition after `while`", set<&ast::AlwaysRule::premise>(expression)));

// monotonic = rail ("rises" | "falls") "from" value "to" value ["within" time]
const auto monotonic = set<&ast::MonotonicRule::rail>(rail_name) >>
                       (word("rises") | mark<&ast::MonotonicRule::falling>(word("falls"))) >>
                       need("`from` and a voltage", word("from")) >>
                       need("a voltage after `from`", set<&ast::MonotonicRule::from>(expression)) >>
                       need("`to` and a voltage", word("to")) >>
                       need("a voltage after `to`", set<&ast::MonotonicRule::to>(expression)) >>
                       -(word("within") >> need("a time after `within`", set<&ast::MonotonicRule::within>(expression)));

// order = condition ("before" condition ["by" time] | "within" time "after" condition)
//
// Both forms begin with a condition, so it is read once and moved to the form that follows.
struct OrderRule : Filling<OrderRule> {
  template <class Context, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, ast::Rule& rule, Attribute&) const {
    static const auto before = word("before") >>
                               need("a condition after `before`", set<&ast::BeforeRule::second>(expression)) >>
                               -(word("by") >> need("a time after `by`", set<&ast::BeforeRule::by>(expression)));
    static const auto within = word("within") >>
                               need("a time after `within`", set<&ast::WithinRule::time>(expression)) >>
                               need("`after` and a condition", word("after")) >>
                               need("a condition after `after`", set<&ast::WithinRule::stimulus>(expression));
    ast::BeforeRule before_rule;
    ast::WithinRule within_rule;
    if (!expression.parse(first, last, context, x3::unused, before_rule.first)) return false;
    if (before.parse(first, last, context, before_rule, x3::unused)) {
      rule.what = std::move(before_rule);
      return true;
    }
    if (!within.parse(first, last, context, within_rule, x3::unused)) {
      state_of(context).fail(first, "`before` and a condition, or `within` and a time, after the condition");
    }
    within_rule.response = std::move(before_rule.first);
    rule.what = std::move(within_rule);
    return true;
  }
};

// rule = "rule" label ["from" label "to" label] (always | monotonic | order)
const auto phase = word("from") >>
                   need("the name of a mark in double quotes after `from`", set<&ast::Rule::from>(mark_name)) >>
                   need("`to` and the name of a mark", word("to")) >>
                   need("the name of a mark in double quotes after `to`", set<&ast::Rule::to>(mark_name));
const auto rule = word("rule") >> need("a name in double quotes after `rule`", set<&ast::Rule::name>(label)) >> -phase
                  >> need("`always`, a condition, or a rail that rises or falls, after the rule's name",
                          as<ast::AlwaysRule>(always) | as<ast::MonotonicRule>(monotonic) | OrderRule());

// sequence = "sequence" name [ "(" [ name { "," name } ] ")" ] block
const auto parameters =
    parenthesised(-(push<&ast::Sequence::parameters>(name) >>
                    *(comma >> need("a parameter's name after the comma", push<&ast::Sequence::parameters>(name)))));
const auto sequence = word("sequence") >> need("a name after `sequence`", set<&ast::Sequence::name>(name)) >>
                      -parameters >> body<&ast::Sequence::body>("`{` and the statements of the sequence");

// run = "run" block;  safe = "safe" block
const auto run = word("run") >> body<&ast::Run::body>("`{` and the statements after `run`");
const auto safe = word("safe") >> body<&ast::Safe::body>("`{` and the statements after `safe`");

// expect = "expect" ( "no" "trip" | "trip" rail "by" cause | figure ) ["under" fault]
// figure = name [ "(" rail ")" ] ["at" label] ("<" | "<=" | ">" | ">=") value
const auto expect_no_trip = word("no") >> need("`trip` after `no`", word("trip"));
const auto expect_trip = word("trip") >> need("a rail's name after `trip`", set<&ast::ExpectTrip::rail>(rail_name)) >>
                         need("`by` and the cause", word("by")) >>
                         need("`fuse`, `overvoltage`, `overpower` or `overtemperature` after `by`",
                              set<&ast::ExpectTrip::cause>(cause));
const auto expect_figure = set<&ast::ExpectFigure::figure>(figure_name) >>
                           -parenthesised(need("a rail's name or `total` after `(`",
                                               set<&ast::ExpectFigure::of>(rail_or_total))) >>
                           -(word("at") >> need("the name of a mark in double quotes after `at`",
                                                set<&ast::ExpectFigure::at_mark>(mark_name))) >>
                           need("`<`, `<=`, `>` or `>=` after the figure", ComparisonWord()) >>
                           need("a value after the comparison", set<&ast::ExpectFigure::bound>(arithmetic));
const auto expect = word("expect") >> need("`no trip`, `trip` and a rail, or a figure, after `expect`",
                                           as<ast::ExpectNoTrip>(expect_no_trip) | as<ast::ExpectTrip>(expect_trip) |
                                               as<ast::ExpectFigure>(expect_figure)) >>
                    -(word("under") >> need("a fault's name after `under`", set<&ast::Expect::under>(fault_name)));

const auto any_declaration =
    as<ast::Let>(let) | as<ast::Parameter>(parameter) | as<ast::Rail>(rail) | as<ast::Line>(line) |
    as<ast::Protect>(protect) | as<ast::Accept>(accept) | as<ast::Rule>(rule) | as<ast::Sequence>(sequence) |
    as<ast::Run>(run) | as<ast::Safe>(safe) | as<ast::Expect>(expect) | as<ast::Title>(title) |
    as<ast::BenchPath>(bench_path) | as<ast::LoadPath>(load_path) | as<ast::Import>(import_path);

// Statements or settings at the top of a file: most often a `}` too many has ended their block. They are told once, and
// read on for their own mistakes up to the `}` that this leaves over.
struct StrayStatements : Filling<StrayStatements> {
  template <class Context, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, ast::Declaration& node, Attribute&) const {
    State& state = state_of(context);
    const Iterator start = state.skip_separators(first);
    if (start == last) return false;
    const std::string_view word = scan::word_at(start, last);
    const bool settings = scan::is_setting_word(word);
    if (*start != '}' && !scan::is_verb(word) && !settings) return false;
    state.reporter.stray(start, state.last_close);
    for (first = start; first != last;) {
      const Iterator at = state.skip_separators(first);
      if (at != last && *at == '}') {
        first = at + 1;
        break;
      }
      if (at == last || scan::is_declaration_word(scan::word_at(at, last))) break;
      // The first one is the mistake that has been told.
      state.reporter.mute(at == start);
      const bool read = settings ? read_setting(first, last, context) : read_statement(first, last, context);
      state.reporter.mute(false);
      if (!read) break;
    }
    node = {};
    node.span = state.span(start, first);
    return true;
  }

 private:
  template <class Context>
  static bool read_statement(Iterator& first, Iterator const& last, Context const& context) {
    ast::Statement dropped;
    return statement.parse(first, last, context, x3::unused, dropped);
  }

  template <class Context>
  static bool read_setting(Iterator& first, Iterator const& last, Context const& context) {
    ast::ProtectSetting dropped;
    const bool read = setting.parse(first, last, context, x3::unused, dropped);
    state_of(context).drop = false;
    return read;
  }
};

const auto declaration = object<ast::Declaration>(
    StrayStatements() | recovering<DeclarationPlace>(
                            any_declaration >> need("the end of the statement", end_of_statement), block, settings));

// file = { declaration }
const auto file = object<ast::Profile>(*push<&ast::Profile::declarations>(declaration));

// NOLINTEND(readability-identifier-naming)

}  // namespace rampart::grammar
