#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "runtime/predict/answer.h"

namespace rampart::cli {

class Command;

// What the program answers to its caller.
using ExitCode = int;
inline constexpr ExitCode kDone = 0;         // nothing at error level
inline constexpr ExitCode kFoundErrors = 1;  // findings at error level
inline constexpr ExitCode kCouldNotRun = 2;  // bad usage, an unreadable file, a full disk
inline constexpr ExitCode kMayBeOn = 3;      // an output of a real supply may still be on

enum class Format { Text, Json, Sarif };

// What a profile is compiled with in place of what it says itself: --bench, --load and --set.
struct InputOptions {
  std::string bench;  // empty: the profile's
  std::string load;
  std::vector<std::string> settings;

  [[nodiscard]] CompileOptions compile_options() const;
};

// The options that several commands share.
struct CommonOptions : InputOptions {
  Format format = Format::Text;
  bool strict = false;   // warnings count as errors
  bool corners = false;  // try the ends of all tolerances

  [[nodiscard]] PredictOptions predict_options() const;
};

// Which run is shown, and whether faults are tried all over it.
struct RunChoice {
  std::string fault;        // of the load; empty: none
  std::string assert_line;  // LINE=TIME; empty: no interlock acts
  bool every_fault = false;

  void put_into(PredictOptions& options) const;
};

// Whether an option holds for one profile or for two that are compared.
enum class Whose : std::uint8_t { OneProfile, TwoProfiles };
void add_input_options(Command& command, InputOptions& options, Whose whose = Whose::OneProfile);

// The share of one machine among several, or the files of all shares.
struct PartChoice {
  std::string part;               // "3/40"; empty: all
  std::vector<std::string> join;  // files that --part has written

  // Reads the files. Throws UsageError.
  [[nodiscard]] Sharing sharing() const;
};

// --format and --strict alone.
void add_format_options(Command& command, Format& format, bool& strict);
void add_common_options(Command& command, CommonOptions& options);
void add_run_choice(Command& command, RunChoice& choice);
void add_part_choice(Command& command, PartChoice& choice);

using Answers = std::vector<Answer>;

// With the files of the disk, showing on a terminal how far long work has come.
[[nodiscard]] Answer answer_from_disk(const std::string& path, const CompileOptions& compile_options,
                                      const PredictOptions& predict_options);
[[nodiscard]] Answers answer_all(const std::vector<std::string>& paths, const CommonOptions& options);

// The worst of all profiles.
[[nodiscard]] int exit_code(const Answers& answers, bool strict);

// Findings as text on standard error, with a last line that counts them. What a profile accepts is counted alone,
// unless `accepted` asks for it.
void print_findings(const Answers& answers, bool accepted);
// Writes a line to standard error. What a terminal would obey is replaced, as in all that these write but print().
void say(const std::string& line);
// Says why a file could not be read or written, or standard output where the path is `-`.
void say_failure(const std::string& path, const std::string& why);
// Writes a document to standard output, byte for byte. False, after a message, if it could not all be written.
[[nodiscard]] bool print(const std::string& text);
// The same for text that people read.
[[nodiscard]] bool print_lines(const std::string& text);

}  // namespace rampart::cli
