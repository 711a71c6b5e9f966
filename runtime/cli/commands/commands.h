#pragma once

namespace rampart::cli {

class Program;

// Each adds its command to the program.
void add_audit(Program& program);
void add_new(Program& program);
void add_check(Program& program);
void add_build(Program& program);
void add_simulate(Program& program);
void add_report(Program& program);
void add_evaluate(Program& program);
void add_fit_load(Program& program);
void add_sweep(Program& program);
void add_diff(Program& program);
void add_format(Program& program);
void add_explain(Program& program);
void add_off(Program& program);
void add_run(Program& program);
void add_language_server(Program& program);

}  // namespace rampart::cli
