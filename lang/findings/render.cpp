#include "lang/findings/render.h"

#include "lang/text/character.h"
#include "lang/text/excerpt.h"

namespace rampart {
namespace {

std::string place(const SourceSet& sources, const Span& span) {
  const SourceFile& file = sources[span.file];
  if (file.text().empty()) return file.name() + ": ";
  const Position position = file.position(span.begin);
  return file.name() + ":" + std::to_string(position.line) + ":" + std::to_string(position.column) + ": ";
}

std::string painted(std::string_view text, std::string_view code, bool colour) {
  if (!colour) return std::string(text);
  return "\x1b[" + std::string(code) + "m" + std::string(text) + "\x1b[0m";
}

std::string_view colour_code(Severity severity) {
  switch (severity) {
    case Severity::Error:
      return "1;31";
    case Severity::Warning:
      return "1;35";
    case Severity::Note:
      return "1;36";
  }
  return "1";
}

}  // namespace

std::string render_line(const Finding& finding, const SourceSet& sources, bool colour) {
  std::string text = painted(visible_text(place(sources, finding.span)), "1", colour);
  text += painted(std::string(severity_name(finding.severity)) + ":", colour_code(finding.severity), colour);
  return text + " " + visible_text(finding.message) + " [" + std::string(finding.name) + "]\n";
}

std::string render_hint(const Finding& finding, bool colour) {
  return painted("hint:", "1", colour) + " " + visible_text(finding.hint) + "\n";
}

std::string render_text(const Finding& finding, const SourceSet& sources, bool colour) {
  std::string text = render_line(finding, sources, colour) + excerpt(sources, finding.span);
  for (const FindingNote& note : finding.notes) {
    text += painted(visible_text(place(sources, note.span)), "1", colour) +
            painted("note:", colour_code(Severity::Note), colour) + " " + visible_text(note.message) + "\n";
    text += excerpt(sources, note.span);
  }
  return finding.hint.empty() ? text : text + render_hint(finding, colour);
}

}  // namespace rampart
