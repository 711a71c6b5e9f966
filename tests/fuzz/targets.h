#pragma once

#include <span>
#include <string_view>

// What the fuzzers run. Each target takes any bytes for what the program reads from outside, goes on as the program
// would, and ends the process with a message where something that must hold of every input does not.
namespace rampart::fuzz {

// A profile: the tree survives the formatter, and the formatter's text is its own formatting.
void profile(std::string_view text);
void bench(std::string_view text);
void load(std::string_view text);
void link(std::string_view text);
// Texts of several files, one after another, with a line of kCut between them. Those that are not there are a sample's.
// table, the record beside it, bench
void table(std::string_view texts);
// Of a table that has everything a template can ask for.
void table_template(std::string_view text);
// profile, bench, load, an import, the points of a waveform: what passes `check` passes `audit`.
void chain(std::string_view texts);
// log, its description
void log(std::string_view texts);
// Messages to the language server, a text each; all of them together also as the bytes of its input.
void messages(std::string_view texts);
// The file of a part of a sweep or of corners: its first results, a text each, and all of them as such a file.
void part(std::string_view texts);
// A table as `run` reads it, its bench, its link file.
void play(std::string_view texts);
// What an instrument answers.
void answer_lines(std::string_view bytes);

inline constexpr std::string_view kCut = "\n%%%%\n";

struct Target {
  std::string_view name;
  void (*run)(std::string_view input);
};
[[nodiscard]] std::span<const Target> targets();
// None by this name: null.
[[nodiscard]] const Target* find_target(std::string_view name);

}  // namespace rampart::fuzz
