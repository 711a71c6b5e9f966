#include <vector>

#include "compiler/resolve/work.h"
#include "lang/findings/resolve.h"

namespace rampart::resolving {

std::optional<std::string> reached_mark(Work& work, const ast::Label& label) {
  std::optional<std::string> name = work.evaluator.text(label, work.top());
  if (!name || work.marks.contains(*name)) return name;
  // The mark may stand in what could not be read or expanded, which has been reported.
  const bool is_elsewhere = work.reporter.failed() && (work.has_unknown_marks || work.unreached_marks.contains(*name));
  if (is_elsewhere || !work.options.parsed_whole) {
    work.reporter.fail();
    return std::nullopt;
  }
  const std::vector<std::string> names(work.marks.begin(), work.marks.end());
  FindingSink::Addition addition = work.reporter.report(finding::UnknownMark, label.text.span, *name);
  const std::string nearest = nearest_name(*name, names);
  if (!nearest.empty()) addition.hint("did you mean `" + nearest + "`?", "\"" + nearest + "\"");
  return std::nullopt;
}

}  // namespace rampart::resolving
