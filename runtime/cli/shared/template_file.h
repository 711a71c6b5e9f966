#pragma once

#include <optional>
#include <string>

#include "compiler/export/template.h"
#include "runtime/predict/compilation.h"

namespace rampart::cli {

struct TemplateFile {
  TableTemplate text;
  OriginFile origin;
};

// Reads the template that a compilation's table is to be poured into; its findings are added. Empty where it cannot be
// read, is wrong, or lacks a part that the table needs.
[[nodiscard]] std::optional<TemplateFile> read_template_file(Compilation& compilation, const std::string& path);

}  // namespace rampart::cli
