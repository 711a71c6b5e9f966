#include "runtime/load/elements/elements.h"

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {

std::string_view kind_of(const ElementPart& part) {
  return std::visit([](const auto& element) { return element.kind().name; }, part);
}

std::unique_ptr<circuit::Branch> branch_of(const ElementPart& part) {
  return std::visit([](const auto& element) { return element.branch(); }, part);
}

std::optional<circuit::LinearPart> linear_part_of(const ElementPart& part) {
  return std::visit(
      [](const auto& element) -> std::optional<circuit::LinearPart> {
        if constexpr (requires { element.linear(); }) {
          return element.linear();
        } else {
          return std::nullopt;
        }
      },
      part);
}

void start_from(ElementPart& part, double held) {
  std::visit(
      [held](auto& element) {
        if constexpr (requires { element.start_from(held); }) element.start_from(held);
      },
      part);
}

std::optional<ElementPart> left_when_off(const ElementPart& part, double held, double port_voltage) {
  return std::visit(
      [&](const auto& element) -> std::optional<ElementPart> {
        if constexpr (requires { element.left_when_off(port_voltage); }) {
          return element.left_when_off(port_voltage);
        } else {
          ElementPart left = element;
          start_from(left, held);
          return left;
        }
      },
      part);
}

std::vector<TolerancedValue> toleranced_values(ElementPart& part) {
  std::vector<TolerancedValue> values;
  std::visit(
      [&]<class Part>(Part& element) {
        for (const ElementField<Part>& field : Part::kind().fields) {
          const auto* range = std::get_if<ValueRange>(&field.range);
          if (range == nullptr) continue;
          Toleranced* value = nullptr;
          if (const auto* member = std::get_if<Toleranced Part::*>(&field.member)) value = &(element.**member);
          if (const auto* member = std::get_if<std::optional<Toleranced> Part::*>(&field.member)) {
            std::optional<Toleranced>& given = element.**member;
            if (given) value = &*given;
          }
          if (value != nullptr) values.push_back({field.key, unit_text(range->dimension), value});
        }
      },
      part);
  return values;
}

}  // namespace rampart
