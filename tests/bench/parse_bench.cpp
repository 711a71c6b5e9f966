#include <benchmark/benchmark.h>

#include "lang/syntax/parse.h"
#include "tests/bench/generated_profile.h"

namespace {

// Time per statement must not grow with the length of the profile.
void parse_statements(benchmark::State& state) {
  rampart::SourceSet sources;
  const std::string text = rampart::generated_profile(state.range(0));
  const rampart::FileId file = sources.add("generated.ramp", text);
  for (auto _ : state) {
    rampart::FindingSink findings;
    benchmark::DoNotOptimize(rampart::parse(sources, file, findings));
    if (findings.has_errors()) state.SkipWithError("the generated profile has errors");
  }
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(text.size()));
  state.SetComplexityN(state.range(0));
  state.counters["per_statement"] = benchmark::Counter(
      static_cast<double>(state.range(0)), benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}

BENCHMARK(parse_statements)
    ->Arg(1'000)
    ->Arg(10'000)
    ->Arg(100'000)
    ->Arg(400'000)
    ->Unit(benchmark::kMillisecond)
    ->Complexity();

}  // namespace
