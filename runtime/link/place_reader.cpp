#include "runtime/link/place_reader.h"

#include <algorithm>

#include "compiler/yaml/field_collector.h"
#include "lang/findings/files.h"
#include "runtime/link/link_keys.h"
#include "runtime/link/transport.h"

namespace rampart::link {
namespace {

constexpr std::int64_t kMostBaud = 4'000'000;
constexpr std::array<std::string_view, 3> kParities{"none", "odd", "even"};
constexpr std::array<std::string_view, 3> kFlows{"none", "software", "hardware"};

std::optional<Place> read_tcp(const Field& field, FindingSink& findings) {
  const Section section(field, "`tcp`", link_keys::of("tcp"), findings);
  std::optional<TcpPlace> place =
      FieldCollector<TcpPlace>(section)
          .required("address", &TcpPlace::address,
                    [&](const Field& address) -> std::optional<std::string> {
                      std::optional<std::string> text = read_title(address, findings);
                      if (!text || is_ip_address(*text)) return text;
                      findings.report(finding::ValueUnreadable, address.value->span, shown_text(*text), "an IP address")
                          .hint("write it in numbers, as in 192.168.1.20: names are not looked up");
                      return std::nullopt;
                    })
          .optional("port", &TcpPlace::port,
                    [&](const Field& port) -> std::optional<std::uint16_t> {
                      const auto number = read_whole(port, 1, 65535, findings);
                      if (!number) return std::nullopt;
                      return static_cast<std::uint16_t>(*number);
                    })
          .result();
  if (!place) return std::nullopt;
  return Place(*std::move(place));
}

// A path from the root: what it means does not depend on the folder that the program is called in.
std::optional<std::string> read_device(const Field& field, FindingSink& findings) {
  std::optional<std::string> path = read_title(field, findings);
  if (!path || path->starts_with('/')) return path;
  findings.report(finding::ValueUnreadable, field.value->span, shown_text(*path), "a device file")
      .hint("write its whole path, as in /dev/ttyUSB0");
  return std::nullopt;
}

std::optional<Place> read_serial(const Field& field, FindingSink& findings) {
  const Section section(field, "`serial`", link_keys::of("serial"), findings);
  const auto whole = [&](std::int64_t low, std::int64_t high) {
    return [&findings, low, high](const Field& number) { return read_whole(number, low, high, findings); };
  };
  std::optional<SerialPlace> place =
      FieldCollector<SerialPlace>(section)
          .required("device", &SerialPlace::device, [&](const Field& path) { return read_device(path, findings); })
          .optional("baud", &SerialPlace::baud, whole(50, kMostBaud))
          .optional("data_bits", &SerialPlace::data_bits, whole(7, 8))
          .optional("stop_bits", &SerialPlace::stop_bits, whole(1, 2))
          .optional("parity", &SerialPlace::parity,
                    [&](const Field& parity) { return read_one_of<Parity>(parity, kParities, findings); })
          .optional("flow", &SerialPlace::flow,
                    [&](const Field& flow) { return read_one_of<FlowControl>(flow, kFlows, findings); })
          .result();
  if (!place) return std::nullopt;
  return Place(*std::move(place));
}

std::optional<Place> read_usbtmc(const Field& field, FindingSink& findings) {
  const Section section(field, "`usbtmc`", link_keys::of("usbtmc"), findings);
  std::optional<UsbtmcPlace> place =
      FieldCollector<UsbtmcPlace>(section)
          .required("device", &UsbtmcPlace::device, [&](const Field& path) { return read_device(path, findings); })
          .result();
  if (!place) return std::nullopt;
  return Place(*std::move(place));
}

}  // namespace

std::optional<Place> read_place(const Section& section, FindingSink& findings) {
  constexpr std::array<std::string_view, 3> kKeys{"tcp", "serial", "usbtmc"};
  if (!section.is_sound()) return std::nullopt;
  const auto count = std::count_if(kKeys.begin(), kKeys.end(), [&](auto key) { return section.has(key); });
  if (count != 1) {
    findings.report(finding::ValueImpossible, section.place(), section.label(),
                    count == 0 ? "without a way to reach it" : "given several ways to reach it",
                    "given one of `tcp`, `serial` and `usbtmc`");
    return std::nullopt;
  }
  std::optional<Place> place;
  section.read("tcp", [&](const Field& tcp) { place = read_tcp(tcp, findings); });
  section.read("serial", [&](const Field& serial) { place = read_serial(serial, findings); });
  section.read("usbtmc", [&](const Field& usbtmc) { place = read_usbtmc(usbtmc, findings); });
  return place;
}

}  // namespace rampart::link
