// The grammar of the language, one production above each parser, in Boost.Spirit X3.
//
// Longer than other files, because all of Spirit is kept in this one translation unit. Three parts: the directives that
// tie Spirit to the syntax tree, the words, and the productions.
//
// How the tree is filled: Spirit hands each parser the attribute of the production around it (its "rule context").
// `object<T>` makes a T that context, `set<&T::member>` and `push<&T::member>` parse into its members, `as<T>` parses a
// T and stores it in the variant `what`. No production copies a finished tree, and none needs an adapted struct.
#include <boost/spirit/home/x3.hpp>
#include <string_view>
#include <utility>

#include "lang/expression_builder.h"
#include "lang/findings/files.h"
#include "lang/findings/syntax.h"
#include "lang/parse.h"
#include "lang/scanner.h"
#include "lang/syntax_reporter.h"
#include "lang/text_check.h"
#include "lang/unit.h"
#include "lang/unit_hint.h"

namespace rampart {

namespace {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

namespace x3 = boost::spirit::x3;
using ast::Operator;
using Iterator = const char*;
using Failure = x3::expectation_failure<Iterator>;

// ---- the state of one parse -----------------------------------------------------------------------------------

struct State {
  State(FileId id, std::string_view text, FindingSink& sink)
      : file(id), begin(text.data()), end(text.data() + text.size()), reporter(id, text, sink) {}

  FileId file;
  Iterator begin;
  Iterator end;
  SyntaxReporter reporter;
  ExpressionBuilder builder;
  std::vector<ast::Comment> comments;
  int brackets = 0;           // open ( and [ around the current place: newlines do not count in them
  int blocks = 0;             // open { around the current place
  Iterator joined = nullptr;  // the end of the last token after which a newline does not count
  int failed_brackets = 0;    // `brackets` where the current failure was found
  Iterator opened = nullptr;  // the bracket that is not closed, if that is the failure
  bool drop = false;          // what was just read is no good and is not kept
  bool skip_braces = false;   // the failure lies too deep to look inside what follows

  [[nodiscard]] Span span(Iterator from, Iterator to) const { return reporter.span(from, to); }
  [[nodiscard]] std::uint32_t offset(Iterator at) const { return reporter.offset(at); }

  // Comments are met several times where alternatives are tried, and kept once.
  Iterator skip_comment(Iterator at) {
    const Iterator stop = scan::comment_end(at, end);
    if (comments.empty() || comments.back().span.begin < offset(at)) comments.push_back({span(at, stop)});
    return stop;
  }

  [[nodiscard]] Iterator skip(Iterator at) {
    const bool newlines = brackets > 0 || at == joined;
    while (at != end) {
      if (scan::is_blank(*at) || (newlines && *at == '\n')) {
        ++at;
      } else if (*at == '#') {
        at = skip_comment(at);
      } else {
        break;
      }
    }
    return at;
  }

  [[nodiscard]] Iterator skip_separators(Iterator at) {
    while (at != end) {
      if (scan::is_blank(*at) || *at == '\n' || *at == ';') {
        ++at;
      } else if (*at == '#') {
        at = skip_comment(at);
      } else {
        break;
      }
    }
    return at;
  }

  // A newline or the end is reported right behind the last word, anything else where it stands.
  [[noreturn]] void fail(Iterator at, const char* expected) {
    const Iterator token = skip(at);
    failed_brackets = brackets;
    const bool nothing = token == end || *token == '\n';
    throw Failure(nothing ? at : token, expected);
  }
};

struct Skipper : x3::parser<Skipper> {
  using attribute_type = x3::unused_type;
  static bool const has_attribute = false;

  State* state;
  explicit Skipper(State* of) : state(of) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const&, Context const&, RuleContext&, Attribute&) const {
    const Iterator start = first;
    first = state->skip(first);
    return first != start;
  }
};

template <class Context>
State& state_of(Context const& context) {
  return *x3::get<x3::skipper_tag>(context).state;
}

// Counts a nesting level for as long as it lives, failures included.
class Level {
 public:
  explicit Level(int& count) : count_(count) { ++count_; }
  ~Level() { --count_; }
  Level(const Level&) = delete;
  Level& operator=(const Level&) = delete;

 private:
  int& count_;
};

[[noreturn]] void fail_too_deep(State& state, Iterator at) {
  state.reporter.report(finding::TooDeep, at, at + 1, "move the inner part into a sequence or a `let`", kMaxNesting);
  state.skip_braces = true;
  state.failed_brackets = 0;
  throw Failure(at, "");
}

// ---- directives -----------------------------------------------------------------------------------------------

// Spirit switches a production's own attribute off where `has_action` is set: these directives fill it instead.
template <class Derived>
struct Filling : x3::parser<Derived> {
  using attribute_type = x3::unused_type;
  static bool const has_attribute = false;
  static bool const has_action = true;
};

template <class T>
struct Optional {
  static constexpr bool kIs = false;
};
template <class T>
struct Optional<std::optional<T>> {
  static constexpr bool kIs = true;
  using Value = T;
};

// Parses into a member of the object around.
template <auto kMember, class Subject>
struct Set : Filling<Set<kMember, Subject>> {
  Subject subject;
  explicit constexpr Set(Subject of) : subject(std::move(of)) {}

