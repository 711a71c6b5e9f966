#pragma once

#include <optional>
#include <string>

#include "compiler/compile/compile.h"
#include "compiler/export/template.h"
#include "lang/files/files.h"
#include "lang/findings/finding.h"

namespace rampart::cli {

struct TemplateFile {
  TableTemplate text;
  OriginFile origin;
};

// Reads the template that the table of a profile is to be poured into. Empty where it cannot be read, is wrong, or
// lacks a part that the table needs.
[[nodiscard]] std::optional<TemplateFile> read_template_file(Files& files, const std::string& path,
                                                             const Compiled& compiled, FindingSink& findings);

}  // namespace rampart::cli
