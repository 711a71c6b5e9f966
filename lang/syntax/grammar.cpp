// The one translation unit of Boost.Spirit X3: the productions stand in lang/syntax/grammar/, from words up to
// declarations.
#include "lang/findings/files.h"
#include "lang/syntax/expected.h"
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
    state.reporter.report(finding::FileTooLarge, first, first, {"move parts of it into files that it imports"},
                          std::int64_t{kMaxProfileBytes >> 10});
    return profile;
  }
  if (const std::optional<TextFault> fault = find_text_fault(text)) {
    state.reporter.report(finding::UnfitText, first + fault->begin, first + fault->end, {fault->hint}, fault->what);
    if (!fault->readable) return profile;
    first += fault->end;
    if (const std::optional<TextFault> next = find_text_fault(text.substr(fault->end))) {
      state.reporter.report(finding::UnfitText, first + next->begin, first + next->end, {next->hint}, next->what);
      return profile;
    }
  }
  grammar::x3::phrase_parse(first, state.end, grammar::file, grammar::Skipper(&state), profile);
  profile.file = id;
  profile.comments = std::move(state.comments);
  profile.expressions = state.builder.take_store();
  return profile;
}

namespace {

// Reads a text for what its watch learns of it.
void watch(std::string_view text, grammar::Watch& by) {
  if (text.size() > kMaxProfileBytes) return;
  FindingSink findings;
  ast::Profile profile;
  grammar::State state(FileId{}, text, findings);
  state.watch_over(by);
  grammar::Iterator first = state.begin;
  grammar::x3::phrase_parse(first, state.end, grammar::file, grammar::Skipper(&state), profile);
}

// Begins nothing that the grammar knows.
constexpr char kNothing = '\x7F';

// Where what stands at a place ends: a text at its quote, a channel or the name of a finding behind its last part.
std::uint32_t end_of(const Expected& expected, std::string_view text, std::uint32_t end) {
  if (expected.quoted) {
    const std::size_t stop = text.find_first_of("\"\n", end);
    return static_cast<std::uint32_t>(stop == std::string_view::npos ? text.size() : stop);
  }
  const bool is_output = expected.what == Wanted::Channel || expected.what == Wanted::TriggerLine;
  const char inner = is_output ? '.' : '-';
  const bool goes_on = is_output || expected.what == Wanted::Finding;
  while (end < text.size() && (scan::is_word_part(text[end]) || (goes_on && text[end] == inner))) ++end;
  return end;
}

}  // namespace

std::vector<Expected> expected_at(std::string_view text, std::uint32_t offset) {
  if (offset > text.size() || text.size() > kMaxProfileBytes || find_text_fault(text)) return {};
  std::size_t begin = offset;
  while (begin > 0 && scan::is_word_part(text[begin - 1])) --begin;
  // Digits before a unit are no part of it.
  while (begin < offset && scan::is_digit(text[begin])) ++begin;
  std::size_t end = offset;
  while (end < text.size() && scan::is_word_part(text[end])) ++end;
  std::string open(text.substr(0, begin));
  open += kNothing;
  open += text.substr(end);
  grammar::Watch watching;
  watching.place = open.data() + begin;
  watch(open, watching);
  for (Expected& one : watching.expected) one.end = end_of(one, text, static_cast<std::uint32_t>(end));
  return watching.expected;
}

std::vector<std::pair<std::uint32_t, std::uint32_t>> keywords_of(std::string_view text) {
  grammar::Watch watching;
  if (!find_text_fault(text)) watch(text, watching);
  std::sort(watching.words.begin(), watching.words.end());
  watching.words.erase(std::unique(watching.words.begin(), watching.words.end()), watching.words.end());
  return watching.words;
}

}  // namespace rampart
