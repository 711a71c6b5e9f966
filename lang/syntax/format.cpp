#include "lang/syntax/format.h"

#include <algorithm>
#include <string_view>
#include <utility>
#include <vector>

#include "lang/syntax/scanner.h"
#include "lang/values/unit.h"

namespace rampart {

namespace {

using scan::Token;
using scan::TokenKind;

constexpr std::size_t kMaxColumns = 100;
constexpr std::size_t kIndent = 2;
constexpr std::size_t kContinuationIndent = 4;

// Words that no name may be are keywords; these are keywords before a value although they may be names elsewhere.
constexpr std::string_view kBeforeValue[] = {"always", "assume", "ceiling", "overpower", "overvoltage"};

std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

// All tokens of the text; a finding's name, hyphens and all, is one word.
std::vector<Token> tokens_of(std::string_view text, const ast::Profile& profile) {
  std::vector<Token> tokens;
  auto declaration = profile.declarations.begin();
  const char* at = text.data();
  const char* const end = text.data() + text.size();
  while (true) {
    Token token = scan::token_at(at, end);
    if (token.kind == TokenKind::End) return tokens;
    const auto offset = static_cast<std::uint32_t>(token.text.data() - text.data());
    while (declaration != profile.declarations.end() && declaration->span.end <= offset) ++declaration;
    if (declaration != profile.declarations.end()) {
      const auto* accept = std::get_if<ast::Accept>(&declaration->what);
      if (accept != nullptr && accept->finding.span.begin == offset) token = {TokenKind::Word, accept->finding.text};
    }
    tokens.push_back(token);
    at = token.text.data() + token.text.size();
  }
}

bool is_symbol(const Token& token, std::string_view text) {
  return token.kind == TokenKind::Symbol && token.text == text;
}

bool takes_value(const Token& word) {
  return std::find(std::begin(kBeforeValue), std::end(kBeforeValue), word.text) != std::end(kBeforeValue);
}

// True if a value ends with the token, so that a `-` behind it subtracts.
bool ends_value(const Token& token) {
  if (token.kind == TokenKind::Number || token.kind == TokenKind::Text) return true;
  if (token.kind == TokenKind::Word) return !scan::is_reserved(token.text) && !takes_value(token);
  return is_symbol(token, ")") || is_symbol(token, "]");
}

std::string spelling(const Token& token) {
  if (token.kind != TokenKind::Number) return std::string(token.text);
  const scan::Number number = scan::number_at(token.text.data(), token.text.data() + token.text.size());
  std::string text(number.digits);
  if (!number.unit.empty()) text += " " + canonical_unit(number.unit);
  return text;
}

// Writes the tokens of one statement behind each other with the blanks between them.
class Writer {
 public:
  void add(const Token& token) {
    if (!text_.empty() && wants_blank(token)) text_ += ' ';
    text_ += spelling(token);
    prefix_ = is_symbol(token, "-") && !(has_last_ && ends_value(last_));
    before_last_ = last_;
    last_ = token;
    has_last_ = true;
  }
  // A block on one line ends the statement.
  void add_block(std::string_view block) {
    if (!text_.empty()) text_ += ' ';
    text_ += block;
    has_last_ = false;
  }

  [[nodiscard]] const std::string& text() const { return text_; }
  [[nodiscard]] const Token& last() const { return last_; }
  [[nodiscard]] bool has_last() const { return has_last_; }
  // The text so far; what follows goes to a new line of the same statement.
  [[nodiscard]] std::string take() { return std::exchange(text_, {}); }

 private:
  [[nodiscard]] bool wants_blank(const Token& next) const {
    if (is_symbol(next, ",") || is_symbol(next, ";") || is_symbol(next, ")") || is_symbol(next, "]")) return false;
    if (is_symbol(last_, "(") || is_symbol(last_, "[")) return false;
    if (is_symbol(next, ".") || is_symbol(last_, ".")) return false;
    if (prefix_) return false;
    if (!is_symbol(next, "(")) return true;
    return !calls(last_);
  }

  // True if a parenthesis behind the word holds its arguments.
  [[nodiscard]] bool calls(const Token& word) const {
    if (word.kind != TokenKind::Word) return false;
    if (word.text == "min" || word.text == "max" || word.text == "abs") return true;
    if (before_last_.text == "do" || before_last_.text == "sequence") return true;
    return !scan::is_reserved(word.text) && !takes_value(word);
  }

  std::string text_;
  Token last_;
  Token before_last_;
  bool has_last_ = false;
  bool prefix_ = false;
};

struct Line {
  std::size_t indent = 0;
  std::string text;
  std::string comment;
  bool blank_before = false;
};

class Formatter {
 public:
  Formatter(std::string_view text, const ast::Profile& profile) : tokens_(tokens_of(text, profile)) {}

  [[nodiscard]] std::string run() {
    for (at_ = 0; at_ < tokens_.size(); ++at_) take(tokens_[at_]);
    end_statement();
    return joined();
  }

 private:
  void take(const Token& token) {
    switch (token.kind) {
      case TokenKind::LineEnd:
        end_line();
        return;
      case TokenKind::Comment:
        add_comment(token.text);
        return;
      case TokenKind::Symbol:
        if (token.text == ";") return end_statement();
        if (token.text == "{") return open_block(token);
        if (token.text == "}") return close_block();
        if (token.text == "(" || token.text == "[") ++brackets_;
        if (token.text == ")" || token.text == "]") --brackets_;
        break;
      default:
        break;
    }
    add(token);
  }

