#pragma once

namespace CLI {
class App;
}  // namespace CLI

namespace rampart::cli {

// Each adds its command to the program. The command's work leaves the exit code in `result`.
void add_audit(CLI::App& program, int& result);
void add_check(CLI::App& program, int& result);
void add_build(CLI::App& program, int& result);
void add_simulate(CLI::App& program, int& result);
void add_report(CLI::App& program, int& result);
void add_diff(CLI::App& program, int& result);
void add_format(CLI::App& program, int& result);
void add_explain(CLI::App& program, int& result);

}  // namespace rampart::cli
