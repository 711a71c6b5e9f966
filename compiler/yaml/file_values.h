#pragma once

#include <cstdint>
#include <initializer_list>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "compiler/yaml/file_text.h"
#include "compiler/yaml/yaml_document.h"
#include "lang/findings/finding.h"
#include "lang/values/quantity.h"

// Reading the values of bench and load files: each function takes one value, reports what is wrong with it at its
// place, and gives nothing then. All numbers are exact.
namespace rampart {

// A key that a map does not have, and the hint for whoever writes it.
struct KeyAdvice {
  std::string_view key;
  std::string_view hint;
};

// The keys that one kind of map may have. `what` names the map for the schema's tests: "channel", "capacitor".
struct KeyTable {
  std::string_view what;
  std::span<const std::string_view> keys;
  // What to write instead of a key that people from elsewhere try: "tolerance".
  std::span<const KeyAdvice> advice = {};
};

// The table of the map `what` among these; an empty one if it is none of them.
[[nodiscard]] constexpr KeyTable key_table(std::span<const KeyTable> tables, std::string_view what) {
  for (const KeyTable& table : tables) {
    if (table.what == what) return table;
  }
  return {};
}

// A value with the key that it was given for, and where findings about the whole of it point.
struct Field {
  std::string_view key;
  const YamlNode* value = nullptr;
  Span place;
};
[[nodiscard]] Field field_of(const YamlEntry& entry);
// A part of the list that `key` holds.
[[nodiscard]] Field field_of_item(std::string_view key, const YamlNode& item);

// One map of a file with its keys checked against a table.
class Section {
 public:
  // `label` names the map in messages: "channel `ch1`". Reports a value that is no map, and every key not in `table`.
  Section(const Field& field, std::string label, const KeyTable& table, FindingSink& findings);

  [[nodiscard]] bool has(std::string_view key) const { return find(key) != nullptr; }
  // Calls `use` with the field of this key, if there is one: the only way to what stands there.
  template <class Use>
  void read(std::string_view key, const Use& use) const {
    if (const YamlEntry* entry = find(key)) use(field_of(*entry));
  }
  // Where the value of this key stands, or the map where there is none.
  [[nodiscard]] Span value_place(std::string_view key) const;
  // The text of this key's value as a message may quote it; empty where there is none.
  [[nodiscard]] std::string text(std::string_view key) const;
  // True for a map whose keys are all known.
  [[nodiscard]] bool is_sound() const { return map_ != nullptr && misspelt_.empty(); }
  // Reports in one finding which of the keys are absent, but for those that an unknown key was taken for. `example` is
  // what a whole map looks like, or empty.
  void require(std::span<const std::string_view> keys, std::string_view example = {}) const;
  void require(std::initializer_list<std::string_view> keys) const { require(std::span(keys.begin(), keys.size())); }
  // Reports `key` standing without `needed`.
  void require_with(std::string_view key, std::string_view needed) const;
  [[nodiscard]] Span place() const { return place_; }
  [[nodiscard]] const std::string& label() const { return label_; }

 private:
  [[nodiscard]] const YamlEntry* find(std::string_view key) const;
  [[nodiscard]] bool is_misspelt(std::string_view key) const;

