#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "lang/text/source.h"

// What editors ask of names: where each is defined and used, and what it stands for. It is there for a text with
// mistakes too, as far as its names could be looked up.
namespace rampart {

enum class SymbolKind : std::uint8_t {
  Parameter,
  Value,  // of a `let`
  Rail,
  Line,
  Sequence,
  Argument,  // of a sequence
  Variable,  // of a `for`
  Mark,
  Supply,
  Channel,
  Output,       // of the bench, by a name of its own
  TriggerLine,  // of a supply
  Element,      // of the load
  Fault,
};
// "parameter", "rail": as messages call it.
[[nodiscard]] std::string_view symbol_kind_name(SymbolKind kind);

enum class SymbolId : std::uint32_t {};

struct Symbol {
  SymbolKind kind{};
  std::string name{};  // as it is written where it is defined: "ch1"
  std::string path{};  // as it is looked up: "left.ch1"
  Span definition{};   // of the name
  // The text in which an argument or variable is known; empty for what is known everywhere.
  Span scope{};
  // What it is worth, as text: several where calls or passes differ.
  std::vector<std::string> values{};
  bool has_more_values = false;
};

// A place where a name stands.
struct Occurrence {
  Span span;
  SymbolId symbol{};
  bool defines = false;
};

// A value that is calculated from others.
struct CalculatedValue {
  Span span;
  std::string text;
};

// Values of one symbol that are kept.
inline constexpr std::size_t kMaxSymbolValues = 8;

class SymbolIndex {
 public:
  // Its name stands at its definition.
  SymbolId define(Symbol symbol);
  void use(SymbolId symbol, const Span& span, bool defines = false);
  // Each text once.
  void add_value(SymbolId symbol, std::string text);
  void add_calculated(const Span& span, std::string text) { calculated_.push_back({span, std::move(text)}); }

  [[nodiscard]] const std::vector<Symbol>& symbols() const { return symbols_; }
  [[nodiscard]] const Symbol& operator[](SymbolId id) const { return symbols_[static_cast<std::size_t>(id)]; }
  // The first one that was defined with this path.
  [[nodiscard]] std::optional<SymbolId> find(SymbolKind kind, std::string_view path) const;

  // By place: texts as they were met, then offsets.
  [[nodiscard]] const std::vector<Occurrence>& occurrences() const;
  // The name that the offset lies in, or directly behind.
  [[nodiscard]] const Occurrence* at(FileId file, std::uint32_t offset) const;
  // The innermost calculated value around the offset.
  [[nodiscard]] const CalculatedValue* calculated_at(FileId file, std::uint32_t offset) const;

 private:
  std::vector<Symbol> symbols_;
  std::map<std::pair<SymbolKind, std::string>, SymbolId, std::less<>> by_path_;
  mutable std::vector<Occurrence> occurrences_;  // put in order when they are asked for
  mutable bool in_order_ = true;
  std::vector<CalculatedValue> calculated_;
};

}  // namespace rampart