  template <class Context, class Object, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, Object& object, Attribute&) const {
    auto& member = object.*kMember;
    using Member = std::remove_reference_t<decltype(member)>;
    if constexpr (Optional<Member>::kIs) {
      typename Optional<Member>::Value value;
      if (!subject.parse(first, last, context, x3::unused, value)) return false;
      member = std::move(value);
      return true;
    } else {
      return subject.parse(first, last, context, x3::unused, member);
    }
  }
};
template <auto kMember, class Subject>
auto set(Subject const& subject) {
  return Set<kMember, Subject>(subject);
}

// Parses one more element of a list of the object around.
template <auto kMember, class Subject>
struct Push : Filling<Push<kMember, Subject>> {
  Subject subject;
  explicit constexpr Push(Subject of) : subject(std::move(of)) {}

  template <class Context, class Object, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, Object& object, Attribute&) const {
    auto& list = object.*kMember;
    typename std::remove_reference_t<decltype(list)>::value_type value;
    if (!subject.parse(first, last, context, x3::unused, value)) return false;
    if (!std::exchange(state_of(context).drop, false)) list.push_back(std::move(value));
    return true;
  }
};
template <auto kMember, class Subject>
auto push(Subject const& subject) {
  return Push<kMember, Subject>(subject);
}

// Sets a member of the object around to a value where `subject` is met.
template <auto kMember, auto kValue, class Subject>
struct Mark : Filling<Mark<kMember, kValue, Subject>> {
  Subject subject;
  explicit constexpr Mark(Subject of) : subject(std::move(of)) {}

  template <class Context, class Object, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, Object& object, Attribute&) const {
    if (!subject.parse(first, last, context, x3::unused, x3::unused)) return false;
    object.*kMember = kValue;
    return true;
  }
};
template <auto kMember, auto kValue = true, class Subject>
auto mark(Subject const& subject) {
  return Mark<kMember, kValue, Subject>(subject);
}

// Makes a T of what `subject` parses; inside, T is the object around.
template <class T, class Subject>
struct Object : x3::parser<Object<T, Subject>> {
  using attribute_type = T;
  static bool const has_attribute = true;
  Subject subject;
  explicit constexpr Object(Subject of) : subject(std::move(of)) {}

  template <class Context, class RuleContext>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, T& object) const {
    return subject.parse(first, last, context, object, x3::unused);
  }
};
template <class T, class Subject>
auto object(Subject const& subject) {
  return Object<T, Subject>(subject);
}

// Makes a T like `object` and stores it in the variant `what` of the object around.
template <class T, class Subject>
struct As : Filling<As<T, Subject>> {
  Subject subject;
  explicit constexpr As(Subject of) : subject(std::move(of)) {}

  template <class Context, class Node, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, Node& node, Attribute&) const {
    T value;
    if (!subject.parse(first, last, context, value, x3::unused)) return false;
    node.what = std::move(value);
    return true;
  }
};
template <class T, class Subject>
auto as(Subject const& subject) {
  return As<T, Subject>(subject);
}

// What must follow; `expected` is what the user reads if it does not.
template <class Subject>
struct Need : Filling<Need<Subject>> {
  Subject subject;
  const char* expected;
  Need(const char* text, Subject const& of) : subject(of), expected(text) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext& around, Attribute&) const {
    if (!subject.parse(first, last, context, around, x3::unused)) state_of(context).fail(first, expected);
    return true;
  }
};
template <class Subject>
auto need(const char* expected, Subject const& subject) {
  return Need<Subject>(expected, subject);
}

// `subject` between brackets in which newlines do not count.
template <class Subject>
struct Enclosed : Filling<Enclosed<Subject>> {
  Subject subject;
  char open;
  const char* close;  // in backticks, as the user reads it
  Enclosed(char opening, const char* closing, Subject const& of) : subject(of), open(opening), close(closing) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext& around, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == last || *at != open) return false;
    const Level level(state.brackets);
    Iterator inner = at + 1;
    if (!subject.parse(inner, last, context, around, x3::unused)) return false;
    const Iterator closing = state.skip(inner);
    if (closing == last || *closing != close[1]) {
      state.opened = at;
      state.fail(inner, close);
    }
    first = closing + 1;
    return true;
  }
};
template <class Subject>
auto parenthesised(Subject const& subject) {
  return Enclosed<Subject>('(', "`)`", subject);
}
template <class Subject>
auto bracketed(Subject const& subject) {
  return Enclosed<Subject>('[', "`]`", subject);
}

// A parenthesis or function of an expression, told to the builder.
template <class Subject>
struct Opening : Filling<Opening<Subject>> {
  Subject subject;
  Operator op;
  Opening(Operator what, Subject const& of) : subject(of), op(what) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (!state.builder.open(op, state.offset(at))) {
      // Only what really begins a parenthesis or function is too deep.
      Iterator probe = at;
      if (probe == last || (*probe != '(' && !scan::is_word_start(*probe))) return false;
      if (*probe != '(') {
        const scan::Token next = scan::token_at(probe + scan::word_at(probe, last).size(), last);
        if (next.text != "(") return false;
      }
      fail_too_deep(state, at);
    }
    if (!subject.parse(first, last, context, x3::unused, x3::unused)) {
      state.builder.cancel();
      return false;
    }
    state.builder.close(state.offset(first));
    return true;
  }
};
template <class Subject>
auto opening(Operator op, Subject const& subject) {
  return Opening<Subject>(op, subject);
}

