#include "runtime/predict/origin.h"

#include "compiler/export/sha256.h"
#include "lang/text/text_check.h"
#include "lang/text/version.h"

namespace rampart {
namespace {

OriginFile origin_file(const SourceFile& text) {
  return {text.name(), sha256_of(text.text())};
}

bool is_utf8(const std::string& text) {
  const std::optional<TextFault> fault = find_text_fault("x" + text);
  return !fault || fault->what != "bytes that are not valid UTF-8";
}

}  // namespace

Origin origin_of(const Compiled& compiled, const Load* load) {
  Origin origin;
  origin.version = std::string(version());
  for (const Dependency& file : compiled.files()) {
    if (file.text == nullptr) continue;
    if (file.role == FileRole::Profile) origin.profile = origin_file(*file.text);
    if (file.role == FileRole::Import) origin.imports.push_back(origin_file(*file.text));
    if (file.role == FileRole::Waveform) origin.waveforms.push_back(origin_file(*file.text));
    if (file.role == FileRole::Bench) origin.bench = origin_file(*file.text);
  }
  if (load != nullptr && load->text != nullptr) origin.load = origin_file(*load->text);
  for (const ParameterValue& parameter : compiled.profile()->parameters) {
    origin.parameters.push_back({parameter.name, parameter.value, parameter.set});
  }
  return origin;
}

std::vector<std::string> origin_lines(const Origin& origin) {
  std::vector<std::string> lines{"rampart " + origin.version};
  const auto add = [&lines](std::string_view role, const OriginFile& file) {
    lines.push_back(std::string(role) + " " + file.sha256);
  };
  add("profile", origin.profile);
  for (const OriginFile& file : origin.imports) add("import", file);
  for (const OriginFile& file : origin.waveforms) add("waveform", file);
  if (origin.bench) add("bench", *origin.bench);
  if (origin.load) add("load", *origin.load);
  for (const OriginParameter& parameter : origin.parameters) {
    lines.push_back(parameter.name + " = " + to_text_in(parameter.value, unit_text(parameter.value.dimension)));
  }
  return lines;
}

std::string name_not_utf8(const Origin& origin) {
  std::vector<OriginFile> files = origin.imports;
  files.insert(files.end(), origin.waveforms.begin(), origin.waveforms.end());
  files.push_back(origin.profile);
  for (const auto& file : {origin.bench, origin.load, origin.template_file}) {
    if (file) files.push_back(*file);
  }
  for (const OriginFile& file : files) {
    if (is_utf8(file.name)) continue;
    std::string shown = file.name;
    for (char& c : shown) c = static_cast<unsigned char>(c) < 0x80U ? c : '?';
    return shown;
  }
  return {};
}

std::string setup_path(const std::string& table_path) {
  return table_path + ".setup.json";
}

}  // namespace rampart
