#pragma once

#include <algorithm>

#include "lang/syntax/grammar/directives.h"
#include "lang/syntax/unit_hint.h"
#include "lang/values/unit.h"

// Words, numbers, texts and signs.
namespace rampart::grammar {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

// A keyword in its place.
struct Word : x3::parser<Word> {
  using attribute_type = x3::unused_type;
  static bool const has_attribute = false;
  std::string_view text;
  bool joins;
  explicit Word(std::string_view of) : text(of), joins(scan::joins_lines(of)) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == state.watched) state.expect(Wanted::Keyword, at, text);
    // Nearly every word that is tried fails at its first letter.
    if (at == last || *at != text.front()) return false;
    if (static_cast<std::size_t>(last - at) < text.size() || std::string_view(at, text.size()) != text) return false;
    const Iterator stop = at + text.size();
    if (stop != last && scan::is_word_part(*stop)) return false;
    first = stop;
    if (joins) state.joined = stop;
    if (state.watch != nullptr) state.watch->words.emplace_back(state.offset(at), state.offset(stop));
    return true;
  }
};

// A comma, `=`, `..` or `-`.
struct Symbol : x3::parser<Symbol> {
  using attribute_type = x3::unused_type;
  static bool const has_attribute = false;
  std::string_view text;
  explicit Symbol(std::string_view of) : text(of) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    // What is typed sooner than chosen is not offered.
    if (at == state.watched && text != ",") state.expect(Wanted::Operator, at, text);
    if (at == last || *at != text.front()) return false;
    const scan::Token token = scan::token_at(at, last);
    if (token.kind != scan::TokenKind::Symbol || token.text != text) return false;
    first = token.text.data() + token.text.size();
    if (scan::joins_lines(text)) state.joined = first;
    return true;
  }
};

// A line that a bracket or a joining word continues, but that plainly begins a declaration: `let x`, `rule "x"`.
inline bool begins_declaration(const State& state, Iterator at, std::string_view first) {
  if (!scan::is_declaration_word(first) || !scan::first_of_line(state.begin, at)) return false;
  const scan::Token next = scan::token_at(at + first.size(), state.end);
  if (next.kind == scan::TokenKind::Text) return true;
  return next.kind == scan::TokenKind::Word && !scan::is_reserved(next.text);
}

// Shared by the parsers that read an ast::Name.
template <class Derived>
struct NameLike : x3::parser<Derived> {
  using attribute_type = ast::Name;
  static bool const has_attribute = true;
  Wanted wanted;
  explicit NameLike(Wanted what) : wanted(what) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&,
             Attribute& attribute) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == state.watched) state.expect(wanted, at);
    const std::string_view text = Derived::text_at(at, last);
    if (text.empty() || begins_declaration(state, at, text)) return false;
    first = at + text.size();
    // The place lies in a name of several words.
    const bool goes_on = first == state.watched || (first != last && *first == '.' && first + 1 == state.watched);
    if (Derived::kSeveralWords && goes_on) state.expect(wanted, at);
    if constexpr (std::is_same_v<Attribute, ast::Name>) attribute = {state.span(at, first), text};
    return true;
  }
};

// name = a word that is not reserved
struct NameWord : NameLike<NameWord> {
  using NameLike::NameLike;
  static constexpr bool kSeveralWords = false;

  static std::string_view text_at(Iterator at, Iterator last) {
    const std::string_view word = scan::word_at(at, last);
    return scan::is_reserved(word) ? std::string_view() : word;
  }
};

// channel = name { "." word }
struct ChannelWord : NameLike<ChannelWord> {
  using NameLike::NameLike;
  static constexpr bool kSeveralWords = true;

  static std::string_view text_at(Iterator at, Iterator last) {
    std::string_view text = NameWord::text_at(at, last);
    while (!text.empty()) {
      const Iterator stop = at + text.size();
      if (stop == last || *stop != '.') break;
      const std::string_view part = scan::word_at(stop + 1, last);
      if (part.empty()) break;
      text = {at, text.size() + 1 + part.size()};
    }
    return text;
  }
};

// finding-name = word { "-" word }
struct FindingWord : NameLike<FindingWord> {
  using NameLike::NameLike;
  static constexpr bool kSeveralWords = true;

  static std::string_view text_at(Iterator at, Iterator last) {
    Iterator stop = at;
    while (stop != last && (scan::is_word_part(*stop) || *stop == '-')) ++stop;
    const bool begins = at != stop && scan::is_word_start(*at);
    return begins ? std::string_view(at, static_cast<std::size_t>(stop - at)) : std::string_view();
  }
};

// cause = "fuse" | "overvoltage" | "overpower" | "overtemperature"
struct CauseWord : NameLike<CauseWord> {
  using NameLike::NameLike;
  static constexpr bool kSeveralWords = false;

