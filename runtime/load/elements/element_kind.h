#pragma once

#include <algorithm>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "compiler/yaml/file_values.h"
#include "runtime/load/elements/element.h"

// How an element says what its keys are. The reader, the tolerances, and the tests of schema and documents all go by
// these lists.
namespace rampart {

// The values that a key takes: in the SI unit of a dimension, within a bound.
struct ValueRange {
  Dimension dimension;
  Bound bound = Bound::Any;
};
// A whole number from 1 on.
struct CountRange {
  std::int64_t most = 0;
};
// Pairs like [0 V, 0 A], the first value rising.
struct PointsRange {
  std::size_t fewest = 0;
  ValueRange first;
  ValueRange second;
};

// One key of an element, and the member that it fills. A `Toleranced` may be written with a tolerance; an optional one
// may be absent without a value in its place.
template <class Part>
struct ElementField {
  std::string_view key;
  bool is_required = false;
  std::variant<double Part::*, Toleranced Part::*, std::optional<Toleranced> Part::*, Points Part::*> member;
  std::variant<ValueRange, CountRange, PointsRange> range;
  [[nodiscard]] bool has_tolerance() const {
    return std::holds_alternative<Toleranced Part::*>(member) ||
           std::holds_alternative<std::optional<Toleranced> Part::*>(member);
  }
  template <class Member>
  static ElementField required(std::string_view key, Member Part::*member, const Dimension& dimension, Bound bound) {
    return {key, true, member, ValueRange{dimension, bound}};
  }
  template <class Member>
  static ElementField optional(std::string_view key, Member Part::*member, const Dimension& dimension, Bound bound) {
    return {key, false, member, ValueRange{dimension, bound}};
  }
  static ElementField count(std::string_view key, double Part::*member, std::int64_t most) {
    return {key, false, member, CountRange{most}};
  }
  static ElementField points(std::string_view key, Points Part::*member, const PointsRange& range) {
    return {key, true, member, range};
  }
};

// Where the values of an element stand in its file, for what they say together.
class ElementPlace {
 public:
  ElementPlace(const Section& section, FindingSink& findings) : section_(section), findings_(findings) {}
  // `key` is `found`, but that does not fit what `other` is.
  FindingSink::Addition conflict(std::string_view key, const std::string& found, std::string_view other,
                                 const std::string& wanted) const;
  // The second value of a point is wrong.
  void wrong_point(std::string_view key, std::size_t point, const std::string& found, const std::string& wanted,
                   const std::string& hint) const;

 private:
  const Section& section_;
  FindingSink& findings_;
};

// Every struct of an element has a static kind() that gives this.
template <class Part>
struct ElementKind {
  std::string_view name;
  std::string_view example;  // a whole element, for hints
  std::vector<ElementField<Part>> fields;
  // Reports values that are right one by one and not together. Called for a complete element only.
  void (*check)(const Part& part, const ElementPlace& place) = nullptr;
  [[nodiscard]] bool has_tolerance() const {
    return std::any_of(fields.begin(), fields.end(), [](const auto& one) { return one.has_tolerance(); });
  }
};

}  // namespace rampart
