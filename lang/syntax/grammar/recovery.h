#pragma once

#include "lang/syntax/grammar/words.h"

// How reading goes on after a mistake.
namespace rampart::grammar {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

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

inline bool begins_something(Iterator at, Iterator end) {
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
    if (at != start_ && scan::first_of_line(state_.begin, at) && begins_something(at, state_.end)) return at;
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

// A declaration in the first column: every block before it was meant to be over.
inline bool ends_all_blocks(const State& state, Iterator at) {
  const std::string_view word = scan::word_at(at, state.end);
  if (!scan::is_declaration_word(word) || !scan::first_of_line(state.begin, at)) return false;
  if (scan::indentation(state.begin, at) > 0) return false;
  const scan::Token next = scan::token_at(at + word.size(), state.end);
  return next.text == "{" || next.kind == scan::TokenKind::Text ||
         (next.kind == scan::TokenKind::Word && !scan::is_reserved(next.text));
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
    if (start == last || (!Place::kTop && ends_list(state, start))) return false;
    if (Place::kTop) state.reporter.leave_blocks();
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
  static bool ends_list(const State& state, Iterator at) {
    if (*at == '}' || ends_all_blocks(state, at)) return true;
    return state.header_blanks && scan::first_of_line(state.begin, at) &&
           scan::indentation(state.begin, at) <= *state.header_blanks;
  }

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

// NOLINTEND(readability-identifier-naming)

}  // namespace rampart::grammar
