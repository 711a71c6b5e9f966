#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "compiler/export/template.h"

namespace rampart {

// A value that is not known is written as nothing, in any format.
using TemplateContent = std::variant<std::int64_t, std::optional<double>, std::optional<bool>, std::string>;

struct TemplateValue {
  std::string name;
  TemplateContent value;
};
using TemplateValues = std::vector<TemplateValue>;

// The fields of a part, with values like those a table gives them.
[[nodiscard]] const TemplateValues& sample_fields(TemplatePart part);

// `format` with the fields put in: format strings of the fmt library; with `L` numbers have a decimal comma. Throws
// fmt::format_error where a field or its format is wrong.
[[nodiscard]] std::string fill_in(const std::string& format, const TemplateValues& fields);

}  // namespace rampart
