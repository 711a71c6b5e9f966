#include "runtime/load/element_reader.h"

#include <algorithm>
#include <type_traits>

#include "compiler/yaml/field_collector.h"
#include "lang/findings/files.h"
#include "runtime/load/elements/element_kinds.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxElements = 256;
constexpr std::size_t kMaxPoints = 10'000;

std::optional<Points> read_points(const Field& field, const PointsRange& range, FindingSink& findings) {
  const auto& [fewest, first, second] = range;
  const std::size_t errors_before = findings.error_count();
  const std::vector<YamlNode>* items = read_list(field, kMaxPoints, findings);
  if (items == nullptr) return std::nullopt;
  if (items->size() < fewest) {
    findings.report(finding::ValueImpossible, field.place, field.key, "a list of " + std::to_string(items->size()),
                    "a list of " + std::to_string(fewest) + " or more");
  }
  Points points;
  std::optional<Rational> last;
  for (const YamlNode& item : *items) {
    if (item.kind != YamlKind::List || item.items.size() != 2) {
      findings.report(finding::ValueUnreadable, item.span, "this part", "a pair of values")
          .hint("write pairs, as in `[" + to_text(Quantity{1, first.dimension}) + ", " +
                to_text(Quantity{1, second.dimension}) + "]`");
      continue;
    }
    const auto x = read_quantity(field_of_item(field.key, item.items[0]), first.dimension, first.bound, findings);
    const auto y = read_quantity(field_of_item(field.key, item.items[1]), second.dimension, second.bound, findings);
    if (x && last && *x <= *last) {
      findings
          .report(finding::NotRising, item.items[0].span, field.key, {*x, first.dimension}, {*last, first.dimension})
          .hint("sort the points, and give each value once");
    }
    if (x) last = x;
    if (x && y) points.emplace_back(x->to_double(), y->to_double());
  }
  if (findings.error_count() > errors_before) return std::nullopt;
  return points;
}

// What a member of that type takes.
template <class Member>
std::optional<Member> read_value(const Field& field, const std::variant<ValueRange, CountRange, PointsRange>& range,
                                 FindingSink& findings) {
  if constexpr (std::is_same_v<Member, Points>) {
    return read_points(field, std::get<PointsRange>(range), findings);
  } else if constexpr (std::is_same_v<Member, double>) {
    if (const auto* count = std::get_if<CountRange>(&range)) {
      const std::optional<std::int64_t> number = read_whole(field, 1, count->most, findings);
      return number ? std::optional(static_cast<double>(*number)) : std::nullopt;
    }
    const auto& [dimension, bound] = std::get<ValueRange>(range);
    const std::optional<Rational> value = read_quantity(field, dimension, bound, findings);
    return value ? std::optional(value->to_double()) : std::nullopt;
  } else {
    const auto& [dimension, bound] = std::get<ValueRange>(range);
    return read_toleranced(field, dimension, bound, findings);
  }
}

// How a tolerance is written, for whoever gives it a key of its own: behind the value that stands there, if there is
// one.
template <class Part>
std::string tolerance_hint(const ElementKind<Part>& kind, const YamlNode& element) {
  for (const ElementField<Part>& one : kind.fields) {
    const YamlEntry* entry = one.is_required ? element.find(one.key) : nullptr;
    if (entry == nullptr || entry->value.kind != YamlKind::Text || !one.has_tolerance()) continue;
    if (!parse_quantity(entry->value.text)) continue;
    return "a tolerance follows its value: write `" + std::string(one.key) + ": " + shown_text(entry->value.text) +
           " +- 20 %`";
  }
  return "a tolerance follows its value, as in `" + std::string(kind.example) + "`";
}

