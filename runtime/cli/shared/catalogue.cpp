#include "runtime/cli/shared/catalogue.h"

#include <algorithm>

namespace rampart::cli {
namespace {

constexpr std::string_view kWrongHeading = "\n## Wrong\n";
constexpr std::string_view kRightHeading = "\n## Right\n";
constexpr std::string_view kFence = "```";

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of('\n');
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of('\n') + 1 - first);
}

// The first line, which is taken away from `text`.
std::string_view take_line(std::string_view& text) {
  const std::size_t end = text.find('\n');
  const std::string_view line = text.substr(0, end);
  text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  return line;
}

// The fenced blocks of a section; the second word behind a fence names the file.
std::vector<ExampleFile> example_files(std::string_view section) {
  std::vector<ExampleFile> files;
  bool inside = false;
  while (!section.empty()) {
    const std::string_view line = take_line(section);
    if (line.starts_with(kFence)) {
      inside = !inside;
      if (!inside) continue;
      const std::size_t blank = line.find(' ');
      files.push_back({blank == std::string_view::npos ? "" : std::string(line.substr(blank + 1)), ""});
    } else if (inside) {
      files.back().text += std::string(line) + "\n";
    }
  }
  return files;
}

void read_page(std::string_view page, CatalogueEntry& entry) {
  const std::size_t wrong = std::min(page.find(kWrongHeading), page.size());
  const std::size_t right = std::min(page.find(kRightHeading, wrong), page.size());
  std::string_view text = page.substr(0, wrong);
  take_line(text);
  entry.summary = take_line(text);
  entry.why = trimmed(text);
  entry.wrong = example_files(page.substr(wrong, right - wrong));
  entry.right = example_files(page.substr(right));
}

std::vector<CatalogueEntry> read_catalogue() {
  std::vector<CatalogueEntry> entries;
  for (const Wording& wording : finding_registry()) {
    auto entry = std::find_if(entries.begin(), entries.end(),
                              [&wording](const CatalogueEntry& known) { return known.name == wording.name; });
    if (entry == entries.end()) {
      entries.push_back({std::string(wording.name), wording.family, {}, "", "", {}, {}});
      entry = entries.end() - 1;
      for (const ExplainPage& page : explain_pages()) {
        if (page.name == wording.name) read_page(page.text, *entry);
      }
    }
    // What a name means in a profile comes first.
    entry->family = std::min(entry->family, wording.family);
    auto& severities = entry->severities;
    if (std::find(severities.begin(), severities.end(), wording.severity) == severities.end()) {
      severities.push_back(wording.severity);
      std::sort(severities.rbegin(), severities.rend());
    }
  }
  return entries;
}

void add_example(std::string& text, std::string_view title, const std::vector<ExampleFile>& files) {
  if (files.empty()) return;
  text += "\n" + std::string(title) + ":\n";
  for (const ExampleFile& file : files) {
    text += "\n";
    if (!file.name.empty()) text += "    # " + file.name + "\n";
    std::string_view rest = file.text;
    while (!rest.empty()) {
      const std::string_view line = take_line(rest);
      text += line.empty() ? "\n" : "    " + std::string(line) + "\n";
    }
  }
}

}  // namespace

std::string_view family_name(Family family) {
  switch (family) {
    case Family::Language:
      return "language";
    case Family::Files:
      return "files";
    case Family::Limits:
      return "limits";
    case Family::Practice:
      return "practice";
    case Family::Predicted:
      return "predicted";
  }
  return "";
}

const std::vector<CatalogueEntry>& catalogue() {
  static const std::vector<CatalogueEntry> kEntries = read_catalogue();
  return kEntries;
}

std::string explain_text(const CatalogueEntry& entry) {
  std::string text = entry.name + " (";
  for (const Severity severity : entry.severities) text += std::string(severity_name(severity)) + ", ";
  text += std::string(family_name(entry.family)) + ")\n" + entry.summary + "\n\n" + entry.why + "\n";
  add_example(text, "wrong", entry.wrong);
  add_example(text, "right", entry.right);
  return text;
}

}  // namespace rampart::cli
