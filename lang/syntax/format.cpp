#include "lang/syntax/format.h"

#include <algorithm>
#include <optional>
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

// The tokens of a text, one after another; a finding's name, hyphens and all, is one word. A copy goes on by itself.
class Tokens {
 public:
  Tokens(std::string_view text, const ast::Profile& profile)
      : begin_(text.data()), at_(begin_), end_(begin_ + text.size()), profile_(&profile) {}

  // Of kind End at the end.
  Token next() {
    Token token = scan::token_at(at_, end_);
    const auto offset = static_cast<std::uint32_t>(token.text.data() - begin_);
    const auto& declarations = profile_->declarations;
    while (declaration_ < declarations.size() && declarations[declaration_].span.end <= offset) ++declaration_;
    if (declaration_ < declarations.size()) {
      const auto* accept = std::get_if<ast::Accept>(&declarations[declaration_].what);
      if (accept != nullptr && accept->finding.span.begin == offset) token = {TokenKind::Word, accept->finding.text};
    }
    at_ = token.text.data() + token.text.size();
    return token;
  }

 private:
  const char* begin_;
  const char* at_;
  const char* end_;
  const ast::Profile* profile_;
  std::size_t declaration_ = 0;  // the first that ends behind the last token
};

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

void append_spelling(const Token& token, std::string& text) {
  if (token.kind != TokenKind::Number) {
    text += token.text;
    return;
  }
  const scan::Number number = scan::number_at(token.text.data(), token.text.data() + token.text.size());
  text += number.digits;
  if (number.unit.empty()) return;
  text += ' ';
  text += canonical_unit(number.unit);
}

// Writes the tokens of one statement behind each other with the blanks between them.
class Writer {
 public:
  void add(const Token& token) {
    if (!text_.empty() && wants_blank(token)) text_ += ' ';
    append_spelling(token, text_);
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

// Joins lines to a text. Comments behind lines that follow each other are aligned, so these wait for the next.
class Layout {
 public:
  explicit Layout(std::size_t likely_length) { text_.reserve(likely_length); }

  void add(Line line) {
    if (!waiting_.empty() && (waiting_.back().comment.empty() || line.blank_before)) put();
    waiting_.push_back(std::move(line));
  }
  // Behind the line added last.
  void add_comment(std::string_view comment) { waiting_.back().comment = comment; }

  [[nodiscard]] bool empty() const { return waiting_.empty(); }
  [[nodiscard]] std::string take() {
    put();
    return std::move(text_);
  }

 private:
  // All of them have comments, but for the last.
  void put() {
    std::size_t width = 0;
    for (const Line& line : waiting_) {
      if (!line.comment.empty()) width = std::max(width, line.indent + columns(line.text));
    }
    for (const Line& line : waiting_) put(line, width);
    waiting_.clear();
  }

  void put(const Line& line, std::size_t width) {
    if (line.blank_before) text_ += '\n';
    text_.append(line.indent, ' ');
    text_ += line.text;
    if (!line.comment.empty()) {
      text_.append(width - line.indent - columns(line.text) + 2, ' ');
      text_ += line.comment;
    }
    text_ += '\n';
  }

  std::string text_;
  std::vector<Line> waiting_;
};

class Formatter {
 public:
  Formatter(std::string_view text, const ast::Profile& profile) : tokens_(text, profile), layout_(text.size()) {}

  [[nodiscard]] std::string run() {
    for (Token token = tokens_.next(); token.kind != TokenKind::End; token = tokens_.next()) take(token);
    end_statement();
    return layout_.take();
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
    if (!line_has_code_ && !line_has_comment_) blank_ = !layout_.empty();
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
    layout_.add({indent, std::move(text), {}, blank});
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
    layout_.add_comment(comment);
  }

  void open_block(const Token& brace) {
    if (after_block_) end_statement();
    line_has_code_ = true;
    Tokens behind = tokens_;
    if (const std::optional<std::string> block = one_line(brace, behind)) {
      const std::size_t before = indent_of(writer_.text()) + columns(writer_.text()) + (writer_.text().empty() ? 0 : 1);
      if (before + columns(*block) <= kMaxColumns) {
        writer_.add_block(*block);
        tokens_ = behind;
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

  // The block that `brace` opens on one line, `{ a; b }`, if nothing but code of one line stands up to its `}`;
  // `tokens` then go on behind it.
  static std::optional<std::string> one_line(const Token& brace, Tokens& tokens) {
    std::string text;
    Writer writer;
    const auto flush = [&] {
      if (writer.text().empty()) return;
      if (!text.empty() && text.back() != '{') text += ';';
      if (!text.empty()) text += ' ';
      text += writer.take();
      writer = Writer();
    };
    std::size_t depth = 0;
    for (Token token = brace;; token = tokens.next()) {
      if (token.kind == TokenKind::LineEnd || token.kind == TokenKind::Comment || token.kind == TokenKind::End) break;
      if (is_symbol(token, ";")) {
        flush();
      } else if (is_symbol(token, "{")) {
        ++depth;
        writer.add(token);
        flush();
      } else if (is_symbol(token, "}")) {
        flush();
        text += " }";
        if (--depth == 0) return text;
      } else {
        writer.add(token);
      }
    }
    return std::nullopt;
  }

  Tokens tokens_;
  Layout layout_;
  Writer writer_;
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