  const YamlNode* map_;
  std::string label_;
  Span place_;
  FindingSink* findings_;
  std::vector<std::string> misspelt_;  // for each unknown key the known one that it is near to, or an empty name
};

enum class Bound : std::uint8_t { Any, NotNegative, Positive };

struct QuantityRange {
  Rational low;
  Rational high;
  Rational step;  // 0 where none is given
};

struct QuantityAccuracy {
  Rational fraction;
  Rational offset;
};

struct QuantityTolerance {
  Rational nominal;
  Rational low;
  Rational high;
};

// "3.3 V"; a plain number where `dimension` is none. In the SI unit of `dimension`.
[[nodiscard]] std::optional<Rational> read_quantity(const Field& field, const Dimension& dimension, Bound bound,
                                                    FindingSink& findings);
// "0 V .. 24 V", and "0 s .. 8 s step 5 ms" where steps are allowed. 0 ≤ low ≤ high; a step is above 0 and at most
// the width of the range.
enum class Steps : std::uint8_t { None, Allowed };
[[nodiscard]] std::optional<QuantityRange> read_range(const Field& field, const Dimension& dimension, Steps steps,
                                                      FindingSink& findings);
// "0.1 % + 5 mV", "0.1 %" or "5 mV"; neither part below 0, and the first below 100 %.
[[nodiscard]] std::optional<QuantityAccuracy> read_accuracy(const Field& field, const Dimension& dimension,
                                                            FindingSink& findings);
// "470 uF", "470 uF +- 20 %" or "24 Ohm ± 3 Ohm"; `bound` holds for both ends.
[[nodiscard]] std::optional<QuantityTolerance> read_tolerance(const Field& field, const Dimension& dimension,
                                                              Bound bound, FindingSink& findings);
// A time of whole nanoseconds.
[[nodiscard]] std::optional<Nanoseconds> read_nanoseconds(const Field& field, Bound bound, FindingSink& findings);
[[nodiscard]] std::optional<Nanoseconds> to_whole_nanoseconds(const Rational& seconds, const Span& place,
                                                              std::string_view key, FindingSink& findings);
[[nodiscard]] std::optional<std::int64_t> read_whole(const Field& field, std::int64_t low, std::int64_t high,
                                                     FindingSink& findings);
// yes or no; true and false are the same.
[[nodiscard]] std::optional<bool> read_flag(const Field& field, FindingSink& findings);
// The index of the choice that the text is.
[[nodiscard]] std::optional<std::size_t> read_choice(const Field& field, std::span<const std::string_view> choices,
                                                     FindingSink& findings);
// The enumerator whose name the text is; `names` are in the order of the enumeration.
template <class Choice>
[[nodiscard]] std::optional<Choice> read_one_of(const Field& field, std::span<const std::string_view> names,
                                                FindingSink& findings) {
  const std::optional<std::size_t> found = read_choice(field, names, findings);
  if (!found) return std::nullopt;
  return static_cast<Choice>(*found);
}
// Any text on one line that is not empty.
[[nodiscard]] std::optional<std::string> read_title(const Field& field, FindingSink& findings);
// A name that a profile can use: letters, digits and `_`, not beginning with a digit, at most 64 characters.
bool check_name(std::string_view name, const Span& place, FindingSink& findings);

// `name` is none of `known`, the names of things of the kind `what`.
void report_unknown_name(std::string_view what, std::string_view name, const Span& place,
                         std::span<const std::string> known, FindingSink& findings);

// The parts of a list, or nothing if the value is none or has more than `limit` parts.
[[nodiscard]] const std::vector<YamlNode>* read_list(const Field& field, std::size_t limit, FindingSink& findings);
// The entries of a map with free keys, or nothing if the value is none or has more than `limit` entries.
[[nodiscard]] const std::vector<YamlEntry>* read_named(const Field& field, std::size_t limit, FindingSink& findings);

// The same for a map that must have an entry.
[[nodiscard]] const std::vector<YamlEntry>* read_some_named(const Field& field, std::size_t limit,
                                                            FindingSink& findings);
// Reports a file that begins as one of `others` do, where one that begins with `wanted` is read.
[[nodiscard]] bool is_other_file(const YamlNode& root, std::string_view wanted,
                                 std::initializer_list<std::string_view> others, FindingSink& findings);

// Reads a whole file: what `read` makes of its root. Empty when the findings hold an error of this file.
template <class Read>
[[nodiscard]] auto read_file_values(const SourceSet& sources, FileId file, FindingSink& findings, const Read& read)
    -> std::optional<decltype(read(std::declval<const YamlNode&>()))> {
  const std::size_t errors_before = findings.error_count();
  const std::optional<YamlNode> root = read_yaml(sources, file, findings);
  if (!root) return std::nullopt;
  auto values = read(*root);
  if (findings.error_count() > errors_before) return std::nullopt;
  return values;
}

// A measure in place of a bare rational.
template <Dimension kDimension>
[[nodiscard]] std::optional<Measure<kDimension>> read_measure(const Field& field, Bound bound, FindingSink& findings) {
  const std::optional<Rational> value = read_quantity(field, kDimension, bound, findings);
  if (!value) return std::nullopt;
  return Measure<kDimension>{*value};
}

}  // namespace rampart