// A whole expression: what `subject` tells the builder, in postfix order.
template <class Subject>
struct Built : x3::parser<Built<Subject>> {
  using attribute_type = ast::Expression;
  static bool const has_attribute = true;
  Subject subject;
  explicit Built(Subject const& of) : subject(of) {}

  template <class Context, class RuleContext>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext&,
             ast::Expression& expression) const {
    State& state = state_of(context);
    state.builder.start(state.file);
    if (!subject.parse(first, last, context, x3::unused, x3::unused)) return false;
    expression = state.builder.finish();
    return true;
  }
};
template <class Subject>
auto built(Subject const& subject) {
  return Built<Subject>(subject);
}

// `{`, what `subject` reads, `}`.
template <class Subject>
struct Braces : Filling<Braces<Subject>> {
  Subject subject;
  explicit Braces(Subject const& of) : subject(of) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext& around, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == last || *at != '{') return false;
    if (state.blocks >= kMaxNesting) fail_too_deep(state, at);
    const Level level(state.blocks);
    first = at + 1;
    subject.parse(first, last, context, around, x3::unused);
    const Iterator closing = state.skip_separators(first);
    if (closing == last) {
      state.reporter.unclosed_block(first, at);
      first = last;
      return true;
    }
    first = closing + 1;
    return true;
  }
};
template <class Subject>
auto braces(Subject const& subject) {
  return Braces<Subject>(subject);
}

// ---- words ----------------------------------------------------------------------------------------------------

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
    if (static_cast<std::size_t>(last - at) < text.size() || std::string_view(at, text.size()) != text) return false;
    const Iterator stop = at + text.size();
    if (stop != last && scan::is_word_part(*stop)) return false;
    first = stop;
    if (joins) state.joined = stop;
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
    const scan::Token token = scan::token_at(state.skip(first), last);
    if (token.kind != scan::TokenKind::Symbol || token.text != text) return false;
    first = token.text.data() + token.text.size();
    if (scan::joins_lines(text)) state.joined = first;
    return true;
  }
};

bool first_of_line(Iterator begin, Iterator at) {
  while (at != begin && scan::is_blank(at[-1])) --at;
  return at == begin || at[-1] == '\n';
}

// A line that a bracket or a joining word continues, but that plainly begins a declaration: `let x`, `rule "x"`.
bool begins_declaration(const State& state, Iterator at, std::string_view first) {
  if (!scan::is_declaration_word(first) || !first_of_line(state.begin, at)) return false;
  const scan::Token next = scan::token_at(at + first.size(), state.end);
  if (next.kind == scan::TokenKind::Text) return true;
  return next.kind == scan::TokenKind::Word && !scan::is_reserved(next.text);
}

// Shared by the parsers that read an ast::Name.
template <class Derived>
struct NameLike : x3::parser<Derived> {
  using attribute_type = ast::Name;
  static bool const has_attribute = true;

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&,
             Attribute& attribute) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    const std::string_view text = Derived::text_at(at, last);
    if (text.empty() || begins_declaration(state, at, text)) return false;
    first = at + text.size();
    if constexpr (std::is_same_v<Attribute, ast::Name>) attribute = {state.span(at, first), text};
    return true;
  }
};

// name = a word that is not reserved
struct NameWord : NameLike<NameWord> {
  static std::string_view text_at(Iterator at, Iterator last) {
    const std::string_view word = scan::word_at(at, last);
    return scan::is_reserved(word) ? std::string_view() : word;
  }
};

// channel = name { "." word }
struct ChannelWord : NameLike<ChannelWord> {
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
  static std::string_view text_at(Iterator at, Iterator last) {
    Iterator stop = at;
    while (stop != last && (scan::is_word_part(*stop) || *stop == '-')) ++stop;
    const bool begins = at != stop && scan::is_word_start(*at);
    return begins ? std::string_view(at, static_cast<std::size_t>(stop - at)) : std::string_view();
  }
};

// cause = "fuse" | "overvoltage" | "overpower" | "overtemperature"
struct CauseWord : NameLike<CauseWord> {
  static std::string_view text_at(Iterator at, Iterator last) {
    const std::string_view word = scan::word_at(at, last);
    const bool known = word == "fuse" || word == "overvoltage" || word == "overpower" || word == "overtemperature";
    return known ? word : std::string_view();
  }
};

// text = '"' { character | '\"' | '\\' } '"'
struct TextWord : x3::parser<TextWord> {
  using attribute_type = ast::Text;
  static bool const has_attribute = true;

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&,
             Attribute& attribute) const {
    State& state = state_of(context);
    const scan::Token token = scan::token_at(state.skip(first), last);
    if (token.kind != scan::TokenKind::Text) return false;
    std::string value;
    const bool closed = read(state, token.text, value);
    first = token.text.data() + token.text.size();
    if (!closed) {
      state.reporter.report(finding::UnclosedText, token.text.data(), first, "end it with `\"` on the same line");
      throw Failure(first, "");
    }
    if constexpr (std::is_same_v<Attribute, ast::Text>) {
      attribute = {state.span(token.text.data(), first), std::move(value)};
    }
    return true;
  }

  // False: the closing quote is missing.
  static bool read(State& state, std::string_view token, std::string& value) {
    for (std::size_t i = 1; i < token.size(); ++i) {
      if (token[i] == '"') return true;
      if (token[i] != '\\' || i + 1 == token.size()) {
        value += token[i];
        continue;
      }
      const char escaped = token[++i];
      if (escaped != '"' && escaped != '\\') {
        const Iterator at = token.data() + i - 1;
        const scan::Token whole = scan::token_at(at + 1, token.data() + token.size());
        const Iterator stop = scan::is_wide(escaped) ? whole.text.data() + whole.text.size() : at + 2;
        state.reporter.report(finding::UnknownEscape, at, stop, "write `\\\\` for a backslash and `\\\"` for a quote",
                              std::string_view(at, static_cast<std::size_t>(stop - at)));
      }
      value += escaped;
    }
    return false;
  }
};

