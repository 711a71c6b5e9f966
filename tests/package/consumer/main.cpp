// What another project does with the installed package: it compiles a profile and predicts what it does to its load.
#include <cstdio>

#include "compiler/compile/compile.h"
#include "lang/findings/render.h"
#include "runtime/predict/predict.h"

int main(int argc, char** argv) {
  using namespace rampart;
  Disk disk;
  FindingSink findings;
  const Compiled compiled = compile(disk, argc > 1 ? argv[1] : "-", {}, findings);
  const LoadPtr load = read_load(compiled, disk, findings);
  const Predictions predictions = predict(compiled, load, {.needs_load = true}, findings);
  for (const Finding& finding : findings.findings()) std::printf("%s", render_text(finding, findings.texts()).c_str());
  if (!predictions.simulation) return 1;
  std::printf("%g J in %g s\n", predictions.simulation->total_energy_J, predictions.simulation->duration_s);
  return findings.has_errors() ? 1 : 0;
}
