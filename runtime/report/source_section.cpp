#include <algorithm>

#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

constexpr std::uint32_t kMaxLines = 5'000;  // of one file
constexpr std::size_t kMaxLineBytes = 2'000;

Markup finding_line(const Finding& finding) {
  return element("span", {{"class", "inline"}}, severity_badge(finding) + text(" ") + message(finding.message));
}

// A line may be as long as its file.
std::string shortened(std::string_view line) {
  if (line.size() <= kMaxLineBytes) return std::string(line);
  std::size_t end = kMaxLineBytes;
  while (end > 0 && (static_cast<unsigned char>(line[end]) & 0xC0U) == 0x80U) --end;
  return std::string(line.substr(0, end)) + "…";
}

Markup listing(const Subject& subject, FileId id) {
  const SourceFile& file = subject.answer.findings.texts()[id];
  std::vector<const Finding*> findings;
  for (const Finding& finding : subject.answer.findings.findings()) {
    if (finding.span.file == id) findings.push_back(&finding);
  }
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding* a, const Finding* b) { return a->span.begin < b->span.begin; });
  auto next = findings.begin();
  Markup lines;
  const std::uint32_t count = std::min(file.line_count(), kMaxLines);
  for (std::uint32_t number = 1; number <= count; ++number) {
    const std::string id_text = subject.line_id(id, number);
    const Markup anchor = element("a", {{"class", "n"}, {"href", "#" + id_text}}, text(std::to_string(number)));
    Markup row = anchor + element("code", {{"dir", "ltr"}}, text(shortened(file.line(number))));
    for (; next != findings.end() && subject.line_number((*next)->span) <= number; ++next) row += finding_line(**next);
    lines += element("li", {{"id", id_text}}, row) + verbatim("\n");
  }
  Markup result = element("ol", {{"class", "listing"}}, lines);
  if (file.line_count() > count) {
    result += element("p", text("… and " + std::to_string(file.line_count() - count) + " more lines"));
  }
  return result;
}

}  // namespace

Markup source_section(const Subject& subject) {
  Markup inside;
  for (const FileId id : subject.listed) {
    const bool is_profile = id == subject.listed.front();
    const Markup summary = element("summary", name(subject.answer.findings.texts()[id].name()));
    inside += is_profile ? element("details", {{"open", ""}}, summary + listing(subject, id))
                         : element("details", summary + listing(subject, id));
  }
  return section("source", "Source", inside);
}

}  // namespace rampart::report
