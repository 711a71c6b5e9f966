#include "runtime/report/sections.h"

namespace rampart::report {

// Fields to fill in by hand where nothing was given; no names but those on the command line.
Markup sign_off_section(const Subject& subject) {
  HtmlTable identity("What was reviewed", {"field", "value"});
  const auto add = [&](std::string_view field, const std::string& value) {
    identity.add({text(field), value.empty() ? element("span", {{"class", "blank"}}, {}) : name(value)});
  };
  add("profile", subject.profile.title.empty() ? subject.answer.path : subject.profile.title);
  add("revision", subject.details.revision);
  add("device", subject.details.device);
  add("verdict of this report", verdict_word(subject.headline));
  if (const as_run::AsRun* as_run = subject.as_run()) {
    add("sequence, as run", std::string(as_run::verdict_word(as_run->sequence)));
    add("response, as run", std::string(as_run::verdict_word(as_run->response)));
  }
  HtmlTable signatures("Signatures", {"role", "name", "date", "signature"});
  const Markup blank = element("span", {{"class", "blank"}}, {});
  for (const std::string_view role : {"prepared", "reviewed", "approved"}) {
    signatures.add_row("signature", {text(role), blank, blank, blank});
  }
  return section("sign-off", "Sign-off", identity.markup() + signatures.markup());
}

}  // namespace rampart::report
