#include "lang/syntax/scanner.h"

#include <algorithm>
#include <array>
#include <cstring>

#include "lang/text/word_table.h"
#include "lang/values/unit.h"

namespace rampart::scan {

namespace {

constexpr std::string_view kVerbs[] = {"await", "do",      "dwell", "for",      "limit", "lower",
                                       "mark",  "measure", "off",   "on",       "pulse", "raise",
                                       "ramp",  "repeat",  "step",  "together", "track", "waveform"};
constexpr std::string_view kReservedBesides[] = {"abs",  "after", "and",   "at",   "before", "by",
                                                 "from", "in",    "max",   "min",  "not",    "or",
                                                 "over", "to",    "while", "with", "within"};
constexpr std::string_view kDeclarationWords[] = {"accept", "bench", "expect", "import",  "let",
                                                  "line",   "load",  "param",  "profile", "protect",
                                                  "rail",   "rule",  "run",    "safe",    "sequence"};
constexpr std::string_view kSettingWords[] = {"ceiling", "fuse", "overpower", "overvoltage"};
constexpr std::string_view kJoiners[] = {"!=", "*",   "+",  ",",    "-",  "..",    "/",     "<",
                                         "<=", "=",   "==", ">",    ">=", "after", "and",   "before",
                                         "by", "not", "or", "over", "to", "while", "within"};
// Words that may follow a number without being its unit, although they may be names elsewhere.
constexpr std::string_view kFollowNumbers[] = {"assume", "linked", "under"};

// What the language makes of a word.
enum Role : unsigned { Verb = 1, Reserved = 2, DeclarationWord = 4, Joiner = 8, FollowsNumber = 16 };

template <std::size_t kSize>
constexpr unsigned role_in(const std::string_view (&list)[kSize], std::string_view word, unsigned role) {
  return std::find(std::begin(list), std::end(list), word) != std::end(list) ? role : 0U;
}

constexpr unsigned all_roles(std::string_view word) {
  return role_in(kVerbs, word, Verb | Reserved) | role_in(kReservedBesides, word, Reserved) |
         role_in(kDeclarationWords, word, DeclarationWord) | role_in(kJoiners, word, Joiner) |
         role_in(kFollowNumbers, word, FollowsNumber);
}

constexpr auto kRoles = [] {
  WordTable<unsigned, 256> table;
  const auto add = [&table](const auto& list) {
    for (const std::string_view word : list) table.add(word, all_roles(word));
  };
  add(kVerbs);
  add(kReservedBesides);
  add(kDeclarationWords);
  add(kJoiners);
  add(kFollowNumbers);
  return table;
}();

bool has_role(std::string_view word, Role role) {
  const unsigned* roles = kRoles.find(word);
  return roles != nullptr && (*roles & role) != 0;
}

std::string_view view(const char* begin, const char* end) {
  return {begin, static_cast<std::size_t>(end - begin)};
}

// What stands where a unit may: `%`, or letters of any alphabet with digits behind.
std::string_view unit_word_at(const char* at, const char* end) {
  if (at != end && *at == '%') return view(at, at + 1);
  if (at == end || !(is_word_start(*at) || is_wide(*at)) || is_odd_space(view(at, end))) return {};
  const char* stop = at;
  while (stop != end && (is_word_part(*stop) || is_wide(*stop))) ++stop;
  return view(at, stop);
}

}  // namespace

bool is_odd_space(std::string_view text) {
  constexpr std::string_view kOddSpaces[] = {"\u00A0", "\u202F", "\u2009", "\u2007", "\u3000"};
  return std::any_of(std::begin(kOddSpaces), std::end(kOddSpaces),
                     [text](std::string_view space) { return text.starts_with(space); });
}

bool first_of_line(const char* begin, const char* at) {
  while (at != begin && is_blank(at[-1])) --at;
  return at == begin || at[-1] == '\n';
}

std::size_t indentation(const char* begin, const char* at) {
  while (at != begin && at[-1] != '\n') --at;
  std::size_t blanks = 0;
  while (is_blank(at[blanks])) ++blanks;
  return blanks;
}

std::string_view word_at(const char* at, const char* end) {
  if (at == end || !is_word_start(*at)) return {};
  const char* stop = at + 1;
  while (stop != end && is_word_part(*stop)) ++stop;
  return view(at, stop);
}

const char* comment_end(const char* at, const char* end) {
  const void* found = std::memchr(at, '\n', static_cast<std::size_t>(end - at));
  const char* stop = found == nullptr ? end : static_cast<const char*>(found);
  return stop != at && stop[-1] == '\r' ? stop - 1 : stop;
}

bool is_verb(std::string_view word) {
  return has_role(word, Verb);
}

bool is_reserved(std::string_view word) {
  return has_role(word, Reserved);
}

bool is_declaration_word(std::string_view word) {
  return has_role(word, DeclarationWord);
}

bool is_setting_word(std::string_view word) {
  return std::find(std::begin(kSettingWords), std::end(kSettingWords), word) != std::end(kSettingWords);
}

bool joins_lines(std::string_view token) {
  return has_role(token, Joiner);
}

Number number_at(const char* at, const char* end) {
  Number number;
  const char* stop = at;
  while (stop != end && is_digit(*stop)) ++stop;
  if (stop != end && *stop == '.') {
    const bool digit_behind = stop + 1 != end && is_digit(stop[1]);
    const bool range = stop + 1 != end && stop[1] == '.';
    number.bare_point = !digit_behind && !range;
    if (digit_behind) {
      ++stop;
      while (stop != end && is_digit(*stop)) ++stop;
    }
  }
  number.digits = view(at, stop);
  number.end = stop;
  if (number.bare_point) number.end = ++stop;
  while (stop != end && is_blank(*stop)) ++stop;
  const std::string_view word = unit_word_at(stop, end);
  if (word.empty()) return number;
  if (longest_unit_prefix(word) != word.size()) {
    if (!number.bare_point && !is_reserved(word) && !has_role(word, FollowsNumber)) {
      number.wrong_unit = word;
      number.end = word.data() + word.size();
    }
    return number;
  }
  number.end = word.data() + word.size();
  if (number.end != end && *number.end == '/') {
    const std::string_view below = unit_word_at(number.end + 1, end);
    if (!below.empty() && longest_unit_prefix(below) == below.size()) number.end = below.data() + below.size();
  }
  number.unit = view(word.data(), number.end);
  return number;
}

Token token_at(const char* at, const char* end) {
  while (at != end && is_blank(*at)) ++at;
  if (at == end) return {TokenKind::End, view(end, end)};
  if (*at == '\n') return {TokenKind::LineEnd, view(at, at + 1)};
  if (*at == '#') return {TokenKind::Comment, view(at, comment_end(at, end))};
  if (is_word_start(*at)) return {TokenKind::Word, word_at(at, end)};
  if (is_digit(*at)) return {TokenKind::Number, view(at, number_at(at, end).end)};
  const char* stop = at + 1;
  if (*at == '"') {
    while (stop != end && *stop != '"' && *stop != '\n')
      stop += *stop == '\\' && stop + 1 != end && stop[1] != '\n' ? 2 : 1;
    if (stop != end && *stop == '"') ++stop;
    return {TokenKind::Text, view(at, stop)};
  }
  if (is_wide(*at)) {
    while (stop != end && (static_cast<unsigned char>(*stop) & 0xC0U) == 0x80U) ++stop;
    return {TokenKind::Symbol, view(at, stop)};
  }
  const bool twice =
      stop != end && ((*stop == '=' && std::strchr("<>=!", *at) != nullptr) || (*at == '.' && *stop == '.'));
  return {TokenKind::Symbol, view(at, twice ? stop + 1 : stop)};
}

}  // namespace rampart::scan
