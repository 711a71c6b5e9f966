#include "compiler/profile/accept_words.h"

namespace rampart {

std::string accept_words(std::string_view finding, std::string_view rail) {
  return "`accept " + std::string(finding) + " on " + std::string(rail) + " because \"…\"`";
}

}  // namespace rampart