  void add(const Token& token) {
    // Behind a block, the next statement may stand on the same line of the source.
    if (after_block_) end_statement();
    writer_.add(token);
    line_has_code_ = true;
  }

  [[nodiscard]] bool continues() const {
    return brackets_ > 0 || (writer_.has_last() && scan::joins_lines(writer_.last().text));
  }

  void end_line() {
    if (!line_has_code_ && !line_has_comment_) blank_ = !lines_.empty();
    if (line_has_code_ && !writer_.text().empty()) {
      if (continues()) {
        push_line(writer_.take());
        continued_ = true;
      } else {
        end_statement();
      }
    }
    line_has_code_ = false;
    line_has_comment_ = false;
  }

  void end_statement() {
    if (!writer_.text().empty()) push_line(writer_.take());
    writer_ = Writer();
    continued_ = false;
    after_block_ = false;
  }

  void push_line(std::string text) {
    const bool blank = std::exchange(blank_, false) && !continued_ && !just_opened_;
    const std::size_t indent = indent_of(text);
    lines_.push_back({indent, std::move(text), {}, blank});
    just_opened_ = false;
  }

  // A bracket that closes stands where its statement begins.
  [[nodiscard]] std::size_t indent_of(std::string_view text) const {
    const bool closes = text.starts_with(')') || text.starts_with(']');
    return level_ * kIndent + (continued_ && !closes ? kContinuationIndent : 0);
  }

  void add_comment(std::string_view comment) {
    while (!comment.empty() && scan::is_blank(comment.back())) comment.remove_suffix(1);
    line_has_comment_ = true;
    if (!line_has_code_) {
      push_line(std::string(comment));
      return;
    }
    if (!writer_.text().empty()) {
      const bool goes_on = continues();
      push_line(writer_.take());
      continued_ = goes_on;
      if (!goes_on) end_statement();
    }
    lines_.back().comment = comment;
  }

  void open_block(const Token& brace) {
    if (after_block_) end_statement();
    line_has_code_ = true;
    const std::size_t close = closing_on_line(at_);
    if (close != at_) {
      const std::string block = one_line(at_, close);
      const std::size_t before = indent_of(writer_.text()) + columns(writer_.text()) + (writer_.text().empty() ? 0 : 1);
      if (before + columns(block) <= kMaxColumns) {
        writer_.add_block(block);
        at_ = close;
        after_block_ = true;
        return;
      }
    }
    writer_.add(brace);
    end_statement();
    ++level_;
    just_opened_ = true;
  }

  void close_block() {
    end_statement();
    --level_;
    blank_ = false;
    just_opened_ = false;
    push_line("}");
    line_has_code_ = true;
    writer_ = Writer();
  }

  // The `}` that closes the `{` at `open`, if nothing but code of one line stands between; else `open`.
  [[nodiscard]] std::size_t closing_on_line(std::size_t open) const {
    std::size_t depth = 0;
    for (std::size_t i = open; i < tokens_.size(); ++i) {
      if (tokens_[i].kind == TokenKind::LineEnd || tokens_[i].kind == TokenKind::Comment) return open;
      if (is_symbol(tokens_[i], "{")) ++depth;
      if (is_symbol(tokens_[i], "}") && --depth == 0) return i;
    }
    return open;
  }

  // The block from `open` to `close` on one line: `{ a; b }`.
  [[nodiscard]] std::string one_line(std::size_t open, std::size_t close) const {
    std::string text;
    Writer writer;
    const auto flush = [&] {
      if (writer.text().empty()) return;
      if (!text.empty() && text.back() != '{') text += ';';
      if (!text.empty()) text += ' ';
      text += writer.take();
      writer = Writer();
    };
    for (std::size_t i = open; i <= close; ++i) {
      const Token& token = tokens_[i];
      if (is_symbol(token, ";")) {
        flush();
      } else if (is_symbol(token, "{")) {
        writer.add(token);
        flush();
      } else if (is_symbol(token, "}")) {
        flush();
        text += " }";
      } else {
        writer.add(token);
      }
    }
    return text;
  }

  [[nodiscard]] std::string joined() const {
    std::string text;
    for (std::size_t i = 0; i < lines_.size();) {
      std::size_t run = i;
      std::size_t width = 0;
      while (run < lines_.size() && !lines_[run].comment.empty() && (run == i || !lines_[run].blank_before)) {
        width = std::max(width, lines_[run].indent + columns(lines_[run].text));
        ++run;
      }
      const std::size_t stop = std::max(run, i + 1);
      for (; i < stop; ++i) append(text, lines_[i], width);
    }
    return text;
  }

  static void append(std::string& text, const Line& line, std::size_t width) {
    if (line.blank_before) text += '\n';
    text.append(line.indent, ' ');
    text += line.text;
    if (!line.comment.empty()) {
      text.append(width - line.indent - columns(line.text) + 2, ' ');
      text += line.comment;
    }
    text += '\n';
  }

  std::vector<Token> tokens_;
  std::size_t at_ = 0;
  Writer writer_;
  std::vector<Line> lines_;
  std::size_t level_ = 0;
  int brackets_ = 0;
  bool blank_ = false;             // a blank line stands before what comes next
  bool continued_ = false;         // the statement goes on from the line before
  bool after_block_ = false;       // the statement so far ends in a block on one line
  bool just_opened_ = false;       // nothing stands in the block yet
  bool line_has_code_ = false;     // of the source line
  bool line_has_comment_ = false;  // of the source line
};

}  // namespace

std::string format_profile(const SourceSet& sources, FileId file, const ast::Profile& profile) {
  return Formatter(sources[file].text(), profile).run();
}

}  // namespace rampart
