#pragma once

#include <cstddef>
#include <map>
#include <string>

#include "lang/files/file_stream.h"
#include "lang/text/source.h"

namespace rampart {

// Larger texts are refused: nothing that people review comes near it.
inline constexpr std::size_t kMaxFileBytes = std::size_t{64} << 20;

// What findings call the text that path `-` reads.
inline constexpr const char* kStandardInput = "standard input";

// Where profiles, benches, loads, templates and tables come from. Paths are as a user or a text writes them.
class Files {
 public:
  virtual ~Files() = default;

  // The whole text as it is now, named as findings are to call it. Null, and `why`, where it cannot be read ("no such
  // file", "is a folder", "is larger than 64 MiB").
  [[nodiscard]] virtual TextPtr read(const std::string& path, std::string& why) = 0;
  // To be read piece by piece, whatever its size. Null, and `why`, likewise.
  [[nodiscard]] virtual FileStream open(const std::string& path, std::string& why) = 0;
  // One spelling for all paths to a file, whether it is there or not.
  [[nodiscard]] virtual std::string canonical(const std::string& path) const = 0;

  [[nodiscard]] bool is_same(const std::string& a, const std::string& b) const { return canonical(a) == canonical(b); }
};

// The files of the disk; `-` is standard input.
class Disk : public Files {
 public:
  [[nodiscard]] TextPtr read(const std::string& path, std::string& why) override;
  [[nodiscard]] FileStream open(const std::string& path, std::string& why) override;
  [[nodiscard]] std::string canonical(const std::string& path) const override;
};

// Texts that stand in place of files: what an editor has not saved, or all the files that a test has. A text stays the
// same, its id with it, until it is held anew.
class HeldTexts : public Files {
 public:
  // Paths that nothing is held for are files of `below`.
  explicit HeldTexts(Files& below) : below_(&below) {}
  // There are no others.
  HeldTexts() = default;

  void hold(const std::string& path, std::string text);
  // The file is what it is below again.
  void release(const std::string& path);

  [[nodiscard]] TextPtr read(const std::string& path, std::string& why) override;
  [[nodiscard]] FileStream open(const std::string& path, std::string& why) override;
  [[nodiscard]] std::string canonical(const std::string& path) const override;

 private:
  Files* below_ = nullptr;
  std::map<std::string, TextPtr> held_;  // by canonical path
};

}  // namespace rampart
