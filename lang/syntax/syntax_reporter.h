#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "lang/findings/finding.h"
#include "lang/syntax/advice.h"
#include "lang/text/source.h"

namespace rampart {

// Turns places where the grammar could not go on into findings: one a place, with what was expected, what was found and
// what was probably meant. Falls silent after kMaxSyntaxFindings.
class SyntaxReporter {
 public:
  SyntaxReporter(FileId file, std::string_view text, FindingSink& sink) : file_(file), text_(text), sink_(sink) {}

  // `expected` reads on from "expected"; keywords in it stand in backticks and serve as candidates for a hint.
  // `opened`, if given, is the bracket that is not closed.
  void expected(const char* at, std::string_view expected, const char* opened = nullptr);

  // At `at` the text ends, or goes on outside of blocks, and the block that begins at `opened` was not closed. Of
  // several such blocks only the first is told.
  void unclosed_block(const char* at, const char* opened);
  // Blocks before this place were told about.
  void leave_blocks() { unclosed_ = false; }
  // A `}` or a statement stands at `at`, outside of every block; `closed` is the `}` of the last one, if there was any.
  void stray(const char* at, const char* closed);

  // A number was read at `at`: its place serves a hint.
  void number_read(const char* at) { number_ = at; }
  // A word or number that stands at `at` unexpectedly belongs to a mistake already reported.
  void excuse_word_after(const char* at);

  template <class... Arguments>
  void report(const FindingKind<Arguments...>& kind, const char* begin, const char* end, const Advice& advice,
              const std::type_identity_t<Arguments>&... arguments) {
    if (!admits(begin)) return;
    add(sink_.report(kind, span(begin, end), arguments...), advice);
    stop_if_full(begin);
  }

  // What is read while muted belongs to a mistake that has been told.
  void mute(bool muted) { muted_ = muted; }

  [[nodiscard]] bool stopped() const { return stopped_; }
  [[nodiscard]] std::uint32_t offset(const char* at) const { return static_cast<std::uint32_t>(at - text_.data()); }
  [[nodiscard]] Span span(const char* begin, const char* end) const { return {file_, offset(begin), offset(end)}; }

 private:
  static void add(FindingSink::Addition addition, const Advice& advice) {
    if (advice.instead) {
      addition.hint(advice.hint, *advice.instead);
    } else {
      addition.hint(advice.hint);
    }
  }
  // False for a place that has had its finding.
  bool admits(const char* at);
  void stop_if_full(const char* at);

  FileId file_;
  std::string_view text_;
  FindingSink& sink_;
  const char* last_ = nullptr;
  const char* number_ = nullptr;
  const char* excused_ = nullptr;
  int count_ = 0;
  bool stopped_ = false;
  bool unclosed_ = false;
  bool muted_ = false;
};

}  // namespace rampart