  static std::string_view text_at(Iterator at, Iterator last) {
    const std::string_view word = scan::word_at(at, last);
    const bool known = word == "fuse" || word == "overvoltage" || word == "overpower" || word == "overtemperature";
    return known ? word : std::string_view();
  }
};

// text = '"' { character | '\"' | '\\' } '"';  label = the same with '{' name '}' and '\{'
template <class Quoted>
struct QuotedWord : x3::parser<QuotedWord<Quoted>> {
  using attribute_type = Quoted;
  static bool const has_attribute = true;
  Wanted wanted;
  explicit QuotedWord(Wanted what) : wanted(what) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&,
             Attribute& attribute) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == state.watched) state.expect(wanted, at);
    if (at == last || *at != '"') return false;
    const scan::Token token = scan::token_at(at, last);
    if (at < state.watched && state.watched < at + token.text.size()) state.expect(wanted, at + 1, {}, true);
    ast::Label label;
    const bool closed = read(state, token.text, label);
    first = token.text.data() + token.text.size();
    if (!closed) {
      state.reporter.report(finding::UnclosedText, token.text.data(), first, {"end it with `\"` on the same line"});
      throw Failure(first, "");
    }
    label.text.span = state.span(token.text.data(), first);
    if constexpr (std::is_same_v<Attribute, ast::Text>) attribute = std::move(label.text);
    if constexpr (std::is_same_v<Attribute, ast::Label>) attribute = std::move(label);
    return true;
  }

  static constexpr bool kHoldsValues = std::is_same_v<Quoted, ast::Label>;

  // False: the closing quote is missing.
  static bool read(State& state, std::string_view token, ast::Label& label) {
    std::string& value = label.text.value;
    for (std::size_t i = 1; i < token.size(); ++i) {
      if (token[i] == '"') return true;
      if (kHoldsValues && token[i] == '{') {
        i = read_value(state, token, i, label);
        continue;
      }
      if (token[i] != '\\' || i + 1 == token.size()) {
        value += token[i];
        continue;
      }
      const char escaped = token[++i];
      if (escaped != '"' && escaped != '\\' && !(kHoldsValues && escaped == '{')) {
        const Iterator at = token.data() + i - 1;
        const scan::Token whole = scan::token_at(at + 1, token.data() + token.size());
        const Iterator stop = scan::is_wide(escaped) ? whole.text.data() + whole.text.size() : at + 2;
        state.reporter.report(finding::UnknownEscape, at, stop, {"write `\\\\` for a backslash and `\\\"` for a quote"},
                              std::string_view(at, static_cast<std::size_t>(stop - at)));
      }
      value += escaped;
    }
    return false;
  }

  // The name between the brace at `open` and the one behind it, where the value goes. Gives the place of the last.
  static std::size_t read_value(State& state, std::string_view token, std::size_t open, ast::Label& label) {
    const Iterator at = token.data() + open + 1;
    const std::string_view name = NameWord::text_at(at, token.data() + token.size());
    const std::size_t close = open + 1 + name.size();
    if (name.empty() || close == token.size() || token[close] != '}') {
      state.reporter.report(finding::NoValueInText, at - 1, at + name.size(),
                            {"write the name of a value and `}`, as in `{k}`, or `\\{` for the brace itself"});
      return close - 1;
    }
    label.parts.push_back({label.text.value.size(), {state.span(at, at + name.size()), name}});
    return close;
  }
};
using TextWord = QuotedWord<ast::Text>;
using LabelWord = QuotedWord<ast::Label>;

