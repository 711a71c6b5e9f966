#include <algorithm>

#include "runtime/predict/origin.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

bool has_finding(const Subject& subject, std::string_view name) {
  const auto& findings = subject.answer.findings.findings();
  return std::any_of(findings.begin(), findings.end(), [name](const Finding& finding) { return finding.name == name; });
}

Markup file_row(std::string_view what, const OriginFile& file) {
  return element("tr", element("th", {{"scope", "row"}}, text(what)) + element("td", name(file.name)) +
                           element("td", element("code", text(file.sha256))));
}

Markup parameters(const Origin& origin) {
  Markup list;
  for (const OriginParameter& parameter : origin.parameters) {
    list += element("li", name(parameter.name) + text(" = " + to_text(parameter.value)) +
                              text(parameter.set ? " (set on the command line)" : ""));
  }
  return list.empty() ? Markup() : element("p", text("Parameters:")) + element("ul", list);
}

Markup assumed(const Subject& subject) {
  if (subject.simulation == nullptr || subject.simulation->assumed.empty()) return {};
  Markup list;
  for (const Assumption& one : subject.simulation->assumed) list += element("li", message(assumption_text(one)));
  return element("h3", text("Assumed ideal (not in the bench or load file)")) + element("ul", list);
}

}  // namespace

Markup cautions_section(const Subject& subject) {
  Markup list;
  const auto add = [&](std::string_view strong, std::string_view words) {
    list += element("li", element("strong", text(strong)) + text(" ") + text(words));
  };
  if (has_finding(subject, "touch-voltage")) {
    add("Above 60 V DC.",
        "Touching a conductor can hurt or kill. Only qualified people may run this test, with nothing bare in reach. "
        "Local rules apply.");
  }
  if (has_finding(subject, "left-charged")) {
    add("A rail stays charged.", "A capacitor stays charged after the output is off. Measure before you touch.");
  }
  if (has_finding(subject, "unattended")) {
    add("The run is unattended.",
        "It lasts longer than someone is likely to be present. Set limits and fuses on every rail. Provide fire "
        "detection, a way to cut the mains, a responsible person, and whatever else local rules require.");
  }
  add("This is not an emergency stop.",
      "Only hardware ends a hazard at once: a switch within reach, an interlock, a fuse.");
  add("A simulation knows what the load file says,",
      "not what is on the bench. Check the wiring with the outputs off, and start at a current limit that the device "
      "survives.");
  const auto has_fuse = [](const Rail& rail) { return rail.protection.fuse.has_value(); };
  if (std::any_of(subject.profile.rails.begin(), subject.profile.rails.end(), has_fuse)) {
    add("A fuse is assumed to start counting again",
        "after the shortest break of its condition. A real one that adds up such times trips sooner.");
  }
  if (subject.simulation != nullptr && !subject.answer.predictions.corners) {
    add("All values are nominal here.", "A report with --corners shows the effect of tolerances and accuracies.");
  }
  return section("cautions", "Cautions", element("ul", list) + assumed(subject));
}

Markup origin_section(const Subject& subject) {
  const Origin origin = origin_of(subject.answer.compiled, subject.answer.predictions.load.get());
  Markup rows = file_row("profile", origin.profile);
  for (const OriginFile& import : origin.imports) rows += file_row("import", import);
  for (const OriginFile& waveform : origin.waveforms) rows += file_row("waveform", waveform);
  if (origin.bench) rows += file_row("bench", *origin.bench);
  if (origin.load) rows += file_row("load", *origin.load);
  const Markup head =
      element("tr", element("th", {{"scope", "col"}}, text("role")) + element("th", {{"scope", "col"}}, text("file")) +
                        element("th", {{"scope", "col"}}, text("SHA-256")));
  const Markup table = element("table", {{"class", "origin"}},
                               element("caption", element("span", text("What this report was made from"))) +
                                   element("thead", head) + element("tbody", rows));
  const Markup wide =
      element("div", {{"class", "wide"}, {"tabindex", "0"}, {"role", "group"}, {"aria-label", "Origin"}}, table);
  return section(
      "origin", "Origin",
      wide + parameters(origin) +
          element("p", text("Written by rampart " + origin.version +
                            ". The report contains no time of day, so the same input gives the same bytes.")));
}

}  // namespace rampart::report
