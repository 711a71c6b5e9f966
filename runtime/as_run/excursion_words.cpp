#include "runtime/as_run/excursion_words.h"

#include <cmath>
#include <cstdlib>

#include "lang/values/quantity.h"
#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

// Four significant digits say as much as a meter does.
std::string short_text(double value, std::string_view unit) {
  if (value == 0 || !std::isfinite(value)) return to_text(0, unit);
  const double scale = std::pow(10, 3 - std::floor(std::log10(std::abs(value))));
  return to_text(std::round(value * scale) / scale, unit);
}

std::string two_digits(double value, std::string_view unit) {
  if (value == 0 || !std::isfinite(value)) return to_text(0, unit);
  const double scale = std::pow(10, 1 - std::floor(std::log10(std::abs(value))));
  return to_text(std::round(value * scale) / scale, unit);
}

std::string signed_text(double value, std::string_view unit) {
  return (value > 0 ? "+" : "") + two_digits(value, unit);
}

const std::string& rail_name(const Profile& profile, RailId rail) {
  return profile[rail].name;
}

std::string trip_text(const Profile& profile, const Excursion& excursion) {
  const std::string time = " at " + time_text(excursion.from.run_s);
  std::string text = "`" + rail_name(profile, excursion.rail) + "`";
  text += excursion.other.starts_with("off, ") ? " went off" + time + excursion.other.substr(3)
                                               : " tripped" + time + " (" + excursion.other + ")";
  if (excursion.along.empty()) return text + (excursion.other.starts_with("off, ") ? "" : ", which was not predicted");
  text += "; ";
  for (std::size_t i = 0; i < excursion.along.size(); ++i) {
    if (i > 0) text += i + 1 == excursion.along.size() ? " and " : ", ";
    text += "`" + rail_name(profile, excursion.along[i]) + "`";
  }
  return text + " went off with it";
}

std::string_view quantity_name(Measured quantity) {
  return quantity == Measured::Voltage ? "voltage" : "current";
}

}  // namespace

std::string_view unit_of(Measured quantity) {
  return quantity == Measured::Voltage ? "V" : "A";
}

std::string device_words(const LogDevice& device) {
  std::string words = device.part;
  if (!device.serial.empty()) words += (words.empty() ? "serial " : ", serial ") + device.serial;
  if (!device.revision.empty()) words += (words.empty() ? "revision " : ", revision ") + device.revision;
  return words;
}

std::string instrument_words(const LogInstrument& instrument) {
  std::string words = instrument.serial.empty() ? "" : "serial " + instrument.serial;
  if (instrument.calibration_due) {
    words += (words.empty() ? "" : ", ") + ("calibration due " + date_text(*instrument.calibration_due));
  }
  return words;
}

std::vector<RecordField> record_fields(const RecordedRun& record) {
  std::vector<RecordField> fields;
  const auto add = [&fields](const std::string& what, const std::string& value) {
    if (!value.empty()) fields.push_back({what, value});
  };
  const std::string zone = record.zone.empty() ? "" : ", on a computer at UTC" + record.zone;
  add("run", record.run_id);
  add("start", record.start_utc.empty() ? "" : record.start_utc + zone);
  add("operator", record.operator_name);
  add("device", record.device);
  add("table", record.table.name);
  for (const RecordedSupply& supply : record.supplies) {
    std::string words;
    const auto join = [&words](const std::string& what, const std::string& value) {
      if (!value.empty()) words += (words.empty() ? "" : ", ") + what + value;
    };
    join("serial ", supply.serial);
    join("firmware ", supply.firmware);
    join("calibration due ", supply.calibration_due);
    add("supply " + supply.name, words);
  }
  for (const std::string& setting : record.set_by_hand) add("set by hand", setting);
  add("end", record.has_end ? record.reason : "not recorded: the player was killed, or had not finished");
  return fields;
}

std::string cause_text(const Profile& profile, const Excursion& excursion) {
  const std::string_view unit = unit_of(excursion.quantity);
  const double amount = excursion.amount.value_or(0);
  switch (excursion.cause) {
    case Cause::Late:
      return "a row that is " + two_digits(amount, "s") + " late";
    case Cause::Early:
      return "a row that is " + two_digits(amount, "s") + " early";
    case Cause::OutputOff:
      return "an output that is off";
    case Cause::Tripped:
      return excursion.other.starts_with("off, ") ? "an output that went off" + excursion.other.substr(3)
                                                  : "a trip: " + excursion.other;
    case Cause::Swapped: {
      const auto other = static_cast<std::size_t>(std::strtoull(excursion.other.c_str(), nullptr, 10));
      return "readings of `" + profile.rails[other].name + "` in its place";
    }
    case Cause::Sign:
      return "a reversed sign";
    case Cause::Format:
      return "a unit that is off by a factor of " + to_text(amount, "");
    case Cause::Limit:
      return "a current limit that is " + two_digits(std::abs(amount), "A") + (amount < 0 ? " lower" : " higher");
    case Cause::Offset:
      return "an offset of " + signed_text(amount, unit);
    case Cause::Gain:
      return "a gain of " + signed_text(100 * amount, "%");
    case Cause::OtherLoad:
      return "a load that draws " + two_digits(std::abs(100 * amount), "%") + (amount > 0 ? " more" : " less");
    case Cause::Sag:
      return "a voltage that sags under its load";
    case Cause::Stuck:
      return "a reading that is stuck";
    case Cause::Unknown:
      break;
  }
  return "none of the known causes";
}

std::string excursion_text(const Profile& profile, const Excursion& excursion) {
  const std::string name = "`" + rail_name(profile, excursion.rail) + "`";
  if (excursion.cause == Cause::Tripped) {
    return trip_text(profile, excursion);
  }
  const std::string_view unit = unit_of(excursion.quantity);
  const double off = excursion.measured - excursion.predicted;
  std::string text = std::string(quantity_name(excursion.quantity)) + " of " + name + " is " +
                     short_text(std::abs(off), unit) + (off < 0 ? " low" : " high") + " from " +
                     time_text(excursion.from.run_s) + " to " + time_text(excursion.to.run_s);
  if (excursion.stretches > 1) text += " in " + std::to_string(excursion.stretches) + " stretches";
  text += ": " + short_text(excursion.measured, unit) + " at " + time_text(excursion.worst.run_s) + ", expected " +
          short_text(excursion.expected.low, unit) + " to " + short_text(excursion.expected.high, unit);
  return text + "; consistent with " + cause_text(profile, excursion);
}

}  // namespace rampart::as_run