// number = digits [ "." digits ] [ unit ]
struct NumberWord : Filling<NumberWord> {
  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == last) return false;
    if (*at == '.' && at + 1 != last && scan::is_digit(at[1])) {
      state.reporter.report(finding::BarePoint, at, at + 1, {"write a 0 before the point", "0."});
      throw Failure(at, "");
    }
    if (!scan::is_digit(*at)) return false;
    const scan::Number number = scan::number_at(at, last);
    first = number.end;
    if (state.watch != nullptr && number.unit.empty() && state.skip(first) == state.watched) {
      state.expect(Wanted::Unit, state.watched);
    }
    // In brackets a comma may stand between two numbers.
    const bool comma = state.brackets == 0 && number.unit.empty() && number.end != last && *number.end == ',' &&
                       number.end + 1 != last && scan::is_digit(number.end[1]);
    if (comma) first = after_comma(state, at, number);
    state.reporter.number_read(at);
    state.builder.literal(state.offset(at), state.offset(first),
                          comma ? state.builder.keep(spoilt()) : literal_of(state, at, number), number.unit);
    return true;
  }

  static const Quantity* literal_of(State& state, Iterator at, const scan::Number& number) {
    const std::string_view text(at, static_cast<std::size_t>(number.end - at));
    KnownNumbers::Number& known = state.numbers.place_of(text);
    if (known.text == text) return known.value;
    const Quantity value = value_of(state, at, number);
    const Quantity* kept = state.builder.keep(value);
    // What has a finding gets it wherever it stands.
    const bool is_sound = !value.value.overflowed() && !number.bare_point;
    if (is_sound) known = {text, kept};
    return kept;
  }

  // A value that nothing more is said about.
  static Quantity spoilt() { return {Rational::overflow(), dimension::kNone}; }

  // Reports a number with a decimal comma and gives its end.
  static Iterator after_comma(State& state, Iterator at, const scan::Number& whole) {
    const scan::Number part = scan::number_at(whole.end + 1, state.end);
    const std::string_view written(at, static_cast<std::size_t>(part.end - at));
    std::string with_point(written);
    with_point[static_cast<std::size_t>(whole.end - at)] = '.';
    state.reporter.report(finding::DecimalComma, at, part.end,
                          {"write a decimal point, not a comma: `" + with_point + "`", with_point}, written);
    return part.end;
  }

  static Quantity value_of(State& state, Iterator at, const scan::Number& number) {
    Quantity quantity{parse_decimal(number.digits).value_or(Rational{}), dimension::kNone};
    if (number.bare_point) {
      const Iterator point = at + number.digits.size();
      state.reporter.report(finding::BarePoint, point, point + 1,
                            {"write a digit behind the point or leave it out", ""});
    }
    if (!number.wrong_unit.empty()) {
      state.reporter.report(finding::UnknownUnit, number.wrong_unit.data(), number.end, unit_hint(number.wrong_unit),
                            number.wrong_unit);
      state.reporter.excuse_word_after(number.end);
      return spoilt();
    }
    if (!number.unit.empty()) quantity = with_unit(state, quantity.value, number.unit);
    if (quantity.value.overflowed()) {
      state.reporter.report(finding::NumberTooLarge, at, number.end, {"use a prefix such as `M`, or fewer digits"});
    }
    return quantity;
  }

  static Quantity with_unit(State& state, const Rational& value, std::string_view text) {
    const std::optional<Unit> unit = find_unit(text);
    const bool foreign = !unit || unit->offset.sign() != 0;
    if (foreign) {
      state.reporter.report(finding::ForeignUnit, text.data(), text.data() + text.size(),
                            {"temperatures of a profile are in `K`"}, text);
      return spoilt();
    }
    return {value * unit->factor, unit->dimension};
  }
};

// A name as an operand.
struct OperandName : Filling<OperandName> {
  Wanted wanted;
  explicit OperandName(Wanted what) : wanted(what) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == state.watched) state.expect(wanted, at);
    const std::string_view text = NameWord::text_at(at, last);
    if (text.empty() || begins_declaration(state, at, text)) return false;
    first = at + text.size();
    state.builder.name(state.offset(at), state.offset(first), text);
    return true;
  }
};

// A function's name before its parenthesis: current, power or slew of a rail.
struct MeasureName : Filling<MeasureName> {
  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == state.watched) state.expect(Wanted::Measure, at);
    const std::string_view text = NameWord::text_at(at, last);
    if (text.empty() || scan::token_at(at + text.size(), last).text != "(") return false;
    first = at + text.size();
    if (std::find(std::begin(scan::kMeasures), std::end(scan::kMeasures), text) == std::end(scan::kMeasures)) {
      state.reporter.report(finding::UnknownName, at, first, function_hint(text), "function", text);
      state.builder.spoil();
    }
    state.builder.name_measure(text);
    return true;
  }

  static Advice function_hint(std::string_view name) {
    if (name == "voltage") return {"a rail's name alone stands for its voltage"};
    const std::vector<std::string> known{"abs", "current", "max", "min", "power", "slew"};
    const std::string nearest = nearest_name(name, known);
    if (nearest.empty()) return {"functions are min, max, abs, current, power and slew"};
    return {"did you mean `" + nearest + "`?", nearest};
  }
};

// `-` or `not` before an operand.
struct Prefix : Filling<Prefix> {
  Operator op;
  explicit Prefix(Operator what) : op(what) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const std::string_view text = op == Operator::Not ? "not" : "-";
    const Iterator at = state.skip(first);
    if (at == state.watched && op == Operator::Not) state.expect(Wanted::Operator, at, text);
    if (at == last || *at != text.front()) return false;
    const scan::Token token = scan::token_at(at, last);
    if (token.text != text) return false;
    if (!state.builder.open(op, state.offset(token.text.data()))) fail_too_deep(state, token.text.data());
    first = token.text.data() + token.text.size();
    if (op == Operator::Not) state.joined = first;
    return true;
  }
};

