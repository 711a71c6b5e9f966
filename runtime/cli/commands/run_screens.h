#pragma once

#include <memory>
#include <string>

#include "runtime/bench_run/run_log.h"
#include "runtime/bench_run/run_view.h"
#include "runtime/cli/terminal/background_output.h"

// Where a run is shown, and who is asked.
namespace rampart::cli {

// For a person. On a terminal the rails stand below the events and are written anew; elsewhere there are the events
// alone.
class TextScreen : public bench_run::RunView, public bench_run::Person {
 public:
  TextScreen();
  // Nothing is shown before.
  void begin();
  void note(const std::string& line) override;
  void log(const bench_run::LogRow& row) override;
  void status(const bench_run::RunStatus& status) override;
  [[nodiscard]] bool is_there() const override;
  void ask(const std::string& question) override;
  [[nodiscard]] std::optional<bool> answer() override;
  // Standard output is free for what follows.
  void finish();

 private:
  // The rails are taken away, the text is written, the rails come back.
  void put(const std::string& text);
  // Takes over what was typed, up to a line feed.
  void read_typed();

  bool is_terminal_;
  bool is_asking_ = false;
  bool is_line_open_ = false;  // a question stands there, and no line feed was typed behind it
  bool is_ended_ = false;      // the question was answered with the end of input
  std::size_t shown_lines_ = 0;
  std::string typed_;  // since the question
  std::unique_ptr<BackgroundOutput> output_;
};

// For a program: one object a line. Nobody can be asked.
class JsonScreen : public bench_run::RunView, public bench_run::Person {
 public:
  void begin();
  void note(const std::string& line) override;
  void log(const bench_run::LogRow& row) override;
  void status(const bench_run::RunStatus& status) override;
  [[nodiscard]] bool is_there() const override { return false; }
  void ask(const std::string&) override {}
  [[nodiscard]] std::optional<bool> answer() override { return std::nullopt; }
  void finish();

 private:
  std::unique_ptr<BackgroundOutput> output_;
};

// Shows a run and writes its log.
class RecordedView : public bench_run::RunView {
 public:
  RecordedView(bench_run::RunView& screen, bench_run::RunLog& log) : screen_(screen), log_(log) {}
  void note(const std::string& line) override { screen_.note(line); }
  void log(const bench_run::LogRow& row) override {
    log_.add(row);
    screen_.log(row);
  }
  void status(const bench_run::RunStatus& status) override { screen_.status(status); }

 private:
  bench_run::RunView& screen_;
  bench_run::RunLog& log_;
};

}  // namespace rampart::cli
