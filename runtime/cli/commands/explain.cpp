#include <algorithm>
#include <memory>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/shared/catalogue.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"

namespace rampart::cli {
namespace {

constexpr Family kFamilies[] = {Family::Language, Family::Files, Family::Limits, Family::Practice, Family::Predicted};

int explain_all() {
  const std::vector<CatalogueEntry>& entries = catalogue();
  std::size_t width = 0;
  for (const CatalogueEntry& entry : entries) width = std::max(width, entry.name.size());
  std::string text;
  for (const Family family : kFamilies) {
    text += (text.empty() ? "" : "\n") + std::string(family_name(family)) + "\n";
    for (const CatalogueEntry& entry : entries) {
      if (entry.family != family) continue;
      text += "  " + entry.name + std::string(width - entry.name.size() + 2, ' ') + entry.summary + "\n";
    }
  }
  return print(text) ? kDone : kCouldNotRun;
}

int explain_one(const std::string& name) {
  std::vector<std::string> names;
  for (const CatalogueEntry& entry : catalogue()) {
    if (entry.name == name) return print(explain_text(entry)) ? kDone : kCouldNotRun;
    names.push_back(entry.name);
  }
  const std::string nearest = nearest_name(name, names);
  const std::string advice =
      nearest.empty() ? "`rampart explain` lists all there are" : "did you mean `" + nearest + "`?";
  say("rampart: there is no finding named `" + name + "`; " + advice);
  return kCouldNotRun;
}

}  // namespace

void add_explain(Program& program) {
  auto name = std::make_shared<std::string>();
  Command command = program.add_command("explain", "Explain why a finding matters, with a wrong and a right example");
  command.option("NAME", *name, "name of a finding: the word in brackets after its message");
  command.footer("Without a name it lists all findings.\nExample: rampart explain trip-too-close");
  command.action([name] { return name->empty() ? explain_all() : explain_one(*name); });
}

}  // namespace rampart::cli
