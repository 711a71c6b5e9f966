// Results that another machine has found, as its file of a part has them.
#include <utility>

#include "lang/files/files.h"
#include "runtime/cli/text/spread_text.h"
#include "runtime/cli/text/sweep_text.h"
#include "runtime/part/part.h"
#include "runtime/predict/answer.h"
#include "runtime/sweep/sweep.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/samples.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {
namespace {

constexpr const char* kVaried = R"(profile "Varied"
bench "b.bench.yaml"
load "l.load.yaml"
param level = 5 V in 4.8 V .. 5.2 V
rail core on left.ch1
protect core { overvoltage 14 V; fuse after 100 ms; overpower 20 W after 100 ms }
run {
  limit core to 1 A
  on core
  ramp core to level over 50 ms
  dwell 100 ms
  off core
}
expect peak_current(core) < 520 mA
)";
constexpr const char* kTolerant = R"(load: A resistor
rails:
  core: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm +- 1 %}]}
)";

HeldTexts varied_files() {
  HeldTexts files;
  files.hold("p.ramp", kVaried);
  files.hold("b.bench.yaml", kBench);
  files.hold("l.load.yaml", kTolerant);
  return files;
}

sweep::Request sweep_of(Sharing sharing) {
  sweep::Request request;
  request.vary.push_back(sweep::read_vary("level=4.8V..5.2V step 0.1V"));
  request.find = sweep::read_find({"greatest", "level"});
  request.sharing = std::move(sharing);
  return request;
}

PredictOptions corners_of(Sharing sharing) {
  PredictOptions options;
  options.corners = true;
  options.sharing = std::move(sharing);
  return options;
}

// The whole of either work, as one part.
PartFile whole_sweep() {
  HeldTexts files = varied_files();
  std::optional<PartFile> part = sweep::run(files, "p.ramp", {}, sweep_of({Part{1, 1}, {}})).part;
  require(part.has_value() && part->results.size() > 4, "the sample is swept");
  return std::move(*part);
}

PartFile whole_corners() {
  HeldTexts files = varied_files();
  std::optional<PartFile> part = answer(files, "p.ramp", {}, corners_of({Part{1, 1}, {}})).predictions.part;
  require(part.has_value() && part->results.size() > 1, "the sample has corners");
  return std::move(*part);
}

// With these results in place of its first ones.
std::string with_results(PartFile file, const std::vector<std::string>& results) {
  auto next = file.results.begin();
  for (const std::string& result : results) {
    if (next == file.results.end()) break;
    if (!result.empty()) next->second = result;
    ++next;
  }
  return part_document(file);
}

void join_sweep(const std::string& document, const Job& job) {
  const sweep::Request request = sweep_of({std::nullopt, {{"a.json", document}}});
  HeldTexts files = varied_files();
  const sweep::Sweep swept = sweep::run(files, "p.ramp", {}, request, job);
  check_findings(swept.base.findings);
  check_plain(cli::sweep_text(swept, request), "a sweep");
}

void join_corners(const std::string& document, const Job& job) {
  HeldTexts files = varied_files();
  const Answer answered = answer(files, "p.ramp", {}, corners_of({std::nullopt, {{"a.json", document}}}), job);
  check_findings(answered.findings);
  check_plain(cli::spread_summary(answered) + cli::spread_tables(answered), "corners");
}

}  // namespace

void part(std::string_view texts) {
  static const PartFile kSweep = whole_sweep();
  static const PartFile kCorners = whole_corners();
  const std::vector<std::string> parts = parts_of(texts);
  const Bounded bounded;
  try {
    join_sweep(with_results(kSweep, parts), bounded.job());
    join_corners(with_results(kCorners, parts), bounded.job());
    static_cast<void>(join_parts({{"a.json", std::string(texts)}}, kSweep.asked));
  } catch (const JobStopped&) {
  } catch (const PartMistake& mistake) {
    check_plain(mistake.what, "what is wrong with a part");
  }
}

}  // namespace rampart::fuzz
