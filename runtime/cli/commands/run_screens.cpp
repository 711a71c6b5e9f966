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
  output_->write(cleared(shown_lines_) + visible_lines(text));
  shown_lines_ = 0;
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
  while (answer()) {
  }
  typed_.clear();
  is_asking_ = true;
  put(question);
}

std::optional<bool> TextScreen::answer() {
  pollfd one{STDIN_FILENO, POLLIN, 0};
  while (typed_.find('\n') == std::string::npos && poll(&one, 1, 0) > 0) {
    char piece[256];
    const ssize_t got = read(STDIN_FILENO, piece, sizeof piece);
    // The terminal is gone: nobody says yes.
    if (got <= 0) {
      is_asking_ = false;
      return std::nullopt;
    }
    typed_.append(piece, static_cast<std::size_t>(got));
  }
  const std::size_t end = typed_.find('\n');
  if (end == std::string::npos) return std::nullopt;
  const std::string line = typed_.substr(0, end);
  typed_.erase(0, end + 1);
  is_asking_ = false;
  return line == "yes";
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
