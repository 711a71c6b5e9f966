#pragma once

#include <string>
#include <string_view>

#include "tests/fuzz/check.h"

namespace rampart::fuzz {

// Reads a text as a file of its kind: it is read, or findings say why not.
template <class Read>
void read_alone(std::string_view text, const char* name, Read read) {
  FindingSink findings;
  const FileId file = findings.texts().add(name, std::string(text));
  const bool is_read = read(findings.texts(), file, findings).has_value();
  require(is_read == !findings.has_errors(), "a file is read if and only if it has no errors");
  check_findings(findings);
}

}  // namespace rampart::fuzz
