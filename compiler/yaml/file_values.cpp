#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"

#include <algorithm>

namespace rampart {
namespace {

std::string_view kind_name(YamlKind kind) {
  switch (kind) {
    case YamlKind::Empty:
      return "nothing";
    case YamlKind::Text:
      return "a text";
    case YamlKind::List:
      return "a list";
    case YamlKind::Map:
      return "a map of keys";
  }
  return "";
}

// False, with a finding, unless the value is of this kind.
bool check_kind(const Field& field, YamlKind wanted, FindingSink& findings) {
  const YamlNode& value = *field.value;
  if (value.kind == wanted) return true;
  const std::string key = shown_text(field.key);
  if (value.kind == YamlKind::Empty) {
    findings.report(finding::NoValue, value.span, key);
  } else {
    findings.report(finding::ValueImpossible, value.span, key, kind_name(value.kind), kind_name(wanted));
  }
  return false;
}

template <class Text>
std::string name_list(std::span<const Text> names) {
  constexpr std::size_t kListed = 16;
  std::string text;
  for (std::size_t i = 0; i < names.size() && i < kListed; ++i) {
    if (i > 0) text += ", ";
    text += "`" + std::string(names[i]) + "`";
  }
  return names.size() > kListed ? text + ", …" : text;
}

// The name that was most likely meant; else, after `others`, those to choose from.
template <class Text>
void hint_choice(FindingSink::Addition& addition, const std::string& nearest, std::string_view others,
                 std::span<const Text> names) {
  if (nearest.empty()) {
    addition.hint(std::string(others) + name_list(names));
  } else {
    addition.hint("write `" + nearest + "`", nearest);
  }
}

bool is_name(std::string_view name) {
  constexpr std::size_t kLongestName = 64;
  const auto is_letter = [](char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_'; };
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  if (name.empty() || name.size() > kLongestName || is_digit(name.front())) return false;
  return std::all_of(name.begin(), name.end(), [&](char c) { return is_letter(c) || is_digit(c); });
}

}  // namespace

Field field_of(const YamlEntry& entry) {
  return {entry.key, &entry.value, entry.key_span};
}

Field field_of_item(std::string_view key, const YamlNode& item) {
  // A map in a list has no line of its own: its first key stands for it.
  return {key, &item, item.entries.empty() ? item.span : item.entries.front().key_span};
}

Section::Section(const Field& field, std::string label, const KeyTable& table, FindingSink& findings)
    : map_(field.value), label_(std::move(label)), place_(field.place), findings_(&findings) {
  if (!check_kind(field, YamlKind::Map, findings)) {
    map_ = nullptr;
    return;
  }
  const std::vector<std::string> known(table.keys.begin(), table.keys.end());
  for (const YamlEntry& entry : map_->entries) {
    if (std::find(known.begin(), known.end(), entry.key) != known.end()) continue;
    const std::string nearest = nearest_name(entry.key, known);
    misspelt_.push_back(nearest);
    FindingSink::Addition unknown = findings.report(finding::UnknownKey, entry.key_span, label_, shown_text(entry.key));
    const auto advice = std::find_if(table.advice.begin(), table.advice.end(),
                                     [&](const KeyAdvice& one) { return one.key == entry.key; });
    if (advice != table.advice.end()) {
      unknown.hint(std::string(advice->hint));
    } else {
      hint_choice(unknown, nearest, "its keys are ", table.keys);
    }
  }
}

const YamlEntry* Section::find(std::string_view key) const {
  return map_ == nullptr ? nullptr : map_->find(key);
}

Span Section::value_place(std::string_view key) const {
  const YamlEntry* entry = find(key);
  return entry == nullptr ? place_ : entry->value.span;
}

std::string Section::text(std::string_view key) const {
  const YamlEntry* entry = find(key);
  return entry == nullptr ? std::string() : shown_text(entry->value.text);
}

bool Section::is_misspelt(std::string_view key) const {
  return std::find(misspelt_.begin(), misspelt_.end(), key) != misspelt_.end();
}

void Section::require(std::span<const std::string_view> keys, std::string_view example) const {
  if (map_ == nullptr) return;
  std::vector<std::string_view> missing;
  for (const std::string_view key : keys) {
    if (!has(key) && !is_misspelt(key)) missing.push_back(key);
  }
  if (missing.empty()) return;
  FindingSink::Addition lacking =
      findings_->report(finding::KeyMissing, place_, label_,
                        (missing.size() == 1 ? "key " : "keys ") + name_list(std::span(std::as_const(missing))));
  if (!example.empty()) lacking.hint("write it as in `" + std::string(example) + "`");
}

void Section::require_with(std::string_view key, std::string_view needed) const {
  const YamlEntry* entry = find(key);
  if (entry == nullptr || has(needed) || is_misspelt(needed)) return;
  findings_->report(finding::KeyWithoutOther, entry->key_span, label_, key, needed)
      .hint("add `" + std::string(needed) + "`, or remove `" + std::string(key) + "`");
}

std::optional<bool> read_flag(const Field& field, FindingSink& findings) {
  if (!check_kind(field, YamlKind::Text, findings)) return std::nullopt;
  const std::string& text = field.value->text;
  if (text == "yes" || text == "true") return true;
  if (text == "no" || text == "false") return false;
  findings.report(finding::ValueUnreadable, field.value->span, shown_text(text), "yes or no").hint("write yes or no");
  return std::nullopt;
}

std::optional<std::size_t> read_choice(const Field& field, std::span<const std::string_view> choices,
                                       FindingSink& findings) {
  if (!check_kind(field, YamlKind::Text, findings)) return std::nullopt;
  const auto found = std::find(choices.begin(), choices.end(), field.value->text);
  if (found != choices.end()) return static_cast<std::size_t>(found - choices.begin());
  const std::vector<std::string> known(choices.begin(), choices.end());
  const std::string nearest = nearest_name(field.value->text, known);
  FindingSink::Addition unknown =
      findings.report(finding::ValueUnreadable, field.value->span, shown_text(field.value->text),
                      "a value of `" + std::string(field.key) + "`");
  hint_choice(unknown, nearest, "choose from ", choices);
  return std::nullopt;
}

std::optional<std::string> read_title(const Field& field, FindingSink& findings) {
  if (!check_kind(field, YamlKind::Text, findings)) return std::nullopt;
  const std::string& text = field.value->text;
  const bool blank = text.find_first_not_of(' ') == std::string::npos;
  const bool control = std::any_of(text.begin(), text.end(),
                                   [](char c) { return static_cast<unsigned char>(c) < 0x20U || c == '\x7F'; });
  if (!blank && !control) return text;
  findings.report(finding::ValueUnreadable, field.value->span, shown_text(text), "a title")
      .hint("write a few words on one line");
  return std::nullopt;
}

bool check_name(std::string_view name, const Span& place, FindingSink& findings) {
  if (is_name(name)) return true;
  findings.report(finding::NameUnusable, place, shown_text(name))
      .hint("use up to 64 letters a to z, digits and `_`, and no digit first");
  return false;
}

void report_unknown_name(std::string_view what, std::string_view name, const Span& place,
                         std::span<const std::string> known, FindingSink& findings) {
  FindingSink::Addition finding = findings.report(finding::FileUnknownName, place, what, shown_text(name));
  const std::string nearest = nearest_name(name, known);
  if (!nearest.empty()) {
    finding.hint("write `" + nearest + "`", nearest);
  } else if (!known.empty()) {
    finding.hint("choose from " + name_list(known));
  }
}

const std::vector<YamlNode>* read_list(const Field& field, std::size_t limit, FindingSink& findings) {
  if (!check_kind(field, YamlKind::List, findings)) return nullptr;
  const std::vector<YamlNode>& items = field.value->items;
  if (items.size() <= limit) return &items;
  findings.report(finding::FileTooManyParts, items[limit].span, shown_text(field.key),
                  static_cast<std::int64_t>(items.size()), static_cast<std::int64_t>(limit));
  return nullptr;
}

const std::vector<YamlEntry>* read_named(const Field& field, std::size_t limit, FindingSink& findings) {
  if (!check_kind(field, YamlKind::Map, findings)) return nullptr;
  const std::vector<YamlEntry>& entries = field.value->entries;
  if (entries.size() <= limit) return &entries;
  findings.report(finding::FileTooManyParts, entries[limit].key_span, shown_text(field.key),
                  static_cast<std::int64_t>(entries.size()), static_cast<std::int64_t>(limit));
  return nullptr;
}

const std::vector<YamlEntry>* read_some_named(const Field& field, std::size_t limit, FindingSink& findings) {
  const std::vector<YamlEntry>* entries = read_named(field, limit, findings);
  if (entries != nullptr && entries->empty()) findings.report(finding::NoValue, field.place, field.key);
  return entries;
}

bool is_other_file(const YamlNode& root, std::string_view wanted, std::initializer_list<std::string_view> others,
                   FindingSink& findings) {
  if (root.find(wanted) != nullptr) return false;
  const std::string name(wanted);
  const std::string beginning = "a " + name + " file begins with `" + name + ":` and a title";
  for (const std::string_view other : others) {
    const YamlEntry* entry = root.find(other);
    if (entry == nullptr) continue;
    findings.report(finding::WrongFileKind, entry->key_span, other, wanted).hint(beginning);
    return true;
  }
  return false;
}

}  // namespace rampart