// number = digits [ "." digits ] [ unit ]
struct NumberWord : Filling<NumberWord> {
  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    if (at == last) return false;
    if (*at == '.' && at + 1 != last && scan::is_digit(at[1])) {
      state.reporter.report(finding::BarePoint, at, at + 1, "write a 0 before the point");
      throw Failure(at, "");
    }
    if (!scan::is_digit(*at)) return false;
    const scan::Number number = scan::number_at(at, last);
    first = number.end;
    state.reporter.number_read(at);
    state.builder.literal(state.offset(at), state.offset(first), value_of(state, at, number));
    return true;
  }

  static Quantity value_of(State& state, Iterator at, const scan::Number& number) {
    Quantity quantity{parse_decimal(number.digits).value_or(Rational{}), dimension::kNone};
    if (number.bare_point) {
      state.reporter.report(finding::BarePoint, number.end - 1, number.end,
                            "write a digit behind the point or leave it out");
    }
    if (!number.wrong_unit.empty()) {
      state.reporter.report(finding::UnknownUnit, number.wrong_unit.data(), number.end, unit_hint(number.wrong_unit),
                            number.wrong_unit);
      state.reporter.excuse_word_after(number.end);
    }
    if (!number.unit.empty()) quantity = with_unit(state, quantity.value, number.unit);
    if (quantity.value.overflowed()) {
      state.reporter.report(finding::NumberTooLarge, at, number.end, "use a prefix such as `M`, or fewer digits");
    }
    return quantity;
  }

  static Quantity with_unit(State& state, const Rational& value, std::string_view text) {
    const std::optional<Unit> unit = find_unit(text);
    const bool foreign = !unit || unit->offset.sign() != 0;
    if (foreign) {
      state.reporter.report(finding::ForeignUnit, text.data(), text.data() + text.size(),
                            "temperatures of a profile are in `K`", text);
      return {value, dimension::kTemperature};
    }
    return {value * unit->factor, unit->dimension};
  }
};

// A name as an operand.
struct OperandName : Filling<OperandName> {
  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const Iterator at = state.skip(first);
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
    const std::string_view text = NameWord::text_at(at, last);
    if (text.empty() || scan::token_at(at + text.size(), last).text != "(") return false;
    first = at + text.size();
    if (text != "current" && text != "power" && text != "slew") {
      state.reporter.report(finding::UnknownName, at, first, function_hint(text), "function", text);
    }
    state.builder.name_measure(text);
    return true;
  }

  static std::string function_hint(std::string_view name) {
    if (name == "voltage") return "a rail's name alone stands for its voltage";
    const std::vector<std::string> known{"abs", "current", "max", "min", "power", "slew"};
    const std::string nearest = nearest_name(name, known);
    return nearest.empty() ? "functions are min, max, abs, current, power and slew" : "did you mean `" + nearest + "`?";
  }
};

