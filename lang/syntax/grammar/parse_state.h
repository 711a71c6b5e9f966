#pragma once

#include <algorithm>
#include <array>
#include <boost/spirit/home/x3.hpp>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include "lang/findings/syntax.h"
#include "lang/syntax/ast.h"
#include "lang/syntax/expected.h"
#include "lang/syntax/expression_builder.h"
#include "lang/syntax/parse.h"
#include "lang/syntax/scanner.h"
#include "lang/syntax/syntax_reporter.h"

// The state of one parse, and what is skipped between words.
namespace rampart::grammar {

// Productions are named as the language's reference names them.
// NOLINTBEGIN(readability-identifier-naming)

namespace x3 = boost::spirit::x3;
using ast::Operator;
using Iterator = const char*;
using Failure = x3::expectation_failure<Iterator>;

// Keeps what is tried at one place of a text, and the words of the language that are read, for editors.
struct Watch {
  Iterator place = nullptr;  // a character that begins nothing stands there
  std::vector<Expected> expected;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> words;
};

// Numbers that were read before, by their text: a long profile has a few of them again and again.
class KnownNumbers {
 public:
  struct Number {
    std::string_view text;  // empty: none
    const Quantity* value = nullptr;
  };

  // Where a number of this text is kept, or another one that it may replace.
  [[nodiscard]] Number& place_of(std::string_view text) {
    std::size_t sum = 0;
    for (const char c : text) sum = 31 * sum + static_cast<unsigned char>(c);
    return numbers_[sum % numbers_.size()];
  }

 private:
  std::array<Number, 256> numbers_;
};

struct State {
  State(FileId id, std::string_view text, FindingSink& sink)
      : file(id), begin(text.data()), end(text.data() + text.size()), reporter(id, text, sink) {}

  FileId file;
  Iterator begin;
  Iterator end;
  SyntaxReporter reporter;
  ExpressionBuilder builder;
  KnownNumbers numbers;
  std::vector<ast::Comment> comments;
  int brackets = 0;               // open ( and [ around the current place: newlines do not count in them
  int blocks = 0;                 // open { around the current place
  Iterator joined = nullptr;      // the end of the last token after which a newline does not count
  int failed_brackets = 0;        // `brackets` where the current failure was found
  Iterator opened = nullptr;      // the bracket that is not closed, if that is the failure
  bool drop = false;              // what was just read is no good and is not kept
  Iterator suspect = nullptr;     // the first `{` whose `}` stands further left than its line: probably that of another
  Iterator last_close = nullptr;  // the `}` read last
  bool skip_braces = false;       // the failure lies too deep to look inside what follows
  Iterator assumed = nullptr;     // where a `{` is missing, and what follows is read as if it stood there
  // Where the block around has no `{` and its lines are indented: the blanks before its header. A line with no more of
  // them ends the block.
  std::optional<std::size_t> header_blanks;

  Iterator watched = nullptr;  // the place of `watch`
  Watch* watch = nullptr;      // none where a text is only read

  void watch_over(Watch& by) {
    watch = &by;
    watched = by.place;
  }
  // Tells the watch what could stand at its place; what stands there begins at `from`.
  void expect(Wanted what, Iterator from, std::string_view word = {}, bool quoted = false) {
    const Expected one{what, word, offset(from), 0, quoted};
    auto& known = watch->expected;
    if (std::find(known.begin(), known.end(), one) == known.end()) known.push_back(one);
  }

  [[nodiscard]] Span span(Iterator from, Iterator to) const { return reporter.span(from, to); }
  [[nodiscard]] std::uint32_t offset(Iterator at) const { return reporter.offset(at); }

  // Comments are met several times where alternatives are tried, and kept once.
  Iterator skip_comment(Iterator at) {
    const Iterator stop = scan::comment_end(at, end);
    if (comments.empty() || comments.back().span.begin < offset(at)) comments.push_back({span(at, stop)});
    return stop;
  }

  [[nodiscard]] Iterator skip(Iterator at) {
    // What is skipped begins with one of the lowest characters, and mostly there is nothing to skip.
    if (at != end && static_cast<unsigned char>(*at) > '#') return at;
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
  [[nodiscard]] Iterator failure_at(Iterator at) {
    const Iterator token = skip(at);
    return token == end || *token == '\n' ? at : token;
  }

  [[noreturn]] void fail(Iterator at, const char* expected) {
    failed_brackets = brackets;
    throw Failure(failure_at(at), expected);
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

// Gives a variable another value for as long as it lives, failures included.
template <class T>
class Scoped {
 public:
  Scoped(T& variable, T value) : variable_(variable), before_(std::exchange(variable, std::move(value))) {}
  ~Scoped() { variable_ = std::move(before_); }
  Scoped(const Scoped&) = delete;
  Scoped& operator=(const Scoped&) = delete;

 private:
  T& variable_;
  T before_;
};

[[noreturn]] inline void fail_too_deep(State& state, Iterator at) {
  state.reporter.report(finding::TooDeep, at, at + 1, {"move the inner part into a sequence or a `let`"}, kMaxNesting);
  state.skip_braces = true;
  state.failed_brackets = 0;
  throw Failure(at, "");
}

// NOLINTEND(readability-identifier-naming)

}  // namespace rampart::grammar
