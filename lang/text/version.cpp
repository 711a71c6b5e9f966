#include "lang/text/version.h"

namespace rampart {

std::string_view version() {
  return RAMPART_VERSION;
}

}  // namespace rampart