// `-` or `not` before an operand.
struct Prefix : Filling<Prefix> {
  Operator op;
  explicit Prefix(Operator what) : op(what) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const scan::Token token = scan::token_at(state.skip(first), last);
    if (token.text != (op == Operator::Not ? std::string_view("not") : std::string_view("-"))) return false;
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

template <std::size_t kSize>
const OperatorText* find_operator(const OperatorText (&table)[kSize], std::string_view text) {
  for (const OperatorText& row : table) {
    if (row.text == text) return &row;
  }
  return nullptr;
}

// One of the binary operators of `table`, told to the builder.
template <std::size_t kSize>
struct Binary : Filling<Binary<kSize>> {
  const OperatorText (*table)[kSize];
  explicit Binary(const OperatorText (&of)[kSize]) : table(&of) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext const&, Attribute&) const {
    State& state = state_of(context);
    const scan::Token token = scan::token_at(state.skip(first), last);
    if (token.kind != scan::TokenKind::Symbol && token.kind != scan::TokenKind::Word) return false;
    const OperatorText* found = find_operator(*table, token.text);
    if (found == nullptr) return false;
    first = token.text.data() + token.text.size();
    state.joined = first;
    if (!state.builder.binary(found->op)) {
      state.reporter.report(finding::ChainedComparison, token.text.data(), first, "join two comparisons with `and`");
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
    const scan::Token token = scan::token_at(state.skip(first), last);
    const OperatorText* found = find_operator(kComparisons, token.text);
    if (found == nullptr) return false;
    first = token.text.data() + token.text.size();
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
      state.reporter.report(finding::TooManyOperands, at, first, "nest several functions",
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

auto word(const char* text) {
  return Word(text);
}
auto symbol(const char* text) {
  return Symbol(text);
}

const NameWord name;
const ChannelWord channel;
const FindingWord finding_name;
const CauseWord cause;
const TextWord text;
const EndOfStatement end_of_statement;
const Symbol comma(",");

// first { "," next }
template <class Parser>
auto list(const char* first, const char* next, Parser const& parser) {
  return need(first, parser) >> *(comma >> need(next, parser));
}

// ---- recovery -------------------------------------------------------------------------------------------------

// What a list in braces or a file consists of.
struct StatementPlace {
  using Node = ast::Statement;
  static constexpr const char* kExpected = "a statement";
  static constexpr bool kTop = false;
};
struct SettingPlace {
  using Node = ast::ProtectSetting;
  static constexpr const char* kExpected = "`ceiling`, `overvoltage`, `fuse` or `overpower`";
  static constexpr bool kTop = false;
};
struct DeclarationPlace {
  using Node = ast::Declaration;
  static constexpr const char* kExpected = "a declaration";
  static constexpr bool kTop = true;
};

bool begins_something(Iterator at, Iterator end) {
  const scan::Token token = scan::token_at(at, end);
  return token.text == "}" || scan::is_verb(token.text) || scan::is_declaration_word(token.text);
}

// Finds where reading can go on after a failure: at a newline, a `;`, the `}` of the block around, or the `{` of a
// block that the failed statement has all the same.
class Resync {
 public:
  Resync(State& state, Iterator start) : state_(state), start_(start), brackets_(state.failed_brackets) {}

  [[nodiscard]] Iterator from(Iterator at) {
    if (state_.reporter.stopped()) return state_.end;
    // The failed word may begin the next statement, where a bracket or a joining word swallowed the newline.
    if (at != start_ && first_of_line(state_.begin, at) && begins_something(at, state_.end)) return at;
    while (true) {
      const scan::Token token = scan::token_at(at, state_.end);
      const Iterator stop = token.text.data() + token.text.size();
      if (ends_at(token)) return token.text.data();
      if (token.kind == scan::TokenKind::Comment) {
        at = state_.skip_comment(token.text.data());
        continue;
      }
      if (token.kind == scan::TokenKind::Symbol) count(token.text);
      if (token.kind != scan::TokenKind::LineEnd) joined_ = scan::joins_lines(token.text);
      at = stop;
      if (closed_) return at;
    }
  }

 private:
  bool ends_at(const scan::Token& token) {
    if (token.kind == scan::TokenKind::End) return true;
    if (braces_ > 0) return false;
    if (token.text == ";" || token.text == "}") return true;
    if (token.text == "{") return !state_.skip_braces;
    if (token.kind != scan::TokenKind::LineEnd) return false;
    return (brackets_ == 0 && !joined_) || begins_something(token.text.data() + 1, state_.end);
  }

  void count(std::string_view symbol) {
    if (symbol == "{") ++braces_;
    if (symbol == "}") closed_ = --braces_ == 0;
    if (braces_ > 0) return;
    if (symbol == "(" || symbol == "[") ++brackets_;
    if (symbol == ")" || symbol == "]") brackets_ = brackets_ > 0 ? brackets_ - 1 : 0;
  }

  State& state_;
  Iterator start_;
  int brackets_;
  int braces_ = 0;
  bool joined_ = false;
  bool closed_ = false;
};

// Where the statement's `{` was put on the next line, that `{`; else `at`.
Iterator brace_on_next_line(const State& state, Iterator at, std::string_view expected) {
  if (!expected.starts_with("`{`")) return at;
  Iterator next = at;
  while (next != state.end && (scan::is_blank(*next) || *next == '\n')) ++next;
  return next != state.end && *next == '{' ? next : at;
}

// One statement, setting or declaration. Always succeeds unless the list ends here: what cannot be read is reported,
// skipped, and left as the node's bad alternative. The block of a failed statement is still searched for errors.
template <class Place, class Subject, class StatementBlock, class SettingBlock>
struct Recovering : Filling<Recovering<Place, Subject, StatementBlock, SettingBlock>> {
  Subject subject;
  StatementBlock statements;
  SettingBlock settings;
  Recovering(Subject const& of, StatementBlock const& block, SettingBlock const& protections)
      : subject(of), statements(block), settings(protections) {}

  template <class Context, class Node, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, Node& node, Attribute&) const {
    State& state = state_of(context);
    const Iterator start = state.skip_separators(first);
    if (start == last || (*start == '}' && !Place::kTop)) return false;
    first = start;
    const bool good =
        attempt(state, start, first, [&] { return subject.parse(first, last, context, node, x3::unused); });
    node.span = state.span(start, first);
    if (good) return true;
    while (first != last && *first == '{') read_block(state, start, first, last, context);
    node = {};
    node.span = state.span(start, first);
    state.drop = std::is_same_v<Place, SettingPlace>;
    return true;
  }

 private:
  // Runs `read`. On a failure, reports it and moves `first` to where reading can go on.
  template <class Read>
  static bool attempt(State& state, Iterator start, Iterator& first, Read const& read) {
    state.skip_braces = false;
    state.failed_brackets = 0;
    state.opened = nullptr;
    Iterator at = start;
    try {
      if (read()) return true;
      state.reporter.expected(start, Place::kExpected);
    } catch (const Failure& failure) {
      at = failure.where();
      if (!failure.which().empty()) state.reporter.expected(at, failure.which(), state.opened);
      at = brace_on_next_line(state, at, failure.which());
    }
    first = Resync(state, start).from(at);
    const bool stray_brace = Place::kTop && first != state.end && *first == '}';
    if (stray_brace) ++first;
    return false;
  }

  // Reads the block of a failed statement or declaration for its errors alone.
  template <class Context>
  void read_block(State& state, Iterator start, Iterator& first, Iterator const& last, Context const& context) const {
    const Iterator brace = first;
    const Holds holds = block_kind(scan::word_at(start, last));
    if (holds == Holds::Statements) {
      ast::Block dropped;
      attempt(state, brace, first, [&] { return statements.parse(first, last, context, x3::unused, dropped); });
    } else if (holds == Holds::Settings) {
      ast::Protect dropped;
      attempt(state, brace, first, [&] { return settings.parse(first, last, context, dropped, x3::unused); });
    } else {
      state.skip_braces = true;
      first = Resync(state, start).from(first);
    }
  }

  enum class Holds { Statements, Settings, Unknown };

  static Holds block_kind(std::string_view word) {
    if constexpr (!Place::kTop) return std::is_same_v<Place, StatementPlace> ? Holds::Statements : Holds::Unknown;
    const std::vector<std::string> known{"run", "safe", "sequence", "protect"};
    const std::string nearest = nearest_name(word, known);
    if (nearest.empty()) return Holds::Unknown;
    return nearest == "protect" ? Holds::Settings : Holds::Statements;
  }
};
template <class Place, class Subject, class StatementBlock, class SettingBlock>
auto recovering(Subject const& subject, StatementBlock const& statements, SettingBlock const& settings) {
  return Recovering<Place, Subject, StatementBlock, SettingBlock>(subject, statements, settings);
}

// ---- expressions ----------------------------------------------------------------------------------------------

// One ladder for values and conditions, read flat; the builder knows the precedence.
//
// condition-list = condition { ("and" | "or") condition | (arithmetic | comparison) value }
// value-list     = value { arithmetic value }
const x3::rule<struct ConditionListId> condition_list("condition");
const x3::rule<struct ExpressionId, ast::Expression> expression("expression");
const x3::rule<struct ArithmeticId, ast::Expression> arithmetic("arithmetic");

const NumberWord number;
const OperandName operand_name;
const MeasureName measure_name;
const ValueComma value_comma;
const Prefix minus(Operator::Negate);
const Prefix negation(Operator::Not);
const Binary arithmetic_operator(kArithmetic);
const Binary comparison_operator(kComparisons);
const Binary logical_operator(kLogical);

// group = "(" condition-list ")"
const auto group = opening(Operator::Group, parenthesised(need("a value after `(`", condition_list)));

// function = ("min" | "max") "(" condition-list { "," condition-list } ")" | "abs" "(" condition-list ")"
const auto values = parenthesised(need("a value", condition_list) >> *(value_comma >> need("a value", condition_list)));
const auto function = opening(Operator::Minimum, word("min") >> need("`(` and the values after `min`", values)) |
                      opening(Operator::Maximum, word("max") >> need("`(` and the values after `max`", values)) |
                      opening(Operator::Absolute, word("abs") >> need("`(` and a value after `abs`",
                                                                      parenthesised(need("a value", condition_list))));

// measure = ("current" | "power" | "slew") "(" rail ")"
const auto measure = opening(Operator::Measure, measure_name >> parenthesised(need("a rail's name", operand_name)));

// value = { "-" } (number | group | function | measure | name)
const auto primary = number | group | function | measure | operand_name;
const auto value = (+minus >> need("a value after `-`", primary)) | primary;

// condition = { "not" } value
const auto condition = (+negation >> need("a condition after `not`", value)) | value;

const auto condition_list_def = condition >>
                                *((logical_operator >> need("a condition after `and` or `or`", condition)) |
                                  ((arithmetic_operator | comparison_operator) >>
                                   need("a value after the operator", value)));
const auto expression_def = built(condition_list);
const auto arithmetic_def = built(value >> *(arithmetic_operator >> need("a value after the operator", value)));

BOOST_SPIRIT_DEFINE(condition_list, expression, arithmetic)

// ---- statements -----------------------------------------------------------------------------------------------

const x3::rule<struct BlockId, ast::Block> block("block");
const x3::rule<struct SettingsId, ast::Protect> settings("settings");
const x3::rule<struct StatementId, ast::Statement> statement("statement");

template <auto kMember>
auto body(const char* expected) {
  return need(expected, set<kMember>(block));
}

// switch = ("on" | "off") rail { "," rail }
const auto switch_on = mark<&ast::Switch::on>(word("on")) >> list("a rail's name after `on`",
                                                                  "a rail's name after the comma",
                                                                  push<&ast::Switch::rails>(name));
const auto switch_off = word("off") >> list("a rail's name after `off`", "a rail's name after the comma",
                                            push<&ast::Switch::rails>(name));

// change = "to" value | "by" value
const auto change =
    (word("to") >> need("a value after `to`", set<&ast::Target::value>(expression))) |
    (mark<&ast::Target::relative>(word("by")) >> need("a value after `by`", set<&ast::Target::value>(expression)));

// step = "step" rail change { "," rail change }
const auto step_target = object<ast::Target>(
    set<&ast::Target::rail>(name) >> need("`to` and a voltage, or `by` and a change, after the rail's name", change));
const auto step = word("step") >> list("a rail's name after `step`", "a rail's name after the comma",
                                       push<&ast::Step::targets>(step_target));

// ramp = "ramp" rail ["from" value] change { "," ... } ("over" time | "at" rate)
const auto ramp_target =
    object<ast::Target>(set<&ast::Target::rail>(name) >>
                        -(word("from") >> need("a voltage after `from`", set<&ast::Target::from>(expression))) >>
                        need("`to` and a voltage, or `by` and a change, after the rail's name", change));
const auto ramp_pace =
    (word("over") >> need("a time after `over`", set<&ast::Ramp::pace>(expression))) |
    (mark<&ast::Ramp::is_rate>(word("at")) >> need("a rate after `at`", set<&ast::Ramp::pace>(expression)));
const auto ramp = word("ramp") >> list("a rail's name after `ramp`", "a rail's name after the comma",
                                       push<&ast::Ramp::targets>(ramp_target)) >>
                  need("`over` and a time, or `at` and a rate, after the target", ramp_pace);

// limit = "limit" rail change { "," rail change } | "limit" rail "ramp" change { "," rail ["ramp"] change } "over" time
const auto limit_target = object<ast::Target>(
    set<&ast::Target::rail>(name) >> need("`to` and a current, or `by` and a change, after the rail's name", change));
const auto limit_ramp_target =
    object<ast::Target>(set<&ast::Target::rail>(name) >> -word("ramp") >>
                        need("`to` and a current, or `by` and a change, after the rail's name", change));
const auto limit_ramp = word("limit") >> &(name >> word("ramp")) >> push<&ast::Limit::targets>(limit_ramp_target) >>
                        *(comma >>
                          need("a rail's name after the comma", push<&ast::Limit::targets>(limit_ramp_target))) >>
                        need("`over` and a time after the target", word("over")) >>
                        need("a time after `over`", set<&ast::Limit::over>(expression));
const auto limit = word("limit") >> list("a rail's name after `limit`", "a rail's name after the comma",
                                         push<&ast::Limit::targets>(limit_target));

// dwell = "dwell" time;  mark = "mark" text
const auto dwell = word("dwell") >> need("a time after `dwell`", set<&ast::Dwell::time>(expression));
const auto mark_statement = word("mark") >> need("a name in double quotes after `mark`", set<&ast::Mark::name>(text));

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
const auto track = word("track") >> need("a rail's name after `track`", set<&ast::Track::follower>(name)) >>
                   need("`with` and a rail's name", word("with")) >>
                   need("a rail's name after `with`", set<&ast::Track::leader>(name)) >>
                   body<&ast::Track::body>("`{` and the statements that are tracked");

// set-line = ("raise" | "lower") line;  pulse = "pulse" line "for" time
const auto set_line = (mark<&ast::SetLine::action, ast::LineAction::Raise>(word("raise")) >>
                       need("a line's name after `raise`", set<&ast::SetLine::line>(name))) |
                      (mark<&ast::SetLine::action, ast::LineAction::Lower>(word("lower")) >>
                       need("a line's name after `lower`", set<&ast::SetLine::line>(name)));
const auto pulse = word("pulse") >> need("a line's name after `pulse`", set<&ast::Pulse::line>(name)) >>
                   need("`for` and a time", word("for")) >>
                   need("a time after `for`", set<&ast::Pulse::time>(expression));

// await = "await" (line ("high" | "low") | "operator" text | condition) "within" time ["assume" time]
const auto await_line = set<&ast::AwaitLine::line>(name) >> (mark<&ast::AwaitLine::high>(word("high")) | word("low"));
const auto await_operator = word("operator") >> set<&ast::AwaitOperator::prompt>(text);
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
const auto do_statement = word("do") >> need("a sequence's name after `do`", set<&ast::Do::sequence>(name)) >>
                          -arguments;

// group = block
const auto group_statement = set<&ast::Group::body>(block);

const auto any_statement = as<ast::Ramp>(ramp) | as<ast::Dwell>(dwell) | as<ast::Step>(step) |
                           as<ast::Switch>(switch_on) | as<ast::Switch>(switch_off) | as<ast::Limit>(limit_ramp) |
                           as<ast::Limit>(limit) | as<ast::Mark>(mark_statement) | as<ast::Repeat>(repeat) |
                           as<ast::ForList>(for_list) | as<ast::ForRange>(for_range) | as<ast::Together>(together) |
                           as<ast::Track>(track) | as<ast::SetLine>(set_line) | as<ast::Pulse>(pulse) |
                           as<ast::Await>(await) | as<ast::Do>(do_statement) | as<ast::Group>(group_statement);

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

// ---- declarations ---------------------------------------------------------------------------------------------

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
                         push<&ast::FuseSetting::linked>(name)));

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

// Settings are read into the ast::Protect around.
struct SettingList : Filling<SettingList> {
  template <class Context, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, ast::Protect& around, Attribute&) const {
    return settings.parse(first, last, context, x3::unused, around);
  }
};
const auto protect = word("protect") >> need("a rail's name after `protect`", set<&ast::Protect::rail>(name)) >>
                     need("`{` and the protections after the rail's name", SettingList());

