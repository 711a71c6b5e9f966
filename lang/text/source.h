#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace rampart {

// A text, among all that the program has read since it began. 0 is none.
enum class FileId : std::uint32_t {};

// A stretch of one source file: byte offsets, end exclusive.
struct Span {
  FileId file{};
  std::uint32_t begin = 0;
  std::uint32_t end = 0;

  friend bool operator==(const Span&, const Span&) = default;
};

// From the start of the first to the end of the second; both in one file.
[[nodiscard]] Span join(const Span& first, const Span& last);

// A place as people count it: from 1, columns in code points.
struct Position {
  std::uint32_t line = 1;
  std::uint32_t column = 1;
};

// One text as it was read, with its lines found once. It never changes, and views into it stay valid as long as it
// lives. Each has an id of its own, so that a span says all by itself where it stands.
class SourceFile {
 public:
  // `first_line`: the number of the text's first line, where it is part of a larger file.
  SourceFile(std::string name, std::string text, std::uint32_t first_line = 1);
  SourceFile(const SourceFile&) = delete;
  SourceFile& operator=(const SourceFile&) = delete;

  [[nodiscard]] FileId id() const { return id_; }
  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] std::string_view text() const { return text_; }
  [[nodiscard]] Position position(std::uint32_t offset) const;
  // The text of line `number` (from the first line's) without its line end.
  [[nodiscard]] std::string_view line(std::uint32_t number) const;
  [[nodiscard]] std::uint32_t line_count() const { return static_cast<std::uint32_t>(line_starts_.size()); }

 private:
  FileId id_;
  std::string name_;
  std::string text_;
  std::uint32_t first_line_;
  // The code points before `offset`.
  [[nodiscard]] std::uint32_t code_points_before(std::uint32_t offset) const;

  std::vector<std::uint32_t> line_starts_;
  std::vector<std::uint32_t>
      code_points_;  // before each block of the text, so that a column costs no walk over its line
};

using TextPtr = std::shared_ptr<const SourceFile>;
[[nodiscard]] TextPtr make_text(std::string name, std::string text, std::uint32_t first_line = 1);

// The texts of one run, in the order in which they were read. They are shared: a copy costs no more than the list.
class SourceSet {
 public:
  // A text that is there already stays where it is.
  FileId add(TextPtr text);
  // `name` is shown in findings as it is given here.
  FileId add(std::string name, std::string text, std::uint32_t first_line = 1);
  void add_all(const SourceSet& others);

  // The text has been added. What concerns no text by itself concerns the first: 0 is that one here.
  [[nodiscard]] const SourceFile& operator[](FileId file) const;
  [[nodiscard]] std::string_view text(const Span& span) const;
  [[nodiscard]] const std::vector<TextPtr>& texts() const { return texts_; }
  // The place in texts(); how many there are for a text that was not added.
  [[nodiscard]] std::size_t place_of(FileId file) const;

 private:
  std::vector<TextPtr> texts_;
  std::vector<std::pair<FileId, std::size_t>> places_;  // sorted
};

}  // namespace rampart
