// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/mesh_references.h"

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <nlohmann/json.hpp>

namespace holdfast::model {

namespace fs = std::filesystem;

namespace {

std::string lower_extension(const std::string& file) {
  std::string extension = fs::path(file).extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return extension;
}

std::string percent_decoded(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto is_hex = [&](std::size_t at) {
      return at < text.size() && std::isxdigit(static_cast<unsigned char>(text[at])) != 0;
    };
    if (text[i] == '%' && is_hex(i + 1) && is_hex(i + 2)) {
      out.push_back(static_cast<char>(std::stoi(std::string(text.substr(i + 1, 2)), nullptr, 16)));
      i += 2;
    } else {
      out.push_back(text[i]);
    }
  }
  return out;
}

}  // namespace

std::string_view gltf_json(std::string_view bytes) {
  if (!bytes.starts_with("glTF")) return bytes;
  constexpr std::size_t length_at = 12, json_at = 20;
  if (bytes.size() < json_at) return {};
  std::size_t length = 0;
  for (std::size_t i = 0; i < 4; ++i)
    length |= static_cast<std::size_t>(static_cast<unsigned char>(bytes[length_at + i])) << (8 * i);
  return length > bytes.size() - json_at ? std::string_view() : bytes.substr(json_at, length);
}

std::string json_fault(std::string_view json, std::size_t most_values) {
  constexpr std::size_t most_deep = 64;
  std::size_t deep = 0, values = 0;
  for (std::size_t at = 0; at < json.size(); ++at) {
    const char c = json[at];
    if (c == '"') {
      for (++at; at < json.size() && json[at] != '"'; ++at)
        if (json[at] == '\\') ++at;
    } else if (c == '[' || c == '{') {
      if (++deep > most_deep) return "its JSON is nested more than 64 deep";
      ++values;
    } else if ((c == ']' || c == '}') && deep > 0) {
      --deep;
    } else if (c == ',') {
      ++values;
    }
    if (values > most_values) return "its JSON has more than " + std::to_string(most_values) + " values";
  }
  return {};
}

std::string file_of_uri(const std::string& mesh_file, const std::string& uri) {
  // RFC 3986, 3.1: a scheme is a letter, then letters, digits, + - and . up to the colon.
  const std::size_t colon = uri.find(':');
  const bool has_scheme =
      colon != std::string::npos && colon > 0 &&
      std::all_of(uri.begin(), uri.begin() + static_cast<std::ptrdiff_t>(colon),
                  [](unsigned char c) { return std::isalnum(c) != 0 || c == '+' || c == '-' || c == '.'; });
  constexpr std::size_t longest = 4096;  // PATH_MAX of Linux, 255 bytes a name
  if (uri.empty() || uri.size() > longest || has_scheme) return {};
  return (fs::path(mesh_file).parent_path() / percent_decoded(uri)).lexically_normal().string();
}

std::vector<std::string> buffer_files(const std::string& mesh_file, std::string_view bytes) {
  const std::string extension = lower_extension(mesh_file);
  if (extension != ".gltf" && extension != ".glb") return {};
  std::vector<std::string> files;
  if (!json_fault(gltf_json(bytes)).empty()) return files;
  const auto gltf = nlohmann::json::parse(gltf_json(bytes), nullptr, false);
  if (!gltf.is_object()) return files;
  const auto buffers = gltf.find("buffers");
  if (buffers == gltf.end() || !buffers->is_array()) return files;
  for (const auto& buffer : *buffers) {
    if (!buffer.is_object()) continue;
    const auto uri = buffer.find("uri");
    if (uri == buffer.end() || !uri->is_string()) continue;
    if (auto file = file_of_uri(mesh_file, uri->get<std::string>()); !file.empty()) files.push_back(std::move(file));
  }
  return files;
}

}  // namespace holdfast::model