// profile = "profile" text;  bench = "bench" text;  load = "load" text;  import = "import" text
const auto title = word("profile") >> need("a title in double quotes after `profile`", set<&ast::Title::text>(text));
const auto bench_path = word("bench") >>
                        need("a path in double quotes after `bench`", set<&ast::BenchPath::path>(text));
const auto load_path = word("load") >> need("a path in double quotes after `load`", set<&ast::LoadPath::path>(text));
const auto import_path = word("import") >>
                         need("a path in double quotes after `import`", set<&ast::Import::path>(text));

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

// rail = "rail" name "on" channel { "sense" "remote" | "reversed" }
const auto rail_option =
    (word("sense") >> need("`remote` after `sense`", mark<&ast::Rail::remote_sense>(word("remote")))) |
    mark<&ast::Rail::reversed>(word("reversed"));
const auto rail = word("rail") >> need("a name after `rail`", set<&ast::Rail::name>(name)) >>
                  need("`on` and a channel after the rail's name", word("on")) >>
                  need("a channel, as in `left.ch1`, after `on`", set<&ast::Rail::channel>(channel)) >> *rail_option;

// line = "line" name "on" channel ( "output" ["when" ("trip" | "cc") rails] | "input" ["off" rails] )
const auto line_rails = push<&ast::Line::rails>(name);
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
                  need("a line of a supply, as in `left.line1`, after `on`", set<&ast::Line::channel>(channel)) >>
                  need("`output` or `input` after the supply's line", line_output | line_input);

