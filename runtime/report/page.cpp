#include "runtime/report/page.h"

#include "compiler/export/sha256.h"
#include "runtime/report/assets.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

// Nothing but the page's own script and style, and no request at all (W3C, Content Security Policy Level 3).
std::string policy() {
  return "default-src 'none'; script-src 'sha256-" + base64_of_hex(sha256_of(page_script())) +
         "'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
}

Markup contents(const Subject& subject) {
  Markup links;
  const auto add = [&](std::string_view id, std::string_view words) {
    links += element("a", {{"href", "#" + std::string(id)}}, text(words));
  };
  add("verdict", "Verdict");
  if (subject.as_run() != nullptr) add("as-run", "As run");
  add("findings", "Findings");
  add("wiring", "Wiring");
  if (subject.answer.predictions.waveforms) add("charts", "Charts");
  add("margins", "Margins");
  if (subject.simulation != nullptr && !subject.simulation->readings.empty()) add("readings", "Readings");
  if (subject.simulation != nullptr) add("energy", "Energy");
  if (subject.answer.predictions.corners) add("corners", "Corners");
  if (subject.details.sweep) add("sweep", "Sweep");
  add("cautions", "Cautions");
  if (subject.answer.predictions.every_fault) add("faults", "Faults");
  add("table", "Table");
  add("sign-off", "Sign-off");
  add("origin", "Origin");
  add("source", "Source");
  return element("nav", {{"aria-label", "Contents"}}, links);
}

// What this is a report of.
Markup identity(const Subject& subject) {
  Markup words = element("p", name(subject.answer.path));
  const auto add = [&](std::string_view what, const std::string& value) {
    if (!value.empty()) words += element("p", text(what) + text(": ") + name(value));
  };
  add("Revision", subject.details.revision);
  add("Device", subject.details.device);
  return words;
}

Markup head(const std::string& title) {
  Markup inside = verbatim("<meta charset=\"utf-8\">\n") +
                  verbatim("<meta http-equiv=\"Content-Security-Policy\" content=\"" + policy() + "\">\n") +
                  verbatim("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n") +
                  verbatim("<meta name=\"color-scheme\" content=\"light dark\">\n");
  inside += element("title", text(title)) + verbatim("<style>") + verbatim(page_style()) + verbatim("</style>");
  return element("head", inside);
}

Markup body(const Subject& subject, const std::string& title) {
  const Markup banner = element("header", element("h1", name(title)) + identity(subject) + contents(subject));
  Markup main = verdict_section(subject) + as_run_section(subject) + findings_section(subject) +
                wiring_section(subject) + charts_section(subject) + margins_section(subject) +
                readings_section(subject) + figures_section(subject) + corners_section(subject) +
                sweep_section(subject) + faults_section(subject) + cautions_section(subject) + table_section(subject) +
                sign_off_section(subject) + origin_section(subject) + source_section(subject);
  Markup inside = banner + element("main", main);
  if (subject.answer.predictions.waveforms) {
    inside += verbatim("<script type=\"application/json\" id=\"data\">" + chart_data(subject) + "</script>\n");
    inside += verbatim("<script>") + verbatim(page_script()) + verbatim("</script>\n");
  }
  return element("body", inside);
}

}  // namespace

Markup section(std::string_view id, std::string_view heading, const Markup& inside) {
  const std::string heading_id = std::string(id) + "-heading";
  return element("section", {{"id", std::string(id)}, {"aria-labelledby", heading_id}},
                 element("h2", {{"id", heading_id}}, text(heading)) + inside) +
         verbatim("\n");
}

std::string report_page(const Answer& answer, const PageDetails& details, const as_run::Evaluated* as_run) {
  const Subject subject(answer, details, as_run);
  const std::string title = subject.profile.title.empty() ? answer.path : subject.profile.title;
  const Markup page = element("html", {{"lang", "en"}}, head(title) + verbatim("\n") + body(subject, title));
  return "<!DOCTYPE html>\n" + page.html() + "\n";
}

}  // namespace rampart::report
