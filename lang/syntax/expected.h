#pragma once

#include <cstdint>
#include <string_view>
#include <utility>
#include <vector>

// What the grammar takes at a place of a profile, for editors that complete and colour what people write. The parser
// itself says so: whatever it tries at that place.
namespace rampart {

enum class Wanted : std::uint8_t {
  Keyword,
  Operator,
  NewName,  // of what is being declared
  Value,    // the name of a value, or of a rail in a condition
  Rail,
  Line,
  Sequence,
  Channel,
  TriggerLine,
  Unit,
  Figure,
  RailOrTotal,
  Cause,
  Fault,
  Finding,
  Measure,  // what a rail is asked for: current(R)
  Mark,
  BenchPath,
  LoadPath,
  ImportPath,
  ShapePath,  // of a waveform
  Text,       // any text
};

struct Expected {
  Wanted what{};
  std::string_view word;    // with Keyword and Operator
  std::uint32_t begin = 0;  // what is written there begins here
  std::uint32_t end = 0;    // and ends here: the word or text that the place lies in
  bool quoted = false;      // the place lies in a text, behind its quote

  friend bool operator==(const Expected&, const Expected&) = default;
};

// All that may stand at `offset` of a text but brackets, commas and signs, in the order in which the grammar tries it,
// each once. Nothing inside a comment, and in a text that is no profile.
[[nodiscard]] std::vector<Expected> expected_at(std::string_view text, std::uint32_t offset);

// The words of a text that the grammar reads as words of the language, by their offsets; some of them may turn out to
// be names. In the order of the text.
[[nodiscard]] std::vector<std::pair<std::uint32_t, std::uint32_t>> keywords_of(std::string_view text);

}  // namespace rampart
