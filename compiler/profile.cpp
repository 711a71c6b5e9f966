#include "compiler/profile.h"

namespace rampart {

std::string_view trip_cause_name(TripCause cause) {
  switch (cause) {
    case TripCause::Fuse:
      return "fuse";
    case TripCause::Overvoltage:
      return "overvoltage";
    case TripCause::Overpower:
      return "overpower";
    case TripCause::Overtemperature:
      return "overtemperature";
    case TripCause::Linked:
      return "linked";
  }
  return "";
}

}  // namespace rampart
