#include "runtime/predict/load_names.h"

#include <algorithm>
#include <vector>

#include "lang/findings/resolve.h"

namespace rampart {
namespace {

bool has_rail(const Profile& profile, const std::string& name) {
  return std::any_of(profile.rails.begin(), profile.rails.end(),
                     [&name](const Rail& rail) { return rail.name == name; });
}

bool is_spoken_of(const Profile& profile, const Fault& fault) {
  return std::any_of(profile.expectations.begin(), profile.expectations.end(),
                     [&fault](const Expectation& expectation) { return expectation.fault == fault.name; });
}

}  // namespace

void report_unused_loads(const Profile& profile, const Load& load, FindingSink& findings) {
  std::vector<std::string> bare;
  for (const Rail& rail : profile.rails) {
    if (load.find_rail(rail.name) == nullptr) bare.push_back(rail.name);
  }
  std::vector<const RailLoad*> left_over;
  for (const RailLoad& rail : load.rails) {
    if (!has_rail(profile, rail.rail)) left_over.push_back(&rail);
  }
  const bool is_pair = bare.size() == 1 && left_over.size() == 1;
  for (const RailLoad* rail : left_over) {
    const std::string meant = is_pair ? bare.front() : nearest_name(rail->rail, bare);
    if (meant.empty()) continue;
    findings.report(finding::UnusedLoad, rail->span, rail->rail)
        .hint("did you mean `" + meant + "`, which has no load?", meant);
  }
}

void report_unused_marks(const Profile& profile, const Load& load, const Simulation& plain,
                         const std::optional<std::string>& asked_for, FindingSink& findings) {
  std::vector<std::string> marks;
  for (const MarkTime& known : plain.first_marks) marks.push_back(known.mark);
  for (const Fault& fault : load.faults) {
    if (!fault.mark || fault.name == asked_for || is_spoken_of(profile, fault)) continue;
    if (std::find(marks.begin(), marks.end(), *fault.mark) != marks.end()) continue;
    const std::string nearest = nearest_name(*fault.mark, marks);
    if (nearest.empty()) continue;
    findings.report(finding::FaultAtNoMark, fault.mark_span, fault.name, *fault.mark).hint_name(nearest);
  }
}

}  // namespace rampart
