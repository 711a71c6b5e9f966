#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "lang/text/source.h"
#include "lang/values/quantity.h"

namespace rampart {

enum class Severity : std::uint8_t { Note, Warning, Error };
enum class Family : std::uint8_t { Language, Files, Limits, Practice, Predicted };

[[nodiscard]] std::string_view severity_name(Severity severity);

// How each type of argument appears in a message.
[[nodiscard]] inline std::string argument_text(std::string_view text) {
  return std::string(text);
}
[[nodiscard]] inline std::string argument_text(const Quantity& quantity) {
  return to_text(quantity);
}
[[nodiscard]] inline std::string argument_text(Nanoseconds time) {
  return to_text(time);
}
[[nodiscard]] inline std::string argument_text(std::int64_t number) {
  return std::to_string(number);
}
template <Dimension kDimension>
[[nodiscard]] std::string argument_text(const Measure<kDimension>& measure) {
  return to_text(measure);
}

// One wording of a finding or note. Each `{}` of `words` takes one argument. Several wordings may share one name.
struct Wording {
  std::string_view name;  // empty for a note's wording
  Severity severity;
  Family family;
  std::string_view words;
};

template <class... Arguments>
struct FindingKind {
  Wording wording;

  consteval FindingKind(std::string_view name, Severity severity, Family family, std::string_view words)
      : wording{name, severity, family, words} {
    std::size_t places = 0;
    for (std::size_t i = 0; i + 1 < words.size(); ++i) places += words[i] == '{' && words[i + 1] == '}';
    if (places != sizeof...(Arguments)) throw "the words and the argument types differ in number";
  }
};

// Argument types of the rows in lang/findings/*.def, which declare the findings and notes there are.
namespace finding {
using Text = std::string_view;
using Number = std::int64_t;
}  // namespace finding

// All wordings that have a name, in the order of lang/findings/all.def.
[[nodiscard]] std::span<const Wording> finding_registry();

struct FindingNote {
  Span span;
  std::string message;
};

struct Finding {
  std::string_view name;
  Severity severity = Severity::Error;
  Family family = Family::Language;
  Span span;
  std::string message;
  std::vector<FindingNote> notes;
  std::string hint;
  // What to write in place of the span, where the hint says just that; empty: nothing.
  std::optional<std::string> instead;
  std::optional<std::string> accepted;  // why the profile accepts it: it is a note then, whatever its wording says
};

// Collects the findings of a run, with the texts that they stand in, and gives them in one order, whatever the order of
// the work that found them: by family, then by place (texts as they were added, then first and last byte), then by
// name; findings alike in all of these stay as they were reported.
class FindingSink {
 public:
  // The texts that are read on the way are added here.
  [[nodiscard]] SourceSet& texts() { return texts_; }
  [[nodiscard]] const SourceSet& texts() const { return texts_; }

  // Adds to the finding just reported, until the next one is.
  class Addition {
   public:
    explicit Addition(Finding* finding, FindingSink* sink = nullptr) : finding_(finding), sink_(sink) {}
    template <class... Arguments>
    Addition& note(const FindingKind<Arguments...>& kind, const Span& span,
                   const std::type_identity_t<Arguments>&... arguments) {
      return add_note(kind.wording, span, {argument_text(arguments)...});
    }
    Addition& hint(std::string text);
    // A hint that leaves no choice: `instead` is what to write in place of the finding's span.
    Addition& hint(std::string text, std::string_view instead);
    // "did you mean `name`?"
    Addition& hint_name(std::string_view name);
    // The profile accepts the finding, at `span` and for the reason that it gives there.
    Addition& accept(const Span& span, std::string_view reason);

   private:
    Addition& add_note(const Wording& wording, const Span& span, std::vector<std::string> arguments);
    Finding* finding_;
    FindingSink* sink_;
  };

  template <class... Arguments>
  Addition report(const FindingKind<Arguments...>& kind, const Span& span,
                  const std::type_identity_t<Arguments>&... arguments) {
    return add(kind.wording, span, {argument_text(arguments)...});
  }

  // Adds what another sink collected.
  void append(std::vector<Finding> findings);

  // In their order.
  [[nodiscard]] const std::vector<Finding>& findings() const;
  // Whether there is one by the name of `wording`.
  [[nodiscard]] bool has(const Wording& wording) const;
  [[nodiscard]] std::vector<Finding> take();
  [[nodiscard]] bool has_errors() const { return errors_ > 0; }
  [[nodiscard]] std::size_t error_count() const { return errors_; }

 private:
  Addition add(const Wording& wording, const Span& span, std::vector<std::string> arguments);

  SourceSet texts_;
  mutable std::vector<Finding> findings_;  // put in order when they are asked for
  mutable bool in_order_ = true;
  std::size_t errors_ = 0;
};

// `words` with each `{}` replaced by the next argument.
[[nodiscard]] std::string fill_words(std::string_view words, std::span<const std::string> arguments);

// The candidate that `word` most likely meant: at most a third of its letters differ. Empty if none comes near.
[[nodiscard]] std::string nearest_name(std::string_view word, std::span<const std::string> candidates);

}  // namespace rampart
