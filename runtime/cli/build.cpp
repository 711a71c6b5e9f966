#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <system_error>

#include "compiler/export/csv.h"
#include "runtime/cli/choice.h"
#include "runtime/cli/commands.h"
#include "runtime/cli/common.h"
#include "runtime/cli/json.h"
#include "runtime/cli/sarif.h"
#include "runtime/output_file.h"

namespace rampart::cli {
namespace {

enum class TableFormat { Csv };

struct BuildOptions {
  CommonOptions common;
  std::string profile;
  std::string output;
  TableFormat as = TableFormat::Csv;
};

class FileSink : public TextSink {
 public:
  explicit FileSink(OutputFile& file) : file_(file) {}
  void write(std::string_view text) override { file_.write(text); }
  [[nodiscard]] bool failed() const override { return !file_.failure().empty(); }

 private:
  OutputFile& file_;
};

// With the table on standard output, findings go to standard error in every format.
void print_build_findings(const Compilations& compilations, const BuildOptions& options) {
  if (options.common.format == Format::Text) {
    print_findings(compilations, options.common.strict);
    return;
  }
  const std::string document =
      options.common.format == Format::Json ? check_document(compilations) : sarif_document(compilations);
  std::FILE* stream = options.output == "-" ? stderr : stdout;
  std::fwrite(document.data(), 1, document.size(), stream);
}

// The file among the inputs that the output would replace; empty if there is none.
std::string overwritten_input(const Compilation& compilation, const std::string& output) {
  for (std::size_t i = 0; i < compilation.sources.size(); ++i) {
    const std::string& input = compilation.sources[FileId{static_cast<std::uint32_t>(i)}].name();
    std::error_code unknown;
    if (std::filesystem::equivalent(input, output, unknown)) return input;
  }
  return {};
}

int build(const BuildOptions& options) {
  const Compilations compilations = compile_all({options.profile}, options.common);
  const int code = exit_code(compilations, options.common.strict);
  print_build_findings(compilations, options);
  const Compilation& compilation = *compilations.front();
  if (code != kDone || !compilation.run) return code;

  if (const std::string input = overwritten_input(compilation, options.output); !input.empty()) {
    std::fprintf(stderr, "rampart: %s: would replace `%s`, which it is made from\n", options.output.c_str(),
                 input.c_str());
    return kCouldNotRun;
  }
  OutputFile file(options.output);
  FileSink sink(file);
  write_csv(*compilation.run, compilation.safe ? &*compilation.safe : nullptr, sink);
  if (file.commit()) return code;
  const std::string name = options.output == "-" ? "standard output" : options.output;
  std::fprintf(stderr, "rampart: %s: %s\n", name.c_str(), file.failure().c_str());
  return kCouldNotRun;
}

}  // namespace

void add_build(CLI::App& program, int& result) {
  auto options = std::make_shared<BuildOptions>();
  CLI::App* command = program.add_subcommand("build", "Compile a profile to a setpoint table");
  command->add_option("PROFILE", options->profile, "profile to compile; - is standard input")->required();
  static constexpr TableFormat kFormats[] = {TableFormat::Csv};
  add_choice(
      *command, "--as", {"csv"}, [options](std::size_t at) { options->as = kFormats[at]; }, "what to write")
      ->required();
  command->add_option("-o,--output", options->output, "file to write; - is standard output")
      ->type_name("FILE")
      ->required();
  add_common_options(*command, options->common);
  command->footer(
      "The file appears whole or not at all; with errors an older one stays.\n"
      "Example: rampart build power-up.ramp --as csv -o power-up.csv");
  command->callback([options, &result] { result = build(*options); });
}

}  // namespace rampart::cli