// Fills an element of one kind from the keys of its map.
template <class Part>
std::optional<ElementPart> read_part(const ElementKind<Part>& kind, const Field& field, FindingSink& findings) {
  std::vector<std::string_view> keys{"kind", "name"};
  for (const ElementField<Part>& one : kind.fields) keys.push_back(one.key);
  const std::string hint = tolerance_hint(kind, *field.value);
  const KeyAdvice advice[] = {{"tolerance", hint}};
  const Section section(field, "`" + std::string(kind.name) + "`",
                        {kind.name, keys, kind.has_tolerance() ? std::span(advice) : std::span<const KeyAdvice>{}},
                        findings);
  FieldCollector<Part> collector(section);
  for (const ElementField<Part>& one : kind.fields) {
    std::visit(
        [&]<class Member>(Member Part::*member) {
          const auto read = [&](const Field& value) { return read_value<Member>(value, one.range, findings); };
          if (one.is_required) {
            collector.required(one.key, member, read);
          } else {
            collector.optional(one.key, member, read);
          }
        },
        one.member);
  }
  if (kind.check != nullptr) {
    collector.check([&](const Part& part) { kind.check(part, ElementPlace(section, findings)); });
  }
  return collector.result(kind.example);
}

std::optional<ElementPart> read_part(std::string_view kind, const Field& field, FindingSink& findings) {
  std::optional<ElementPart> part;
  for_each_kind([&](const auto& one) {
    if (one.name == kind) part = read_part(one, field, findings);
  });
  return part;
}

// What the file calls the element, or an empty text. Two elements of a rail cannot be told apart by one name.
std::optional<std::string> read_part_name(const Field& field, const std::vector<LoadElement>& others,
                                          FindingSink& findings) {
  const YamlEntry* entry = field.value->find("name");
  if (entry == nullptr) return std::string();
  std::optional<std::string> name = read_title(field_of(*entry), findings);
  if (!name) return std::nullopt;
  const auto other =
      std::find_if(others.begin(), others.end(), [&](const LoadElement& one) { return one.name == *name; });
  if (other == others.end()) return name;
  findings.report(finding::FileDuplicateName, entry->value.span, *name)
      .note(finding::FirstListedHere, other->span)
      .hint("give each part of the rail a name of its own");
  return std::nullopt;
}

std::optional<std::string> read_kind(const Field& field, FindingSink& findings) {
  const YamlEntry* kind = field.value->kind == YamlKind::Map ? field.value->find("kind") : nullptr;
  if (kind == nullptr) {
    findings.report(finding::KeyMissing, field.place, "this element", "key `kind`")
        .hint("write it as in `{kind: resistor, resistance: 10 Ohm}`");
    return std::nullopt;
  }
  std::optional<std::string> name = read_title(field_of(*kind), findings);
  if (!name) return std::nullopt;
  std::vector<std::string> kinds;
  for_each_kind([&](const auto& one) { kinds.emplace_back(one.name); });
  if (std::find(kinds.begin(), kinds.end(), *name) != kinds.end()) return name;
  report_unknown_name("kind of element", *name, kind->value.span, kinds, findings);
  return std::nullopt;
}

}  // namespace

std::optional<Toleranced> read_toleranced(const Field& field, const Dimension& dimension, Bound bound,
                                          FindingSink& findings) {
  const std::optional<QuantityTolerance> value = read_tolerance(field, dimension, bound, findings);
  if (!value) return std::nullopt;
  return Toleranced{value->nominal.to_double(), value->low.to_double(), value->high.to_double()};
}

std::optional<std::vector<LoadElement>> read_elements(const Field& field, FindingSink& findings) {
  const std::vector<YamlNode>* items = read_list(field, kMaxElements, findings);
  if (items == nullptr) return std::nullopt;
  std::vector<LoadElement> elements;
  for (const YamlNode& item : *items) {
    const Field element = field_of_item(field.key, item);
    const std::optional<std::string> kind = read_kind(element, findings);
    if (!kind) continue;
    std::optional<ElementPart> what = read_part(*kind, element, findings);
    const std::optional<std::string> name = read_part_name(element, elements, findings);
    if (what && name) elements.push_back({item.span, *std::move(what), *name});
  }
  if (elements.size() < items->size()) return std::nullopt;
  return elements;
}

}  // namespace rampart
