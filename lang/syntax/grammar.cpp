// The one translation unit of Boost.Spirit X3: the productions stand in lang/syntax/grammar/, from words up to
// declarations.
#include "lang/findings/files.h"
#include "lang/syntax/grammar/declarations.h"
#include "lang/syntax/parse.h"
#include "lang/text/text_check.h"

namespace rampart {

ast::Profile parse(const SourceSet& sources, FileId id, FindingSink& findings) {
  const std::string_view text = sources[id].text();
  ast::Profile profile;
  profile.file = id;
  grammar::State state(id, text, findings);
  grammar::Iterator first = state.begin;
  if (text.size() > kMaxProfileBytes) {
    state.reporter.report(finding::FileTooLarge, first, first, "move parts of it into files that it imports",
                          std::int64_t{kMaxProfileBytes >> 10});
    return profile;
  }
  if (const std::optional<TextFault> fault = find_text_fault(text)) {
    state.reporter.report(finding::UnfitText, first + fault->begin, first + fault->end, fault->hint, fault->what);
    if (!fault->readable) return profile;
    first += fault->end;
    if (const std::optional<TextFault> next = find_text_fault(text.substr(fault->end))) {
      state.reporter.report(finding::UnfitText, first + next->begin, first + next->end, next->hint, next->what);
      return profile;
    }
  }
  grammar::x3::phrase_parse(first, state.end, grammar::file, grammar::Skipper(&state), profile);
  profile.file = id;
  profile.comments = std::move(state.comments);
  profile.literals = state.builder.take_literals();
  return profile;
}

}  // namespace rampart