struct OperatorText {
  std::string_view text;
  Operator op;
};
constexpr OperatorText kArithmetic[] = {
    {"+", Operator::Add}, {"-", Operator::Subtract}, {"*", Operator::Multiply}, {"/", Operator::Divide}};
constexpr OperatorText kComparisons[] = {
    {"<", Operator::Less}, {"<=", Operator::LessEqual}, {">", Operator::Greater}, {">=", Operator::GreaterEqual}};
constexpr OperatorText kLogical[] = {{"and", Operator::And}, {"or", Operator::Or}};

// The operator of `table` that is the token at `at`.
template <std::size_t kSize>
const OperatorText* operator_at(State& state, const OperatorText (&table)[kSize], Iterator at, Iterator last) {
  if (at == state.watched) {
    for (const OperatorText& row : table) state.expect(Wanted::Operator, at, row.text);
  }
  const auto begins_here = [at](const OperatorText& row) { return row.text.front() == *at; };
  if (at == last || std::none_of(std::begin(table), std::end(table), begins_here)) return nullptr;
  const std::string_view token = scan::token_at(at, last).text;
  const auto* row = std::find_if(std::begin(table), std::end(table),
                                 [token](const OperatorText& candidate) { return candidate.text == token; });
  return row == std::end(table) ? nullptr : row;
}

// One of the binary operators of `table`, told to the builder.
template <std::size_t kSize>
struct Binary : Filling<Binary<kSize>> {
  const OperatorText (*table)[kSize];
  explicit Binary(const OperatorText (&of)[kSize]) : table(&of) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    const OperatorText* found = operator_at(state, *table, at, last);
    if (found == nullptr) return false;
    first = at + found->text.size();
    state.joined = first;
    if (!state.builder.binary(found->op)) {
      state.reporter.report(finding::ChainedComparison, at, first, {"join two comparisons with `and`"});
      state.builder.spoil();
    }
    return true;
  }
};

// The comparison of an expectation, which is no part of an expression.
struct ComparisonWord : Filling<ComparisonWord> {
  template <class Context, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, ast::ExpectFigure& figure,
             Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    const OperatorText* found = operator_at(state, kComparisons, at, last);
    if (found == nullptr) return false;
    first = at + found->text.size();
    state.joined = first;
    figure.comparison = found->op;
    return true;
  }
};

// A comma between the values of a function.
struct ValueComma : Filling<ValueComma> {
  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == last || *at != ',') return false;
    first = at + 1;
    if (!state.builder.next_operand()) {
      state.reporter.report(finding::TooManyOperands, at, first, {"nest several functions"},
                            std::int64_t{kMaxFunctionOperands});
      throw Failure(at, "");
    }
    return true;
  }
};

// Where a statement may end: before a newline, `;`, `}` or the end, and behind a block.
struct EndOfStatement : x3::parser<EndOfStatement> {
  using attribute_type = x3::unused_type;
  static bool const has_attribute = false;

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == last || *at == '\n' || *at == ';' || *at == '}') return true;
    return first != state.begin && first[-1] == '}';
  }
};

inline auto word(const char* text) {
  return Word(text);
}
inline auto symbol(const char* text) {
  return Symbol(text);
}

// Names are read alike, whatever they stand for.
const NameWord name(Wanted::NewName);
const NameWord rail_name(Wanted::Rail);
const NameWord line_name(Wanted::Line);
const NameWord sequence_name(Wanted::Sequence);
const NameWord figure_name(Wanted::Figure);
const NameWord rail_or_total(Wanted::RailOrTotal);
const NameWord fault_name(Wanted::Fault);
const ChannelWord channel(Wanted::Channel);
const ChannelWord trigger_line(Wanted::TriggerLine);
const FindingWord finding_name(Wanted::Finding);
const CauseWord cause(Wanted::Cause);
const TextWord text(Wanted::Text);
const LabelWord label(Wanted::Text);
const TextWord bench_path_text(Wanted::BenchPath);
const TextWord load_path_text(Wanted::LoadPath);
const TextWord import_path_text(Wanted::ImportPath);
const TextWord shape_path_text(Wanted::ShapePath);
const LabelWord mark_name(Wanted::Mark);
const EndOfStatement end_of_statement;
const Symbol comma(",");

// first { "," next }
template <class Parser>
auto list(const char* first, const char* next, Parser const& parser) {
  return need(first, parser) >> *(comma >> need(next, parser));
}

// NOLINTEND(readability-identifier-naming)

}  // namespace rampart::grammar
