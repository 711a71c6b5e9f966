#include "lang/files/read_text.h"

#include "lang/findings/files.h"

namespace rampart {

TextPtr read_text(Files& files, const NamedPath& named, FindingSink& findings) {
  std::string why;
  TextPtr text = files.read(named.path, why);
  if (text != nullptr) {
    findings.texts().add(text);
  } else {
    report_unreadable(named, why, findings);
  }
  return text;
}

void report_unreadable(const NamedPath& named, const std::string& why, FindingSink& findings) {
  const std::string name = named.path == "-" ? kStandardInput : named.path;
  const Span place = named.place ? *named.place : Span{findings.texts().add(name, ""), 0, 0};
  findings.report(finding::Unreadable, place, name, why);
}

}  // namespace rampart
