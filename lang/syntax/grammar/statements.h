#pragma once

#include "lang/syntax/grammar/expressions.h"
#include "lang/syntax/grammar/recovery.h"

// What stands in blocks: statements, and the settings of a protection.
namespace rampart::grammar {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

const x3::rule<struct BlockId, ast::Block> block("block");
const x3::rule<struct SettingsId, ast::Protect> settings("settings");
const x3::rule<struct StatementId, ast::Statement> statement("statement");

template <auto kMember>
auto body(const char* expected) {
  return need_braces(expected, set<kMember>(block));
}

// switch = ("on" | "off") rail { "," rail }
const auto switch_on = mark<&ast::Switch::on>(word("on")) >> list("a rail's name after `on`",
                                                                  "a rail's name after the comma",
                                                                  push<&ast::Switch::rails>(rail_name));
const auto switch_off = word("off") >> list("a rail's name after `off`", "a rail's name after the comma",
                                            push<&ast::Switch::rails>(rail_name));

// change = "to" value | "by" value
const auto change =
    (word("to") >> need("a value after `to`", set<&ast::Target::value>(expression))) |
    (mark<&ast::Target::relative>(word("by")) >> need("a value after `by`", set<&ast::Target::value>(expression)));

// step = "step" rail change { "," rail change }
const auto step_target =
    object<ast::Target>(set<&ast::Target::rail>(rail_name) >>
                        need("`to` and a voltage, or `by` and a change, after the rail's name", change));
const auto step = word("step") >> list("a rail's name after `step`", "a rail's name after the comma",
                                       push<&ast::Step::targets>(step_target));

// ramp = "ramp" rail ["from" value] change { "," ... } ("over" time | "at" rate)
const auto ramp_target =
    object<ast::Target>(set<&ast::Target::rail>(rail_name) >>
                        -(word("from") >> need("a voltage after `from`", set<&ast::Target::from>(expression))) >>
                        need("`to` and a voltage, or `by` and a change, after the rail's name", change));
const auto ramp_pace =
    (word("over") >> need("a time after `over`", set<&ast::Ramp::pace>(expression))) |
    (mark<&ast::Ramp::is_rate>(word("at")) >> need("a rate after `at`", set<&ast::Ramp::pace>(expression)));
const auto ramp = word("ramp") >> list("a rail's name after `ramp`", "a rail's name after the comma",
                                       push<&ast::Ramp::targets>(ramp_target)) >>
                  need("`over` and a time, or `at` and a rate, after the target", ramp_pace);

// waveform = "waveform" rail "from" ( "[" point { "," point } "]" | text ) [ "scaled" "by" value ]
// point = "[" time "," voltage "]"
const auto waveform_point = object<ast::WaveformPoint>(
    bracketed(need("a time after `[`", set<&ast::WaveformPoint::time>(expression)) >>
              need("a comma and the voltage after the time", comma) >>
              need("a voltage after the comma", set<&ast::WaveformPoint::voltage>(expression))));
const auto waveform_shape =
    set<&ast::Waveform::file>(shape_path_text) |
    bracketed(list("a point, as in `[10 ms, 3.3 V]`, after `[`", "a point, as in `[10 ms, 3.3 V]`, after the comma",
                   push<&ast::Waveform::points>(waveform_point)));
const auto waveform = word("waveform") >>
                      need("a rail's name after `waveform`", set<&ast::Waveform::rail>(rail_name)) >>
                      need("`from` and points or a file after the rail's name", word("from")) >>
                      need("points in `[ ]`, or a file in double quotes, after `from`", waveform_shape) >>
                      -(word("scaled") >> need("`by` and a factor after `scaled`", word("by")) >>
                        need("a factor after `by`", set<&ast::Waveform::scale>(expression)));

// limit = "limit" rail change { "," rail change } | "limit" rail "ramp" change { "," rail ["ramp"] change } "over" time
const auto limit_target =
    object<ast::Target>(set<&ast::Target::rail>(rail_name) >>
                        need("`to` and a current, or `by` and a change, after the rail's name", change));
const auto limit_ramp_target =
    object<ast::Target>(set<&ast::Target::rail>(rail_name) >> -word("ramp") >>
                        need("`to` and a current, or `by` and a change, after the rail's name", change));
const auto limit_ramp = word("limit") >>
                        &(rail_name >> word("ramp")) >> push<&ast::Limit::targets>(limit_ramp_target) >>
                        *(comma >>
                          need("a rail's name after the comma", push<&ast::Limit::targets>(limit_ramp_target))) >>
                        need("`over` and a time after the target", word("over")) >>
                        need("a time after `over`", set<&ast::Limit::over>(expression));
const auto limit = word("limit") >> list("a rail's name after `limit`", "a rail's name after the comma",
                                         push<&ast::Limit::targets>(limit_target));

// dwell = "dwell" time;  mark = "mark" label;  measure = "measure" label "over" time
const auto dwell = word("dwell") >> need("a time after `dwell`", set<&ast::Dwell::time>(expression));
const auto mark_statement = word("mark") >> need("a name in double quotes after `mark`", set<&ast::Mark::name>(label));
const auto measurement = word("measure") >>
                         need("a name in double quotes after `measure`", set<&ast::Measurement::name>(label)) >>
                         need("`over` and a time after the name", word("over")) >>
                         need("a time after `over`", set<&ast::Measurement::over>(expression));

// repeat = "repeat" (passes | "for" time) block
const auto repeat_count =
    (mark<&ast::Repeat::is_time>(word("for")) >> need("a time after `for`", set<&ast::Repeat::count>(expression))) |
    set<&ast::Repeat::count>(expression);
const auto repeat = word("repeat") >> need("a number of passes, or `for` and a time, after `repeat`", repeat_count) >>
                    body<&ast::Repeat::body>("`{` and the repeated statements");

// for = "for" name "in" ("[" value { "," value } "]" | value ".." value "step" value) block
const auto for_list = word("for") >> set<&ast::ForList::variable>(name) >> word("in") >>
                      bracketed(list("a value after `[`", "a value after the comma",
                                     push<&ast::ForList::values>(expression))) >>
                      body<&ast::ForList::body>("`{` and the repeated statements");
const auto for_range = word("for") >> need("a variable's name after `for`", set<&ast::ForRange::variable>(name)) >>
                       need("`in` and the values after the variable's name", word("in")) >>
                       need("a value or a list in `[ ]` after `in`", set<&ast::ForRange::first>(expression)) >>
                       need("`..` and the last value", symbol("..")) >>
                       need("a value after `..`", set<&ast::ForRange::last>(expression)) >>
                       need("`step` and the distance of two values", word("step")) >>
                       need("a value after `step`", set<&ast::ForRange::step>(expression)) >>
                       body<&ast::ForRange::body>("`{` and the repeated statements");

// together = "together" block;  track = "track" rail "with" rail block
const auto together = word("together") >> body<&ast::Together::body>("`{` and the branches after `together`");
const auto track = word("track") >> need("a rail's name after `track`", set<&ast::Track::follower>(rail_name)) >>
                   need("`with` and a rail's name", word("with")) >>
                   need("a rail's name after `with`", set<&ast::Track::leader>(rail_name)) >>
                   body<&ast::Track::body>("`{` and the statements that are tracked");

// set-line = ("raise" | "lower") line;  pulse = "pulse" line "for" time
const auto set_line = (mark<&ast::SetLine::action, ast::LineAction::Raise>(word("raise")) >>
                       need("a line's name after `raise`", set<&ast::SetLine::line>(line_name))) |
                      (mark<&ast::SetLine::action, ast::LineAction::Lower>(word("lower")) >>
                       need("a line's name after `lower`", set<&ast::SetLine::line>(line_name)));
const auto pulse = word("pulse") >> need("a line's name after `pulse`", set<&ast::Pulse::line>(line_name)) >>
                   need("`for` and a time", word("for")) >>
                   need("a time after `for`", set<&ast::Pulse::time>(expression));

// await = "await" (line ("high" | "low") | "operator" label | condition) "within" time ["assume" time]
const auto await_line = set<&ast::AwaitLine::line>(line_name) >>
                        (mark<&ast::AwaitLine::high>(word("high")) | word("low"));
const auto await_operator = word("operator") >> set<&ast::AwaitOperator::prompt>(label);
const auto await_condition = set<&ast::AwaitCondition::condition>(expression);
const auto awaited =
    as<ast::AwaitLine>(await_line) | as<ast::AwaitOperator>(await_operator) | as<ast::AwaitCondition>(await_condition);
const auto await = word("await") >>
                   need("a line and its level, a condition, or `operator` and a text, after `await`", awaited) >>
                   need("`within` and a time", word("within")) >>
                   need("a time after `within`", set<&ast::Await::within>(expression)) >>
                   -(word("assume") >> need("a time after `assume`", set<&ast::Await::assume>(expression)));

// do = "do" sequence [ "(" [ value { "," value } ] ")" ]
const auto arguments =
    parenthesised(-(push<&ast::Do::arguments>(expression) >>
                    *(comma >> need("a value after the comma", push<&ast::Do::arguments>(expression)))));
const auto do_statement = word("do") >> need("a sequence's name after `do`", set<&ast::Do::sequence>(sequence_name)) >>
                          -arguments;

// group = block
const auto group_statement = set<&ast::Group::body>(block);

const auto any_statement = as<ast::Ramp>(ramp) | as<ast::Dwell>(dwell) | as<ast::Step>(step) |
                           as<ast::Waveform>(waveform) | as<ast::Switch>(switch_on) | as<ast::Switch>(switch_off) |
                           as<ast::Limit>(limit_ramp) | as<ast::Limit>(limit) | as<ast::Mark>(mark_statement) |
                           as<ast::Measurement>(measurement) | as<ast::Repeat>(repeat) | as<ast::ForList>(for_list) |
                           as<ast::ForRange>(for_range) | as<ast::Together>(together) | as<ast::Track>(track) |
                           as<ast::SetLine>(set_line) | as<ast::Pulse>(pulse) | as<ast::Await>(await) |
                           as<ast::Do>(do_statement) | as<ast::Group>(group_statement);

// block = "{" { statement } "}"
struct BlockBraces : Filling<BlockBraces> {
  template <class Context, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, ast::Block& into, Attribute&) const {
    static const auto parser = braces(*push<&ast::Block::statements>(statement));
    State& state = state_of(context);
    const Iterator start = state.skip(first);
    if (!parser.parse(first, last, context, into, x3::unused)) return false;
    into.span = state.span(start, first);
    return true;
  }
};

