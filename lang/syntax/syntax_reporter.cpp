#include "lang/syntax/syntax_reporter.h"

#include <algorithm>
#include <array>
#include <span>
#include <utility>
#include <vector>

#include "lang/findings/syntax.h"
#include "lang/syntax/parse.h"
#include "lang/syntax/scanner.h"

namespace rampart {

namespace {

using scan::Token;
using scan::TokenKind;

constexpr std::size_t kLongestShown = 40;

Token next_token(const char* at, const char* end) {
  Token token = scan::token_at(at, end);
  while (token.kind == TokenKind::Comment) token = scan::token_at(token.text.data() + token.text.size(), end);
  return token;
}

std::string found_text(const Token& token) {
  switch (token.kind) {
    case TokenKind::End:
      return "the end of the file";
    case TokenKind::LineEnd:
      return "the end of the line";
    case TokenKind::Text:
      return "a text";
    case TokenKind::Symbol:
      if (scan::is_odd_space(token.text)) return "a special space";
      break;
    default:
      break;
  }
  if (token.text.size() <= kLongestShown) return "`" + std::string(token.text) + "`";
  return token.kind == TokenKind::Number ? "a long number"
                                         : "`" + std::string(token.text.substr(0, kLongestShown)) + "…`";
}

// The words in backticks of what was expected, those after " after " left out: they have been read.
std::vector<std::string> expected_words(std::string_view expected) {
  std::vector<std::string> words;
  expected = expected.substr(0, expected.find(" after "));
  for (std::size_t open = expected.find('`'); open != std::string_view::npos; open = expected.find('`', open)) {
    const std::size_t close = expected.find('`', open + 1);
    if (close == std::string_view::npos) break;
    const std::string_view word = expected.substr(open + 1, close - open - 1);
    if (!word.empty() && scan::is_word_start(word.front())) words.emplace_back(word);
    open = close + 1;
  }
  return words;
}

constexpr std::string_view kStatement = "a statement";
constexpr std::string_view kDeclaration = "a declaration";
constexpr std::string_view kEndOfStatement = "the end of the statement";

std::vector<std::string> candidates_for(std::string_view expected) {
  if (expected == kStatement) {
    return {"await", "do",    "dwell", "for",  "limit",  "lower", "mark",     "measure", "off",
            "on",    "pulse", "raise", "ramp", "repeat", "step",  "together", "track",   "waveform"};
  }
  if (expected == kDeclaration) {
    return {"accept",  "bench",   "expect", "import", "let", "line", "load",    "param",
            "profile", "protect", "rail",   "rule",   "run", "safe", "sequence"};
  }
  if (expected == kEndOfStatement) {
    return {"after", "and",      "assume", "at",    "by",   "from",  "in",   "linked", "off",   "or",
            "over",  "reversed", "scaled", "sense", "step", "under", "when", "while",  "within"};
  }
  return expected_words(expected);
}

// What may stand where nothing was recognised. Empty where the message itself says so.
std::string choice_of(std::string_view expected) {
  if (expected == kEndOfStatement) return "a statement ends with its line or with `;`";
  if (expected != kStatement && expected != kDeclaration) return {};
  std::string text = expected == kStatement ? "a statement begins with" : "at the top of a file a line begins with";
  const std::vector<std::string> words = candidates_for(expected);
  for (std::size_t i = 0; i < words.size(); ++i) {
    text += (i == 0 ? " `" : i + 1 == words.size() ? " or `" : ", `") + words[i] + "`";
  }
  return text;
}

// Words that people from elsewhere try first, with the one to write instead.
struct Stranger {
  std::string_view word;
  std::string_view meant;
};
constexpr Stranger kStrangers[] = {{"delay", "dwell"}, {"disable", "off"}, {"enable", "on"},   {"loop", "repeat"},
                                   {"pause", "dwell"}, {"set", "step"},    {"sleep", "dwell"}, {"until", "await"}};
constexpr Stranger kStrangersAtTop[] = {{"assert", "expect"},
                                        {"channel", "rail"},
                                        {"const", "let"},
                                        {"device", "load"},
                                        {"function", "sequence"},
                                        {"include", "import"},
                                        {"main", "run"},
                                        {"name", "profile"},
                                        {"output", "rail"},
                                        {"parameter", "param"},
                                        {"program", "run"},
                                        {"require", "expect"},
                                        {"start", "run"},
                                        {"subroutine", "sequence"},
                                        {"supply", "bench"},
                                        {"title", "profile"},
                                        {"var", "let"}};
// Likewise before the time of a ramp.
constexpr Stranger kStrangersBeforeTime[] = {{"during", "over"}, {"for", "over"}, {"in", "over"}, {"within", "over"}};

template <std::size_t kSize>
Advice meant_for(const Stranger (&strangers)[kSize], std::string_view word) {
  for (const Stranger& stranger : strangers) {
    if (stranger.word == word) return {"write `" + std::string(stranger.meant) + "`", std::string(stranger.meant)};
  }
  return {};
}

std::string in_small_letters(std::string_view word) {
  std::string small(word);
  for (char& c : small) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return small;
}

Advice symbol_hint(std::string_view symbol) {
  if (scan::is_odd_space(symbol)) return {"put a plain space there", " "};
  if (symbol == "'" || symbol == "\u201C" || symbol == "\u201D" || symbol == "\u201E") {
    return {"put texts in straight double quotes"};
  }
  if (symbol == "==" || symbol == "!=") return {"comparisons are `<`, `<=`, `>` and `>=`"};
  if (symbol == "\u2212" || symbol == "\u2013") return {"write a plain `-`", "-"};
  if (symbol == "\u00D7") return {"write `*`", "*"};
  if (symbol == "\u2264") return {"write `<=`", "<="};
  if (symbol == "\u2265") return {"write `>=`", ">="};
  if (scan::is_wide(symbol.front())) return {"names are made of the letters a to z, digits and `_`"};
  return {};
}

Advice word_hint(std::string_view expected, std::string_view word) {
  if (expected == kStatement && scan::is_declaration_word(word)) {
    return {"write `" + std::string(word) + "` at the top of the file, outside every block"};
  }
  if (expected == kDeclaration && scan::is_verb(word)) {
    return {"write statements inside `run { }`, `safe { }` or a sequence"};
  }
  if ((expected == kDeclaration || expected == kStatement) && scan::is_setting_word(word)) {
    return {"write protections inside `protect RAIL { }`"};
  }
  const std::vector<std::string> candidates = candidates_for(expected);
  const std::string small = in_small_letters(word);
  if (small != word && std::find(candidates.begin(), candidates.end(), small) != candidates.end()) {
    return {"words of the language are in small letters: write `" + small + "`", small};
  }
  Advice meant;
  if (expected == kStatement) meant = meant_for(kStrangers, small);
  if (expected == kDeclaration) meant = meant_for(kStrangersAtTop, small);
  if (expected.starts_with("`over`")) meant = meant_for(kStrangersBeforeTime, small);
  if (!meant.hint.empty()) return meant;
  const std::string nearest = nearest_name(word, candidates);
  if (!nearest.empty() && nearest != word) return {"did you mean `" + nearest + "`?", nearest};
  if (scan::is_reserved(word) && expected.substr(0, expected.find(" after ")).find("name") != std::string_view::npos) {
    return {"`" + std::string(word) + "` is a word of the language and cannot be a name"};
  }
  return {};
}

// What `token` was meant for where it stands directly behind the number at `number`.
Advice hint_behind_number(const char* number, const Token& token, const char* end) {
  const scan::Number before = scan::number_at(number, end);
  if (before.end != token.text.data()) return {};
  if (token.text == "(" && before.unit.ends_with("/min")) return {"to divide by the function, put blanks around `/`"};
  const bool whole = before.unit.empty() && token.text == "," &&
                     next_token(token.text.data() + token.text.size(), end).kind == TokenKind::Number;
  return whole ? Advice{"write a decimal point, not a comma"} : Advice{};
}

// Whether a name stands before the token on its line: two names in a row lack a comma.
bool follows_name(const char* begin, const Token& token, const char* end) {
  const char* at = token.text.data();
  while (at != begin && at[-1] != '\n') --at;
  Token before;
  for (Token next = next_token(at, end); next.text.data() < token.text.data();) {
    before = next;
    next = next_token(before.text.data() + before.text.size(), end);
  }
  return before.kind == TokenKind::Word && !scan::is_reserved(before.text);
}

// Where `wait` begins a statement: a time in `dwell`, a condition in `await`, with the words that stand there.
Advice hint_for_wait(const Token& wait, const char* end) {
  Token token = next_token(wait.text.data() + wait.text.size(), end);
  const bool has_filler = token.text == "for" || token.text == "until";
  if (has_filler) token = next_token(token.text.data() + token.text.size(), end);
  if (token.kind == TokenKind::Number && !has_filler) return {"write `dwell`", "dwell"};
  if (token.kind == TokenKind::Number) return {"write `dwell " + std::string(token.text) + "`"};
  const char* begin = token.text.data();
  const char* close = begin;
  while (token.kind == TokenKind::Word || token.kind == TokenKind::Number ||
         (token.kind == TokenKind::Symbol && token.text != ";" && token.text != "}" && token.text != "{")) {
    close = token.text.data() + token.text.size();
    token = next_token(close, end);
  }
  std::string condition(begin, close);
  const bool is_shown = condition.size() <= kLongestShown && condition.find_first_of("<>") != std::string::npos;
  if (!is_shown) condition = "io >= 3.2 V";
  if (condition.find(" within ") == std::string::npos) condition += " within 10 ms";
  return {"to wait for a voltage write `await " + condition + "`, for a fixed time `dwell 10 ms`"};
}

Advice hint_for(std::string_view expected, const Token& token, const char* end) {
  if (expected == kStatement && token.kind == TokenKind::Word && in_small_letters(token.text) == "wait") {
    return hint_for_wait(token, end);
  }
  if (token.kind == TokenKind::LineEnd && expected.starts_with("`{`")) {
    const char* at = token.text.data();
    while (at != end && (scan::is_blank(*at) || *at == '\n')) ++at;
    if (at != end && *at == '{') return {"put the `{` on the line of its statement"};
  }
  if (token.kind == TokenKind::Symbol) {
    if (token.text == "/" && next_token(token.text.data() + 1, end).text == "/") return {"a comment begins with `#`"};
    if (token.text == "=" && expected.starts_with("`<`")) return symbol_hint("==");
    return symbol_hint(token.text);
  }
  return token.kind == TokenKind::Word ? word_hint(expected, token.text) : Advice{};
}

}  // namespace

bool SyntaxReporter::admits(const char* at) {
  if (stopped_ || muted_ || (last_ != nullptr && at <= last_)) return false;
  last_ = at;
  return true;
}

void SyntaxReporter::stop_if_full(const char* at) {
  if (++count_ < kMaxSyntaxFindings) return;
  stopped_ = true;
  sink_.report(finding::TooManyErrors, span(at, text_.data() + text_.size()), kMaxSyntaxFindings);
}

void SyntaxReporter::expected(const char* at, std::string_view expected, const char* opened) {
  const char* end = text_.data() + text_.size();
  const Token token = next_token(at, end);
  if (token.text.data() == excused_ || !admits(at)) return;
  const bool nothing = token.kind == TokenKind::LineEnd || token.kind == TokenKind::End;
  const Span place = nothing ? span(at, at) : span(token.text.data(), token.text.data() + token.text.size());
  FindingSink::Addition addition = sink_.report(finding::Syntax, place, expected, found_text(token));
  if (opened != nullptr) addition.note(finding::OpenedHere, span(opened, opened + 1));
  Advice advice = hint_for(expected, token, end);
  if (advice.hint.empty() && number_ != nullptr) advice = hint_behind_number(number_, token, end);
  const bool is_name = token.kind == TokenKind::Word && !scan::is_reserved(token.text);
  if (advice.hint.empty() && is_name && expected == kEndOfStatement && follows_name(text_.data(), token, end)) {
    advice.hint = "put a `,` between names";
  }
  if (advice.hint.empty()) advice.hint = choice_of(expected);
  add(addition, advice);
  stop_if_full(at);
}

void SyntaxReporter::excuse_word_after(const char* at) {
  const Token token = scan::token_at(at, text_.data() + text_.size());
  if (token.kind == TokenKind::Word || token.kind == TokenKind::Number) excused_ = token.text.data();
}

void SyntaxReporter::unclosed_block(const char* at, const char* opened) {
  if (std::exchange(unclosed_, true) || !admits(at)) return;
  sink_.report(finding::UnclosedBlock, span(opened, opened + 1)).hint("put a `}` where its block ends");
  stop_if_full(at);
}

void SyntaxReporter::stray(const char* at, const char* closed) {
  if (!admits(at)) return;
  const char* end = text_.data() + text_.size();
  const Token token = next_token(at, end);
  const Span place = span(token.text.data(), token.text.data() + token.text.size());
  if (*at == '}') {
    sink_.report(finding::StrayBrace, place).hint("remove it, or put the `{` where its block begins", "");
  } else {
    FindingSink::Addition addition = sink_.report(finding::Syntax, place, kDeclaration, found_text(token));
    if (closed != nullptr) addition.note(finding::BlockEndsHere, span(closed, closed + 1));
    add(addition, word_hint(kDeclaration, token.text));
  }
  stop_if_full(at);
}

}  // namespace rampart