// accept = "accept" finding-name "on" rail "because" text
const auto accept = word("accept") >>
                    need("a finding's name after `accept`", set<&ast::Accept::finding>(finding_name)) >>
                    need("`on` and a rail's name", word("on")) >>
                    need("a rail's name after `on`", set<&ast::Accept::rail>(name)) >>
                    need("`because` and a reason in double quotes", word("because")) >>
                    need("a reason in double quotes after `because`", set<&ast::Accept::reason>(text));

// always = "always" condition ["while" condition]
const auto always = word("always") >>
                    need("a condition after `always`", set<&ast::AlwaysRule::condition>(expression)) >>
                    -(word("while") >> need("a condition after `while`", set<&ast::AlwaysRule::premise>(expression)));

// monotonic = rail ("rises" | "falls") "from" value "to" value ["within" time]
const auto monotonic = set<&ast::MonotonicRule::rail>(name) >>
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

// rule = "rule" text (always | monotonic | order)
const auto rule = word("rule") >> need("a name in double quotes after `rule`", set<&ast::Rule::name>(text)) >>
                  need("`always`, a condition, or a rail that rises or falls, after the rule's name",
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
// figure = name [ "(" rail ")" ] ["at" text] ("<" | "<=" | ">" | ">=") value
const auto expect_no_trip = word("no") >> need("`trip` after `no`", word("trip"));
const auto expect_trip = word("trip") >> need("a rail's name after `trip`", set<&ast::ExpectTrip::rail>(name)) >>
                         need("`by` and the cause", word("by")) >>
                         need("`fuse`, `overvoltage`, `overpower` or `overtemperature` after `by`",
                              set<&ast::ExpectTrip::cause>(cause));
const auto expect_figure =
    set<&ast::ExpectFigure::figure>(name) >>
    -parenthesised(need("a rail's name or `total` after `(`", set<&ast::ExpectFigure::of>(name))) >>
    -(word("at") >> need("the name of a mark in double quotes after `at`", set<&ast::ExpectFigure::at_mark>(text))) >>
    need("`<`, `<=`, `>` or `>=` after the figure", ComparisonWord()) >>
    need("a value after the comparison", set<&ast::ExpectFigure::bound>(arithmetic));
const auto expect = word("expect") >> need("`no trip`, `trip` and a rail, or a figure, after `expect`",
                                           as<ast::ExpectNoTrip>(expect_no_trip) | as<ast::ExpectTrip>(expect_trip) |
                                               as<ast::ExpectFigure>(expect_figure)) >>
                    -(word("under") >> need("a fault's name after `under`", set<&ast::Expect::under>(name)));

const auto any_declaration =
    as<ast::Let>(let) | as<ast::Parameter>(parameter) | as<ast::Rail>(rail) | as<ast::Line>(line) |
    as<ast::Protect>(protect) | as<ast::Accept>(accept) | as<ast::Rule>(rule) | as<ast::Sequence>(sequence) |
    as<ast::Run>(run) | as<ast::Safe>(safe) | as<ast::Expect>(expect) | as<ast::Title>(title) |
    as<ast::BenchPath>(bench_path) | as<ast::LoadPath>(load_path) | as<ast::Import>(import_path);

const auto declaration = object<ast::Declaration>(recovering<DeclarationPlace>(
    any_declaration >> need("the end of the statement", end_of_statement), block, settings));

// file = { declaration }
const auto file = object<ast::Profile>(*push<&ast::Profile::declarations>(declaration));

// NOLINTEND(readability-identifier-naming)

}  // namespace

ast::Profile parse(const SourceSet& sources, FileId id, FindingSink& findings) {
  const std::string_view text = sources[id].text();
  ast::Profile profile;
  profile.file = id;
  State state(id, text, findings);
  Iterator first = state.begin;
  if (text.size() > kMaxProfileBytes) {
    state.reporter.report(finding::FileTooLarge, first, first, "move parts of it into files that it imports",
                          std::int64_t{kMaxProfileBytes >> 10});
    return profile;
  }
  if (const std::optional<TextFault> fault = find_text_fault(text)) {
    state.reporter.report(finding::UnfitText, first + fault->begin, first + fault->end, fault->hint, fault->what);
    if (!fault->readable) return profile;
    first += fault->end;
    if (const std::optional<TextFault> next = find_text_fault(text.substr(fault->end))) {
      state.reporter.report(finding::UnfitText, first + next->begin, first + next->end, next->hint, next->what);
      return profile;
    }
  }
  x3::phrase_parse(first, state.end, file, Skipper(&state), profile);
  profile.file = id;
  profile.comments = std::move(state.comments);
  return profile;
}

}  // namespace rampart