const auto statement_def =
    recovering<StatementPlace>(any_statement >> need("the end of the statement", end_of_statement), block, settings);
const auto block_def = BlockBraces();

// protect = "protect" rail "{" { setting } "}"
const x3::rule<struct SettingId, ast::ProtectSetting> setting("setting");

// ceiling = "ceiling" voltage;  overvoltage = "overvoltage" voltage
const auto ceiling = word("ceiling") >>
                     need("a voltage after `ceiling`", set<&ast::CeilingSetting::voltage>(expression));
const auto overvoltage = word("overvoltage") >>
                         need("a voltage after `overvoltage`", set<&ast::OvervoltageSetting::voltage>(expression));

// fuse = "fuse" ["at" current] "after" time ["linked" "with" rail { "," rail }]
const auto fuse = word("fuse") >>
                  -(word("at") >> need("a current after `at`", set<&ast::FuseSetting::current>(expression))) >>
                  need("`after` and a time", word("after")) >>
                  need("a time after `after`", set<&ast::FuseSetting::delay>(expression)) >>
                  -(word("linked") >> need("`with` and a rail's name after `linked`", word("with")) >>
                    list("a rail's name after `with`", "a rail's name after the comma",
                         push<&ast::FuseSetting::linked>(rail_name)));

// overpower = "overpower" power ["after" time]
const auto overpower = word("overpower") >>
                       need("a power after `overpower`", set<&ast::OverpowerSetting::power>(expression)) >>
                       -(word("after") >> need("a time after `after`", set<&ast::OverpowerSetting::delay>(expression)));

const auto any_setting = as<ast::CeilingSetting>(ceiling) | as<ast::OvervoltageSetting>(overvoltage) |
                         as<ast::FuseSetting>(fuse) | as<ast::OverpowerSetting>(overpower);
const auto setting_def =
    recovering<SettingPlace>(any_setting >> need("the end of the statement", end_of_statement), block, settings);
const auto settings_def = braces(*push<&ast::Protect::settings>(setting));

BOOST_SPIRIT_DEFINE(statement, block, setting, settings)

// NOLINTEND(readability-identifier-naming)

}  // namespace rampart::grammar
