#include "runtime/cli/commands/run_screens.h"

#include <poll.h>
#include <unistd.h>

#include "lang/text/character.h"
#include "runtime/cli/json/run_json.h"
#include "runtime/cli/text/run_text.h"

namespace rampart::cli {
namespace {

// Back to the first of the lines that stand there, and the rest of the screen empty (ECMA-48: CPL and ED).
std::string cleared(std::size_t lines) {
  return lines == 0 ? std::string() : "\x1b[" + std::to_string(lines) + "F\x1b[J";
}

}  // namespace

TextScreen::TextScreen() : is_terminal_(isatty(STDOUT_FILENO) != 0) {}

void TextScreen::begin() {
  output_ = std::make_unique<BackgroundOutput>();
}

void TextScreen::put(const std::string& text) {
  if (!output_) return;
  const std::string line_end = is_line_open_ && !text.empty() ? "\n" : "";
  output_->write(cleared(shown_lines_) + line_end + visible_lines(text));
  shown_lines_ = 0;
  is_line_open_ = false;
}

void TextScreen::note(const std::string& line) {
  put(line + "\n");
}

void TextScreen::log(const bench_run::LogRow& row) {
  if (const std::string text = event_text(row); !text.empty()) put(text);
}

void TextScreen::status(const bench_run::RunStatus& status) {
  // What someone types would be written over.
  if (!is_terminal_ || is_asking_ || !output_) return;
  std::string text = cleared(shown_lines_);
  const std::vector<std::string> lines = status_text(status);
  for (const std::string& line : lines) text += visible_text(line) + "\n";
  output_->write(text);
  shown_lines_ = lines.size();
}

bool TextScreen::is_there() const {
  return is_terminal_ && isatty(STDIN_FILENO) != 0;
}

void TextScreen::ask(const std::string& question) {
  // What was typed before answers another question.
  do {
    typed_.clear();
    read_typed();
  } while (!typed_.empty());
  is_ended_ = false;
  is_asking_ = true;
  put(question);
  is_line_open_ = true;
}

void TextScreen::read_typed() {
  pollfd one{STDIN_FILENO, POLLIN, 0};
  while (typed_.find('\n') == std::string::npos && poll(&one, 1, 0) > 0) {
    char piece[256];
    const ssize_t got = read(STDIN_FILENO, piece, sizeof piece);
    is_ended_ = got <= 0;
    if (is_ended_) return;
    typed_.append(piece, static_cast<std::size_t>(got));
  }
}

std::optional<bool> TextScreen::answer() {
  if (!is_asking_) return std::nullopt;
  read_typed();
  const std::size_t end = typed_.find('\n');
  if (end == std::string::npos && !is_ended_) return std::nullopt;
  is_asking_ = false;
  // The end of input, as of a terminal that is gone, is no yes.
  if (end == std::string::npos) return false;
  is_line_open_ = false;
  return std::string_view(typed_).substr(0, end) == "yes";
}

void TextScreen::finish() {
  put("");
  output_.reset();
}

void JsonScreen::begin() {
  output_ = std::make_unique<BackgroundOutput>();
}

void JsonScreen::note(const std::string& line) {
  output_->write(note_json(line));
}

void JsonScreen::log(const bench_run::LogRow& row) {
  output_->write(row_json(row));
}

void JsonScreen::status(const bench_run::RunStatus& status) {
  output_->write(status_json(status));
}

void JsonScreen::finish() {
  output_.reset();
}

}  // namespace rampart::cli
