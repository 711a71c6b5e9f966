#include <CLI/CLI.hpp>
#include <memory>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/json/json.h"
#include "runtime/cli/json/sarif.h"
#include "runtime/cli/shared/choice.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/shared/list_choice.h"

namespace rampart::cli {
namespace {

struct CheckOptions {
  CommonOptions common;
  std::vector<std::string> profiles;
  bool as_list = false;
  ListOptions list;
};

int check(const CheckOptions& options) {
  const Compilations compilations = compile_all(options.profiles, options.common);
  if (options.as_list) {
    for (const auto& compilation : compilations) static_cast<void>(plan_lists(*compilation, options.list));
  }
  const int code = exit_code(compilations, options.common.strict);
  switch (options.common.format) {
    case Format::Text:
      print_findings(compilations, options.common.strict);
      return code;
    case Format::Json:
      return print(check_document(compilations)) ? code : kCouldNotRun;
    case Format::Sarif:
      return print(sarif_document(compilations)) ? code : kCouldNotRun;
  }
  return code;
}

}  // namespace

void add_check(CLI::App& program, int& result) {
  auto options = std::make_shared<CheckOptions>();
  CLI::App* command = program.add_subcommand("check", "Say what is wrong with profiles, before the bench is touched");
  command->add_option("PROFILE", options->profiles, "profiles to check; - is standard input")->required();
  add_choice(
      *command, "--as", {"list"}, [options](std::size_t) { options->as_list = true; },
      "check too that the supplies can play it by themselves");
  add_ramp_error(*command, options->list);
  add_common_options(*command, options->common);
  command->footer("Example: rampart check power-up.ramp --bench other.bench.yaml --set margin=3%");
  command->callback([options, &result] {
    if (options->list.ramp_error && !options->as_list) {
      throw CLI::ValidationError("--ramp-error", "goes with --as list");
    }
    result = check(*options);
  });
}

}  // namespace rampart::cli
