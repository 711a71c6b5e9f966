#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace rampart {

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

// One text file, with its lines found once. Views into its text stay valid as long as its SourceSet lives.
class SourceFile {
 public:
  // `first_line`: the number of the text's first line, where it is part of a larger file.
  SourceFile(std::string name, std::string text, std::uint32_t first_line = 1);

  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] std::string_view text() const { return text_; }
  [[nodiscard]] Position position(std::uint32_t offset) const;
  // The text of line `number` (from the first line's) without its line end.
  [[nodiscard]] std::string_view line(std::uint32_t number) const;
  [[nodiscard]] std::uint32_t line_count() const { return static_cast<std::uint32_t>(line_starts_.size()); }

 private:
  std::string name_;
  std::string text_;
  std::uint32_t first_line_;
  // The code points before `offset`.
  [[nodiscard]] std::uint32_t code_points_before(std::uint32_t offset) const;

  std::vector<std::uint32_t> line_starts_;
  std::vector<std::uint32_t>
      code_points_;  // before each block of the text, so that a column costs no walk over its line
};

// Every text of one run. Files are never removed, so spans and views stay valid.
class SourceSet {
 public:
  // `name` is shown in findings as it is given here.
  FileId add(std::string name, std::string text, std::uint32_t first_line = 1);
  [[nodiscard]] const SourceFile& operator[](FileId file) const;
  [[nodiscard]] std::string_view text(const Span& span) const;
  [[nodiscard]] std::size_t size() const { return files_.size(); }

 private:
  std::vector<std::unique_ptr<SourceFile>> files_;
};

// Larger files are refused: nothing that people review comes near it.
inline constexpr std::size_t kMaxFileBytes = std::size_t{64} << 20;

// A file's bytes, or why they could not be read ("no such file", "is a folder", "is larger than 64 MiB").
struct FileText {
  std::string text;
  std::string failure;  // empty when the file was read
};
// `path` "-" is standard input.
[[nodiscard]] FileText read_file(const std::string& path);

}  // namespace rampart
