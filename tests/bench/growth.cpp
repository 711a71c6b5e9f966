#include <chrono>
#include <cstdio>
#include <functional>
#include <string>

#include "compiler/checks/checks.h"
#include "compiler/export/csv.h"
#include "compiler/resolve/resolve.h"
#include "compiler/timeline/timeline.h"
#include "lang/syntax/parse.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load.h"
#include "runtime/play/simulate.h"
#include "tests/bench/generated_profile.h"
#include "tests/support/held_profile.h"

// How the cost grows with the text and with the time it describes: ratios measured in one run, so that the machine and
// what else it does drop out.
using namespace rampart;

namespace {

constexpr const char* kLoad = R"(load: A board
rails:
  core:
    wire: 50 mOhm
    elements:
      - {kind: capacitor, capacitance: 100 uF, esr: 50 mOhm}
      - {kind: resistor, resistance: 20 Ohm}
)";

class CountingSink final : public TextSink {
 public:
  void write(std::string_view text) override {
    for (const char c : text) rows += c == '\n' ? 1 : 0;
  }
  [[nodiscard]] bool failed() const override { return false; }
  std::int64_t rows = 0;
};

// A profile taken to its table, and what the checks say about it.
struct Checked {
  explicit Checked(const std::string& text) {
    bench = *read_bench(sources, sources.add("one.bench.yaml", test::kHeldBench), findings);
    const ast::Profile tree = parse(sources, sources.add("p.ramp", text), findings);
    profile = resolve(sources, tree, bench, {}, findings).take_whole();
    timeline = build_timeline(*profile, profile->run, TimelineStart::Off, findings);
    table.emplace(*profile, bench, *timeline);
    run_checks(*table, nullptr, findings);
  }
  SourceSet sources;
  FindingSink findings;
  Bench bench;
  std::optional<Profile> profile;
  std::optional<Timeline> timeline;
  std::optional<Table> table;
};

// The least of a few tries, s.
double seconds_of(const std::function<void()>& work) {
  double least = 1e9;
  for (int i = 0; i < 5; ++i) {
    const auto start = std::chrono::steady_clock::now();
    work();
    least = std::min(least, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
  }
  return least;
}

std::string with_mistakes(std::int64_t statements) {
  std::string text = generated_profile(statements);
  // One step in a hundred goes above the channel's range.
  std::size_t at = text.find("run {");
  for (int i = 1; (at = text.find("step core to level\n", at)) != std::string::npos; ++i) {
    if (i % 25 == 0) text.replace(at, 18, "step core to 33 V  ");
    ++at;
  }
  return text;
}

void print_text_growth() {
  std::printf("check, by statements of the text\n  statements  findings  time/s    us a statement  ratio\n");
  double first = 0;
  for (const std::int64_t statements : {1'000, 10'000, 100'000}) {
    const std::string text = with_mistakes(statements);
    std::size_t found = 0;
    const double seconds = seconds_of([&] { found = Checked(text).findings.findings().size(); });
    const double each = seconds / static_cast<double>(statements);
    if (first == 0) first = each;
    std::printf("  %-10lld  %-8zu  %-8.4f  %-14.3f  %.2f\n", static_cast<long long>(statements), found, seconds,
                each * 1e6, each / first);
  }
}

std::string cycles(std::int64_t passes) {
  return "rail core on bench.ch1\nrun {\n  limit core to 1 A\n  on core\n  repeat " + std::to_string(passes) +
         " {\n    ramp core to 5 V over 1 s\n    dwell 10 s\n    ramp core to 0 V over 1 s\n    dwell 5 s\n  }\n"
         "  off core\n}\n";
}

void print_time_growth() {
  std::printf("simulate, by passes of a loop of 17 s\n  passes      hours     time/s    ratio\n");
  FindingSink findings;
  SourceSet sources;
  const Load load = *read_load(sources, sources.add("board.load.yaml", kLoad), findings);
  double first = 0;
  for (const std::int64_t passes : {3, 1'000, 10'000'000}) {
    const Checked checked(cycles(passes));
    const double seconds = seconds_of([&] { (void)simulate(*checked.table, nullptr, load); });
    if (first == 0) first = seconds;
    std::printf("  %-10lld  %-8.4g  %-8.5f  %.2f\n", static_cast<long long>(passes),
                static_cast<double>(passes) * 17 / 3600, seconds, seconds / first);
  }
}

void print_rows() {
  const Checked checked(cycles(2'000));
  std::int64_t rows = 0;
  const double seconds = seconds_of([&] {
    CountingSink sink;
    write_csv(*checked.table, nullptr, RowForm::Changes, sink);
    rows = sink.rows;
  });
  std::printf("build, rows of CSV: %lld in %.3f s, %.2f million a second\n", static_cast<long long>(rows), seconds,
              static_cast<double>(rows) / seconds * 1e-6);
}

}  // namespace

int main() {
  print_text_growth();
  print_time_growth();
  print_rows();
}
