#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace rampart {

// One of so many shares of a piece of work, from 1.
struct Part {
  std::int64_t number = 1;
  std::int64_t of = 1;
};

// "3/40". None where it is no such part.
[[nodiscard]] std::optional<Part> read_part(std::string_view text);
[[nodiscard]] std::string part_text(const Part& part);
// The things of this part out of `count` in their order: the first, and the one after the last.
[[nodiscard]] std::pair<std::size_t, std::size_t> share_of(const Part& part, std::size_t count);

// What was found out, by its name in the work.
using Results = std::map<std::string, std::string, std::less<>>;

// What one machine gives to the others. `asked` is what the work was: of all parts the same, line by line.
struct PartFile {
  Part part;
  std::vector<std::string> asked;
  Results results;
};

[[nodiscard]] std::string part_document(const PartFile& file);

// A file with its text.
struct NamedText {
  std::string name;
  std::string text;
};
// Of a piece of work: the part to do alone, or the files of parts that were done.
struct Sharing {
  std::optional<Part> part;
  std::vector<NamedText> join;
};
// A file that is no part, or not of this work; or parts that are not all there.
struct PartMistake {
  std::string what;
};
// All that the parts have found out. They have to be of this work, and each of them there once. Throws PartMistake.
[[nodiscard]] Results join_parts(const std::vector<NamedText>& files, const std::vector<std::string>& asked);

}  // namespace rampart
