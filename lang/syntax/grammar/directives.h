#pragma once

#include <optional>

#include "lang/syntax/grammar/parse_state.h"

// What ties Spirit to the syntax tree. Spirit hands each parser the attribute of the production around it (its "rule
// context"). `object<T>` makes a T that context, `set<&T::member>` and `push<&T::member>` parse into its members,
// `as<T>` parses a T and stores it in the variant `what`. No production copies a finished tree, and none needs an
// adapted struct.
namespace rampart::grammar {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

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
    const bool assumed = at == state.assumed;
    if (!assumed && (at == last || *at != '{')) return false;
    if (state.blocks >= kMaxNesting) fail_too_deep(state, at);
    const Level level(state.blocks);
    const Scoped header(state.header_blanks, assumed ? blanks_of_header(state, at) : std::nullopt);
    first = assumed ? at : at + 1;
    subject.parse(first, last, context, around, x3::unused);
    const Iterator closing = state.skip_separators(first);
    const bool closes = closing != last && *closing == '}';
    if (assumed) {
      if (closes && !is_further_left(state, closing, at)) first = closing + 1;
      return true;
    }
    if (!closes) {
      state.reporter.unclosed_block(closing, state.suspect != nullptr && state.suspect > at ? state.suspect : at);
      if (closing == last) first = last;
      return true;
    }
    if (is_further_left(state, closing, at) && state.suspect == nullptr) state.suspect = at;
    state.last_close = closing;
    first = closing + 1;
    return true;
  }

 private:
  static bool is_further_left(const State& state, Iterator closing, Iterator at) {
    return scan::first_of_line(state.begin, closing) &&
           scan::indentation(state.begin, closing) < scan::indentation(state.begin, at);
  }

  // Empty where what follows is not set off from the header of its block.
  static std::optional<std::size_t> blanks_of_header(State& state, Iterator at) {
    const Iterator next = state.skip_separators(at);
    if (next == state.end || !scan::first_of_line(state.begin, next)) return std::nullopt;
    const std::size_t blanks = scan::indentation(state.begin, at);
    const bool is_flat = blanks == 0 && scan::indentation(state.begin, next) == 0;
    return is_flat ? std::nullopt : std::optional(blanks);
  }
};
template <class Subject>
auto braces(Subject const& subject) {
  return Braces<Subject>(subject);
}

// The braces that must follow. Where their `{` is missing, that is the one mistake: what was plainly meant to stand in
// them is read as if it were there.
template <class Subject>
struct NeedBraces : Filling<NeedBraces<Subject>> {
  Subject subject;
  const char* expected;
  NeedBraces(const char* text, Subject const& of) : subject(of), expected(text) {}

  template <class Context, class RuleContext, class Attribute>
  bool parse(Iterator& first, Iterator const& last, Context const& context, RuleContext& around, Attribute&) const {
    if (subject.parse(first, last, context, around, x3::unused)) return true;
    State& state = state_of(context);
    const Iterator at = state.skip(first);
    const scan::Token next = scan::token_at(at, last);
    const bool nothing = next.kind == scan::TokenKind::LineEnd || next.kind == scan::TokenKind::End;
    if (!nothing && !scan::is_verb(next.text) && !scan::is_setting_word(next.text)) state.fail(first, expected);
    state.reporter.expected(state.failure_at(first), expected);
    const Iterator brace = state.skip_separators(at);
    const bool on_next_line = nothing && brace != last && *brace == '{';
    first = on_next_line ? brace : at;
    if (!on_next_line) state.assumed = at;
    subject.parse(first, last, context, around, x3::unused);
    return true;
  }
};
template <class Subject>
auto need_braces(const char* expected, Subject const& subject) {
  return NeedBraces<Subject>(expected, subject);
}

// NOLINTEND(readability-identifier-naming)

}  // namespace rampart::grammar
