#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "compiler/export/template.h"
#include "lang/values/rational.h"

namespace rampart {

// A value that is not known is written as nothing, in any format.
using TemplateContent = std::variant<std::int64_t, std::optional<Rational>, std::optional<bool>, std::string>;

struct TemplateValue {
  std::string name;
  TemplateContent value;
};
using TemplateValues = std::vector<TemplateValue>;

// The fields of a part, with values like those a table gives them.
[[nodiscard]] const TemplateValues& sample_fields(TemplatePart part);

// Thrown where a format has no room for a value: numbers are never rounded.
struct InexactNumber {
  std::string format;  // of the field, such as ".3f"
  Rational value;
};

// `format` with the fields put in: format strings of the fmt library; numbers after NumberFormat; texts also as `q`, in
// quotes as RFC 4180 has them, and `j`, as a JSON string. Throws fmt::format_error where a field or its format is
// wrong, and InexactNumber.
[[nodiscard]] std::string fill_in(const std::string& format, const TemplateValues& fields);

}  // namespace rampart
