#include "runtime/predict/origin.h"

#include "compiler/export/sha256.h"
#include "lang/text/text_check.h"
#include "lang/text/version.h"

namespace rampart {
namespace {

OriginFile origin_file(const Compilation& compilation, FileId file) {
  const SourceFile& source = compilation.sources[file];
  return {source.name(), sha256_of(source.text())};
}

bool is_utf8(const std::string& text) {
  const std::optional<TextFault> fault = find_text_fault("x" + text);
  return !fault || fault->what != "bytes that are no UTF-8";
}

}  // namespace

Origin origin_of(const Compilation& compilation) {
  Origin origin;
  origin.version = std::string(version());
  origin.profile = origin_file(compilation, compilation.trees.front()->file);
  for (std::size_t i = 1; i < compilation.trees.size(); ++i) {
    origin.imports.push_back(origin_file(compilation, compilation.trees[i]->file));
  }
  if (compilation.bench) origin.bench = origin_file(compilation, compilation.bench->file);
  if (compilation.load) origin.load = origin_file(compilation, compilation.load->file);
  for (const ParameterValue& parameter : compilation.profile->parameters) {
    origin.parameters.push_back({parameter.name, parameter.value, parameter.set});
  }
  return origin;
}

std::string name_not_utf8(const Origin& origin) {
  std::vector<OriginFile> files = origin.imports;
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
