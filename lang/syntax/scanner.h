#pragma once

#include <cstddef>
#include <string_view>

// The words of the language: what a name, a number, a text and a comment look like. The parser and the formatter share
// these functions. All of them take a position and the end of the text, and never read past it.
namespace rampart::scan {

[[nodiscard]] constexpr bool is_digit(char c) {
  return c >= '0' && c <= '9';
}
[[nodiscard]] constexpr bool is_word_start(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
}
[[nodiscard]] constexpr bool is_word_part(char c) {
  return is_word_start(c) || is_digit(c);
}
// Part of a character outside ASCII.
[[nodiscard]] constexpr bool is_wide(char c) {
  return static_cast<unsigned char>(c) >= 0x80U;
}
// A carriage return is only ever met before a newline.
[[nodiscard]] constexpr bool is_blank(char c) {
  return c == ' ' || c == '\t' || c == '\r';
}

// A character that looks like a blank and is none, such as the no-break space of a text processor.
[[nodiscard]] bool is_odd_space(std::string_view text);

// Whether nothing but blanks stands before `at` on its line.
[[nodiscard]] bool first_of_line(const char* begin, const char* at);
// The blanks that the line of `at` begins with.
[[nodiscard]] std::size_t indentation(const char* begin, const char* at);

// The word at `at`: letters, digits and `_`, no digit first. Empty if there is none.
[[nodiscard]] std::string_view word_at(const char* at, const char* end);
// The end of the comment at `at`, which is `#`: its newline or the end of the text, a carriage return left out.
[[nodiscard]] const char* comment_end(const char* at, const char* end);

// What a rail can be asked for in a condition, beside its voltage: current(R).
inline constexpr std::string_view kMeasures[] = {"current", "power", "slew"};

// Statement verbs and the words that no name may be.
[[nodiscard]] bool is_reserved(std::string_view word);
// Words that begin a statement in a block.
[[nodiscard]] bool is_verb(std::string_view word);
// Words that begin a declaration at the top of a file.
[[nodiscard]] bool is_declaration_word(std::string_view word);
// Words that begin a setting of `protect`.
[[nodiscard]] bool is_setting_word(std::string_view word);
// Words and symbols after which a newline does not end a statement.
[[nodiscard]] bool joins_lines(std::string_view token);

struct Number {
  std::string_view digits;
  std::string_view unit;        // as written; empty if there is none
  std::string_view wrong_unit;  // a word that stands where only a unit can, and is none
  bool bare_point = false;      // a decimal point without a digit behind it
  const char* end = nullptr;
};

// The number at `at`, which is a digit, with its unit; behind a bare point only what is a unit belongs to it.
[[nodiscard]] Number number_at(const char* at, const char* end);

enum class TokenKind { Word, Number, Text, Symbol, Comment, LineEnd, End };

struct Token {
  TokenKind kind = TokenKind::End;
  std::string_view text;
};

// The next token at or after `at`, blanks skipped. A text ends at its quote or before the newline.
[[nodiscard]] Token token_at(const char* at, const char* end);

}  // namespace rampart::scan
