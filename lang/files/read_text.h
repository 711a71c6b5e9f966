#pragma once

#include <optional>
#include <string>

#include "lang/files/files.h"
#include "lang/findings/finding.h"
#include "lang/text/source.h"

namespace rampart {

// Where a path stands: the statement that names it, or, without a place, an option.
struct NamedPath {
  std::string path;
  std::optional<Span> place;
};

// The text of a file, added to those of the findings. Null, with a finding (unreadable), where it cannot be read.
[[nodiscard]] TextPtr read_text(Files& files, const NamedPath& named, FindingSink& findings);

// Reports that a file cannot be read.
void report_unreadable(const NamedPath& named, const std::string& why, FindingSink& findings);

}  // namespace rampart
