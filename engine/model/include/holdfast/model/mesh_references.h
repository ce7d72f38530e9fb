// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Files that a mesh file names and that hold part of its geometry: they are digested with it, and nothing else is read.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace holdfast::model {

/// The JSON of a glTF file: the text itself, or the first chunk of the binary form (glTF 2.0 specification, 4.4).
/// Empty where a binary file is too short for it.
[[nodiscard]] std::string_view gltf_json(std::string_view bytes);

/// What makes this JSON unsafe to parse: brackets nested more than 64 deep, or more than 2,000,000 values. Empty where
/// nothing does. One pass, no recursion, no memory.
[[nodiscard]] std::string json_fault(std::string_view json, std::size_t most_values = 2'000'000);

/// Name, relative to the model folder, of the file that `uri` names in `mesh_file`; percent-decoded. Empty for a URI
/// that names no file: `data:` and other schemes, or more than 4096 bytes.
[[nodiscard]] std::string file_of_uri(const std::string& mesh_file, const std::string& uri);

/// Buffers that a .gltf or .glb file names, in the order of the file; none for other kinds (what an OBJ's `mtllib`
/// names is never read). Nothing where the JSON cannot be parsed: `geometry` refuses such a file.
[[nodiscard]] std::vector<std::string> buffer_files(const std::string& mesh_file, std::string_view bytes);

}  // namespace holdfast::model
