#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "lang/findings/finding.h"

namespace rampart::cli {

[[nodiscard]] std::string_view family_name(Family family);

// A page of docs/explain as it was when the program was built.
struct ExplainPage {
  std::string_view name;
  std::string_view text;
};
// In the order of their names.
[[nodiscard]] std::span<const ExplainPage> explain_pages();

// A file of an example. Without a name it is the profile.
struct ExampleFile {
  std::string name;
  std::string text;
};

// What there is to know about the findings of one name.
struct CatalogueEntry {
  std::string name;
  Family family = Family::Language;
  std::vector<Severity> severities;  // of its wordings, the highest first, each once
  std::string summary;               // one sentence
  std::string why;                   // Markdown
  std::vector<ExampleFile> wrong;
  std::vector<ExampleFile> right;
};

// Every name of lang/findings/all.def once, in its order.
[[nodiscard]] const std::vector<CatalogueEntry>& catalogue();

// An entry as text for people: its examples are indented.
[[nodiscard]] std::string explain_text(const CatalogueEntry& entry);

}  // namespace rampart::cli
