// The log of a run, which other programs write.
#include "lang/files/files.h"
#include "runtime/as_run/evaluate.h"
#include "runtime/cli/text/as_run_text.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/samples.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {
namespace {

// What the profile plays into: its course is soon predicted, and a log is read and compared with it all the same.
constexpr const char* kResistors = R"(load: A board of resistors
rails:
  core: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}]}
  io: {elements: [{kind: resistor, resistance: 100 Ohm}]}
)";

}  // namespace

void log(std::string_view texts) {
  const std::vector<std::string> parts = parts_of(texts);
  HeldTexts files;
  files.hold("p.ramp", kProfile);
  files.hold("b.bench.yaml", kBench);
  files.hold("l.load.yaml", kResistors);
  files.hold("r.csv", parts[0]);
  as_run::LogRequest one;
  one.path = "r.csv";
  if (parts.size() > 1 && !parts[1].empty()) {
    files.hold("r.log.yaml", parts[1]);
    one.description = "r.log.yaml";
  }
  if (parts.size() > 2) files.hold("r.csv.run.json", parts[2]);
  as_run::Request request;
  request.logs = {one};
  const Bounded bounded;
  try {
    const as_run::Evaluated evaluated = as_run::evaluate(files, "p.ramp", {}, request, bounded.job());
    check_findings(evaluated.answer.findings);
    if (evaluated.as_run) check_plain(cli::as_run_text(evaluated), "an evaluation");
  } catch (const JobStopped&) {
  }
}

}  // namespace rampart::fuzz
