#pragma once

#include <string_view>
#include <vector>

#include "compiler/profile/profile.h"

namespace rampart::resolving {

enum class ValueKind : std::uint8_t {
  Unknown,  // its mistake has been reported: nothing that takes it reports another
  Form,     // a quantity; with terms, one that depends on measured or set values of rails
  Truth,
  Rail,
  Line,
};

// A plain value times the absolute value of a sum of rails.
struct AbsoluteTerm {
  Rational coefficient;
  LinearForm form;
};

// What an expression comes to.
struct Value {
  ValueKind kind = ValueKind::Unknown;
  LinearForm form;                      // with Form
  std::vector<AbsoluteTerm> absolutes;  // with Form: added to it
  std::string_view unit;                // of a quantity, as it was written; empty: none
  std::vector<ConditionNode> truth;     // with Truth
  RailId rail{};                        // with Rail
  LineId line{};                        // with Line

  [[nodiscard]] bool is_known() const { return kind != ValueKind::Unknown; }
  // A Form that rails have no part in.
  [[nodiscard]] bool is_plain() const { return form.terms.empty() && absolutes.empty(); }
  [[nodiscard]] bool is_quantity() const { return kind == ValueKind::Form && is_plain(); }

  [[nodiscard]] Quantity quantity() const { return {form.constant, form.unit}; }

  [[nodiscard]] static Value of(const Quantity& quantity, std::string_view unit = {}) {
    Value value;
    value.kind = ValueKind::Form;
    value.form.constant = quantity.value;
    value.form.unit = quantity.dimension;
    value.unit = unit;
    return value;
  }
  [[nodiscard]] static Value of(RailId rail) {
    Value value;
    value.kind = ValueKind::Rail;
    value.rail = rail;
    return value;
  }
  [[nodiscard]] static Value of(LineId line) {
    Value value;
    value.kind = ValueKind::Line;
    value.line = line;
    return value;
  }
};

}  // namespace rampart::resolving
