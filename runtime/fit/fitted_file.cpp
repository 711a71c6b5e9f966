#include "runtime/fit/fitted_file.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "compiler/yaml/yaml_document.h"
#include "lang/values/quantity.h"
#include "runtime/fit/digits.h"

namespace rampart::fit {
namespace {

bool are_alike(const YamlNode& a, const YamlNode& b) {
  if (a.kind != b.kind || a.text != b.text || a.items.size() != b.items.size() ||
      a.entries.size() != b.entries.size()) {
    return false;
  }
  for (std::size_t i = 0; i < a.items.size(); ++i) {
    if (!are_alike(a.items[i], b.items[i])) return false;
  }
  return std::all_of(a.entries.begin(), a.entries.end(), [&](const YamlEntry& entry) {
    const YamlEntry* other = b.find(entry.key);
    return other != nullptr && are_alike(entry.value, other->value);
  });
}

const YamlNode* value_of(const YamlNode& map, std::string_view key) {
  const YamlEntry* entry = map.find(key);
  return entry == nullptr ? nullptr : &entry->value;
}

// Where the value stands: in its rail, and in elements of faults that are written like its own, which are the same
// part.
std::vector<const YamlNode*> nodes_of(const YamlNode& root, const Load& load, const LoadValue& value) {
  std::vector<const YamlNode*> nodes;
  const auto add = [&](const YamlNode& map) {
    if (const YamlNode* node = value_of(map, value.key)) nodes.push_back(node);
  };
  const std::string& name = load.rails[value.place].rail;
  const YamlNode* rails = value_of(root, "rails");
  const YamlNode* rail = rails == nullptr ? nullptr : value_of(*rails, name);
  if (rail == nullptr) return nodes;
  if (!value.element) {
    add(*rail);
    return nodes;
  }
  const YamlNode* elements = value_of(*rail, "elements");
  if (elements == nullptr || *value.element >= elements->items.size()) return nodes;
  const YamlNode& element = elements->items[*value.element];
  add(element);
  const YamlNode* faults = value_of(root, "faults");
  if (faults == nullptr) return nodes;
  for (const YamlEntry& fault : faults->entries) {
    const YamlNode* of = value_of(fault.value, "rail");
    const YamlNode* becomes = value_of(fault.value, "becomes");
    if (of == nullptr || becomes == nullptr || of->text != name) continue;
    for (const YamlNode& one : becomes->items) {
      if (are_alike(one, element)) add(one);
    }
  }
  return nodes;
}

struct Change {
  Span span;
  std::string text;
  std::string comment;
};

}  // namespace

// The tolerance has two digits, and the value goes as far as these.
WrittenValue written(const FittedValue& value) {
  // Of one at the end of its tolerance nobody knows how far it would go.
  const double known = value.is_at_end ? (value.design.high - value.design.low) / 2 : 2 * value.standard_error();
  const double error = std::max(known, 1e-6 * std::abs(value.estimate));
  WrittenValue result;
  result.nominal = rounded_by(value.estimate, error, 2);
  result.text =
      to_text(result.nominal, value.unit) + " +- " + to_text(rounded_by(error, error, 2, std::ceil), value.unit);
  return result;
}

std::string fitted_file(const TextPtr& text, const SourceSet& sources, const Load& load,
                        const std::vector<LoadValue>& places, const std::vector<FittedValue>& values,
                        const std::string& logs) {
  FindingSink unused;
  unused.texts().add_all(sources);
  const std::optional<YamlNode> root = read_yaml(unused.texts(), text->id(), unused);
  std::vector<Change> changes;
  for (std::size_t i = 0; i < values.size() && root; ++i) {
    if (!values[i].is_determined) continue;
    for (const YamlNode* node : nodes_of(*root, load, places[i])) {
      const std::string design(text->text().substr(node->span.begin, node->span.end - node->span.begin));
      changes.push_back({node->span, written(values[i]).text, places[i].key + " " + design});
    }
  }
  std::sort(changes.begin(), changes.end(),
            [](const Change& a, const Change& b) { return a.span.begin < b.span.begin; });
  const std::string_view source = text->text();
  std::string result = "# Fitted to " + logs + "; the tolerances of fitted values are two standard errors.\n";
  std::size_t next = 0;
  std::size_t begin = 0;
  while (begin < source.size()) {
    const std::size_t end = std::min(source.find('\n', begin), source.size() - 1) + 1;
    const std::string_view line = source.substr(begin, end - begin);
    std::string comment;
    std::string changed;
    std::size_t done = begin;
    for (; next < changes.size() && changes[next].span.begin < end; ++next) {
      changed += source.substr(done, changes[next].span.begin - done);
      changed += changes[next].text;
      done = changes[next].span.end;
      comment += (comment.empty() ? "" : ", ") + changes[next].comment;
    }
    if (!comment.empty()) {
      result += std::string(line.substr(0, line.find_first_not_of(" \t"))) + "# design: " + comment + "\n";
    }
    result += changed;
    result += source.substr(done, end - done);
    begin = end;
  }
  return result;
}

}  // namespace rampart::fit
