#include "runtime/load/load_file.h"

#include <string>
#include <utility>
#include <vector>

#include "compiler/yaml/file_values.h"
#include "lang/files/read_text.h"

namespace rampart {
namespace {

// They stand in the text and the load alone, so no other mistake hides them.
void report_unknown_faults(const Compiled& compiled, const Load& load, FindingSink& findings) {
  std::vector<std::string> known;
  for (const Fault& fault : load.faults) known.push_back(fault.name);
  for (const NamedFault& named : compiled.faults()) {
    if (load.find_fault(named.name) != nullptr) continue;
    report_unknown_name("fault in the load", named.name, named.place, known, findings);
  }
}

}  // namespace

LoadPtr read_load(const Compiled& compiled, Files& files, FindingSink& findings) {
  if (!compiled.load()) return nullptr;
  const TextPtr text = read_text(files, *compiled.load(), findings);
  if (text == nullptr) return nullptr;
  std::optional<Load> load = read_load(findings.texts(), text->id(), findings);
  if (!load) return nullptr;
  load->text = text;
  report_unknown_faults(compiled, *load, findings);
  return std::make_shared<const Load>(std::move(*load));
}

}  // namespace rampart
