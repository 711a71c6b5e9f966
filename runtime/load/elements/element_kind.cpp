#include "runtime/load/elements/element_kind.h"

#include "lang/findings/files.h"

namespace rampart {

FindingSink::Addition ElementPlace::conflict(std::string_view key, const std::string& found, std::string_view other,
                                             const std::string& wanted) const {
  return findings_.report(finding::ValuesDoNotFit, section_.value_place(key), key, found, other, wanted);
}

void ElementPlace::wrong_point(std::string_view key, std::size_t point, const std::string& found,
                               const std::string& wanted, const std::string& hint) const {
  section_.read(key, [&](const Field& field) {
    findings_.report(finding::ValueImpossible, field.value->items[point].items[1].span, field.key, found, wanted)
        .hint(hint);
  });
}

}  // namespace rampart
