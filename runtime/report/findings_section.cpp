#include <algorithm>
#include <vector>

#include "lang/text/excerpt.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

// More of them say no more, and all are on the command line.
constexpr std::size_t kMaxFindings = 200;

// The gravest first, and what is predicted of the device before what is good practice.
int rank_of(const Finding& finding) {
  const int severity = finding.accepted ? -1 : static_cast<int>(finding.severity);
  return -2 * severity + (finding.family == Family::Predicted ? 0 : 1);
}

Markup source_of(const Subject& subject, const Span& span) {
  const std::string shown = excerpt(subject.answer.findings.texts(), span);
  return shown.empty() ? Markup() : element("pre", {{"tabindex", "0"}}, text(shown));
}

Markup place(const Subject& subject, const Span& span) {
  const Markup line = subject.line_of(span);
  return line.empty() ? Markup() : text(" (") + line + text(")");
}

Markup article(const Subject& subject, const Finding& finding) {
  Markup inside =
      element("h3", severity_badge(finding) + text(" ") + message(finding.message) + place(subject, finding.span));
  inside += element("p", {{"class", "name"}}, element("code", text(finding.name)));
  inside += source_of(subject, finding.span);
  for (const FindingNote& note : finding.notes) {
    inside += element("p", text("note: ") + message(note.message) + place(subject, note.span)) +
              source_of(subject, note.span);
  }
  if (!finding.hint.empty()) inside += element("p", element("strong", text("hint: ")) + message(finding.hint));
  if (finding.accepted) {
    inside += element("p", element("strong", text("accepted by the profile: ")) + name(*finding.accepted));
  }
  return element("article", {{"class", "finding"}}, inside);
}

}  // namespace

Markup severity_badge(const Finding& finding) {
  const std::string word = finding.accepted ? "accepted" : std::string(severity_name(finding.severity));
  return element("span", {{"class", "badge " + word}}, text(word));
}

Markup findings_section(const Subject& subject) {
  std::vector<const Finding*> findings;
  for (const Finding& finding : subject.answer.findings.findings()) findings.push_back(&finding);
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding* a, const Finding* b) { return rank_of(*a) < rank_of(*b); });
  Markup inside;
  if (subject.simulation != nullptr && (subject.simulation->fault || subject.simulation->asserted)) {
    inside += element(
        "p", text("The findings are those of the run without the fault or interlock that this report shows, unless "
                  "they say otherwise."));
  }
  if (findings.empty()) inside += element("p", text("No errors or warnings."));
  for (std::size_t i = 0; i < findings.size() && i < kMaxFindings; ++i) inside += article(subject, *findings[i]);
  if (findings.size() > kMaxFindings) {
    inside += element(
        "p", text("… and " + std::to_string(findings.size() - kMaxFindings) + " more; `rampart check` lists them"));
  }
  return section("findings", "Findings", inside);
}

}  // namespace rampart::report
