// SPDX-License-Identifier: GPL-3.0-or-later
#include "hostile_cases.h"

#include <array>
#include <cctype>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "bytes.h"

namespace holdfast::hostile {

using nlohmann::json;
using support::put;

const std::string& sound_structure() {
  static const std::string text =
      "holdfast: structure/1\n"
      "name: Small yard\n"
      "states:\n"
      "  dish: {positions: [parked, tracking], default: parked}\n"
      "parts:\n"
      "  - {id: drum, shape: {cylinder: {from: [0, 0, 0], to: [6, 0, 0], radius: 1}}}\n"
      "rails:\n"
      "  - {id: line-1, part: drum, points: [[0.5, 0, -1.07], [2, 0, -1.07]], for: [hands, tether, cable]}\n"
      "  - {id: line-2, part: drum, points: [[2.2, 0, -1.07], [4, 0, -1.07]]}\n"
      "rail_files: [rails.csv]\n"
      "anchors:\n"
      "  - {id: hook, part: drum, at: [0.4, 0, -1]}\n"
      "places:\n"
      "  - {id: hatch, kind: hatch, at: [0.5, 0, -1.1], within_m: 0.5}\n"
      "  - {id: bench, kind: worksite, at: [3.9, 0, -1.1], within_m: 0.5}\n"
      "zones:\n"
      "  - {id: beam, shape: {sphere: {center: [5, 0, -3], radius: 0.5}}, keeps_out: [body], effect: forbid, reason: "
      "radio beam}\n";
  return text;
}

const std::string& sound_kit() {
  static const std::string text = "holdfast: kit/1\nname: Small kit\nsuits:\n  - {id: plain}\n";
  return text;
}

namespace {

const std::string table =
    "id,part,x1,y1,z1,x2,y2,z2,hands\nside-1,drum,0.5,1.07,0,2,1.07,0,yes\nside-2,drum,2.2,1.07,0,4,1.07,0,yes\n";

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  if (at == std::string::npos) throw std::logic_error("nothing to replace: " + from);
  return text.replace(at, from.size(), to);
}

std::string repeated(const std::string& text, int times) {
  std::string out;
  for (int i = 0; i < times; ++i) out += text;
  return out;
}

const std::vector<std::string> check = {"check", "model"};

// ---- mesh files ----------------------------------------------------------------------------------------------------

const std::string obj = "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n";
const std::string off = "OFF\n4 4 0\n0 0 0\n1 0 0\n0 1 0\n0 0 1\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n";
const std::string ply_header =
    "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\nelement face "
    "4\nproperty list uchar int vertex_indices\nend_header\n";
const std::string ply = ply_header + "0 0 0\n1 0 0\n0 1 0\n0 0 1\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n";

std::string text_stl() {
  std::string out = "solid t\n";
  const char* corners[] = {"0 0 0", "1 0 0", "0 1 0", "0 0 1"};
  for (const auto& t : {std::array{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}) {
    out += "facet normal 0 0 0\nouter loop\n";
    for (const int c : t) out += std::string("vertex ") + corners[c] + "\n";
    out += "endloop\nendfacet\n";
  }
  return out + "endsolid t\n";
}

std::string binary_stl(std::uint32_t count) {
  std::string out(80, ' ');
  put(out, count);
  for (int t = 0; t < 4; ++t) {
    for (int k = 0; k < 12; ++k) put(out, static_cast<float>((t * 5 + k * 3) % 7));
    put(out, std::uint16_t{0});
  }
  return out;
}

std::string binary_ply() {
  std::string out = replaced(ply_header, "ascii", "binary_little_endian");
  for (const float number : {0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1}) put(out, number);
  for (const auto& t : {std::array{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}) {
    out.push_back(3);
    for (const std::int32_t c : t) put(out, c);
  }
  return out;
}

std::string buffer() {
  std::string out;
  for (const float number : {0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1}) put(out, number);
  for (const std::uint16_t c : {0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3}) put(out, c);
  return out;
}

json gltf(const json& uri = "m.bin") {
  json document = {{"asset", {{"version", "2.0"}}},
                   {"scene", 0},
                   {"scenes", {{{"nodes", {0}}}}},
                   {"nodes", {{{"mesh", 0}, {"name", "body"}}}},
                   {"meshes", {{{"primitives", {{{"attributes", {{"POSITION", 0}}}, {"indices", 1}}}}}}},
                   {"accessors",
                    {{{"bufferView", 0}, {"componentType", 5126}, {"count", 4}, {"type", "VEC3"}},
                     {{"bufferView", 1}, {"componentType", 5123}, {"count", 12}, {"type", "SCALAR"}}}},
                   {"bufferViews",
                    {{{"buffer", 0}, {"byteOffset", 0}, {"byteLength", 48}},
                     {{"buffer", 0}, {"byteOffset", 48}, {"byteLength", 24}}}},
                   {"buffers", {{{"byteLength", 72}}}}};
  if (!uri.is_null()) document["buffers"][0]["uri"] = uri;
  return document;
}

std::string glb() {
  std::string text = gltf(nullptr).dump();
  text.resize((text.size() + 3) / 4 * 4, ' ');
  const std::string binary = buffer();
  std::string out = "glTF";
  put(out, 2u), put(out, static_cast<std::uint32_t>(20 + text.size() + 8 + binary.size()));
  put(out, static_cast<std::uint32_t>(text.size())), put(out, 0x4E4F534Au);
  out += text;
  put(out, static_cast<std::uint32_t>(binary.size())), put(out, 0x004E4942u);
  return out + binary;
}

Case with_mesh(const std::string& name, const std::string& file, const std::string& bytes,
               const std::string& node = "") {
  Case out{name, {}, check};
  out.files["model/" + file] = bytes;
  if (file.ends_with(".gltf")) out.files["model/m.bin"] = buffer();
  out.files["model/structure.yaml"] =
      replaced(sound_structure(), "rails:\n",
               "  - {id: block, at: {position: [0, 0, 5]}, shape: {mesh: {file: \"" + file + "\"" +
                   (node.empty() ? "" : ", node: " + node) + "}}}\nrails:\n");
  return out;
}

void add_meshes(std::vector<Case>& cases) {
  const std::vector<std::pair<std::string, std::string>> sound = {{"m.obj", obj},
                                                                  {"m.off", off},
                                                                  {"m.ply", ply},
                                                                  {"b.ply", binary_ply()},
                                                                  {"m.stl", text_stl()},
                                                                  {"b.stl", binary_stl(4)},
                                                                  {"m.gltf", gltf().dump()},
                                                                  {"m.glb", glb()}};
  for (const auto& [file, bytes] : sound) {
    std::string capitals = file;
    for (char& c : capitals) c = c == 'm' && &c == &capitals[0] ? 'm' : static_cast<char>(std::toupper(c));
    cases.push_back(with_mesh("sound " + file, file, bytes));
    if (capitals != file) {
      cases.push_back(with_mesh("sound " + capitals, capitals, bytes));
      if (capitals.ends_with(".GLTF")) cases.back().files["model/m.bin"] = buffer();
    }
    cases.push_back(with_mesh("empty " + file, file, ""));
    for (const int percent : {5, 25, 50, 77, 97})
      cases.push_back(with_mesh("cut at " + std::to_string(percent) + " % " + file, file,
                                bytes.substr(0, bytes.size() * static_cast<std::size_t>(percent) / 100)));
    cases.push_back(with_mesh("noise " + file, file, "\x01\x80\xff\xfe\x00 noise"));
    cases.push_back(with_mesh("a page " + file, file, "<!DOCTYPE html>\n<html><body>Not found</body></html>\n"));
    cases.push_back(with_mesh("with a node " + file, file, bytes, "nowhere"));
  }
  const auto add = [&](const std::string& name, const std::string& file, const std::string& bytes) {
    cases.push_back(with_mesh(name, file, bytes));
  };
  for (const char* end : {"\r", "\r\n"}) {
    std::string text;
    for (const char c : obj) c == '\n' ? text += end : text += c;
    add(std::string("sound line ends ") + (end[1] ? "crlf" : "cr"), "m.obj", text);
  }
  add("obj index 0", "m.obj", obj + "f 0 1 2\n");
  add("obj index beyond", "m.obj", obj + "f 1 2 999999999\n");
  add("obj curved surface", "m.obj", obj + "curv 0 1 1 2\n");
  add("obj calls a file", "m.obj", "call other.obj\n" + obj);
  add("obj not a number", "m.obj", replaced(obj, "1 0 0", "1 nought 0"));
  add("obj infinite", "m.obj", replaced(obj, "1 0 0", "inf 0 0"));
  add("obj far", "m.obj", replaced(obj, "1 0 0", "1e9 0 0"));
  add("obj weight of nothing", "m.obj", replaced(obj, "v 1 0 0", "v 1 0 0 0"));
  add("obj flat", "m.obj", "v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 3\n");
  add("obj points", "m.obj", "v 0 0 0\np 1\n");
  add("off of no corners", "m.off", replaced(off, "3 1 2 3", "0"));
  add("off huge counts", "m.off", replaced(off, "4 4 0", "4000000000 4000000000 0"));
  add("off negative counts", "m.off", replaced(off, "4 4 0", "-4 -4 0"));
  add("off in four dimensions", "m.off", replaced(off, "OFF", "4OFF"));
  add("off binary", "m.off", replaced(off, "OFF", "OFF BINARY"));
  add("ply two vertex elements", "m.ply",
      replaced(ply, "element face", "element vertex 1\nproperty float x\nelement face"));
  add("ply header without an end", "m.ply", replaced(ply, "end_header\n", ""));
  add("ply huge counts", "m.ply", replaced(ply, "vertex 4", "vertex 4000000000"));
  add("ply list beyond", "m.ply", replaced(ply, "3 1 2 3", "200000 1 2 3"));
  add("ply strips", "m.ply", replaced(ply, "element face 4", "element tristrips 4"));
  add("ply unknown type", "m.ply", replaced(ply, "float x", "quad x"));
  add("stl huge count", "b.stl", binary_stl(0xFFFFFFFF));
  add("stl four corners", "m.stl", replaced(text_stl(), "endloop", "vertex 3 3 3\nendloop"));
  add("stl out of order", "m.stl", replaced(text_stl(), "outer loop\n", ""));
  add("unknown kind", "m.step", "ISO-10303-21;");
  add("no kind", "mesh", obj);
  std::string many = "OFF\n20000 1 0\n" + repeated("0 0 0\n", 20'000) + "20000";
  for (int i = 0; i < 20'000; ++i) many += " " + std::to_string(i);
  add("off face of 20000 corners", "m.off", many + "\n");

  const auto change = [&](const std::string& name, const std::function<void(json&)>& edit) {
    json document = gltf();
    edit(document);
    add("gltf " + name, "m.gltf", document.dump());
  };
  change("1.0", [](json& d) { d["asset"]["version"] = "1.0"; });
  change("without asset", [](json& d) { d.erase("asset"); });
  change("sparse", [](json& d) { d["accessors"][0]["sparse"] = {{"count", 1}}; });
  change("skin that is not there", [](json& d) { d["nodes"][0]["skin"] = 3; });
  change("skin without joints", [](json& d) {
    d["nodes"][0]["skin"] = 0;
    d["skins"] = {json::object()};
  });
  change("skin of no weights", [](json& d) {
    d["nodes"][0]["skin"] = 0;
    d["skins"] = {{{"joints", {0}}}};
  });
  for (int mode = 0; mode < 4; ++mode)
    change("lines of mode " + std::to_string(mode), [&](json& d) { d["meshes"][0]["primitives"][0]["mode"] = mode; });
  change("mode 7", [](json& d) { d["meshes"][0]["primitives"][0]["mode"] = 7; });
  change("strip of one", [](json& d) {
    d["meshes"][0]["primitives"][0]["mode"] = 5;
    d["accessors"][1]["count"] = 1;
  });
  change("sound texture transform", [](json& d) {
    d["extensionsUsed"] = d["extensionsRequired"] = {"KHR_texture_transform"};
    d["materials"] = {{{"extensions", {{"KHR_texture_transform", 3}}}}};
  });
  change("draco", [](json& d) { d["extensionsRequired"] = {"KHR_draco_mesh_compression"}; });
  change("copies", [](json& d) { d["nodes"][0]["extensions"]["EXT_mesh_gpu_instancing"] = 1; });
  change("morphed", [](json& d) { d["meshes"][0]["weights"] = {1}; });
  change("own ancestor", [](json& d) { d["nodes"][0]["children"] = {0}; });
  change("two parents", [](json& d) { d["nodes"] = {{{"children", {1, 2}}}, {{"children", {2}}}, {{"mesh", 0}}}; });
  change("no scene", [](json& d) { d.erase("scenes"); });
  change("scene that is not there", [](json& d) { d["scene"] = 9; });
  change("count beyond", [](json& d) { d["accessors"][0]["count"] = 4000000000u; });
  change("count of a half", [](json& d) { d["accessors"][0]["count"] = 0.5; });
  change("component 1e300", [](json& d) { d["accessors"][0]["componentType"] = 1e300; });
  change("view beyond", [](json& d) { d["bufferViews"][0]["byteLength"] = 1000000; });
  change("buffer beyond", [](json& d) { d["buffers"][0]["byteLength"] = 1000000; });
  change("buffer outside", [](json& d) { d["buffers"][0]["uri"] = "../m.bin"; });
  change("buffer of a device", [](json& d) { d["buffers"][0]["uri"] = "/dev/zero"; });
  change("buffer on a network", [](json& d) { d["buffers"][0]["uri"] = "http://nowhere.invalid/m.bin"; });
  change("buffer not in base 64", [](json& d) { d["buffers"][0]["uri"] = "data:;base64,&&&&"; });
  change("buffer of a long name", [](json& d) { d["buffers"][0]["uri"] = std::string(5000, 'x'); });
  change("everything a number", [](json& d) {
    for (auto& [key, value] : d.items()) value = 1;
  });
  change("everything a list", [](json& d) {
    for (auto& [key, value] : d.items()) value = json::array({json::array()});
  });
  add("gltf deep", "m.gltf", "{\"asset\":{\"version\":\"2.0\"},\"extras\":" + repeated("[", 100'000));
  add("gltf of commas", "m.gltf", "{\"asset\":[" + std::string(2'500'000, ',') + "]}");
  add("glb of version 1", "m.glb", replaced(glb(), std::string("\x02\0\0\0", 4), std::string("\x01\0\0\0", 4)));
}

// ---- model files ---------------------------------------------------------------------------------------------------

void add_texts(std::vector<Case>& cases) {
  const auto structure = [&](const std::string& name, const std::string& from, const std::string& to) {
    cases.push_back({name, {{"model/structure.yaml", replaced(sound_structure(), from, to)}}, check});
  };
  // Characters that act, raw and by escape, in a name, a reason, an id, a key and a comment.
  const std::vector<std::pair<std::string, std::string>> characters = {
      {"\\0", "U+0000"},     {"\\a", "U+0007"},     {"\\e", "U+001B"},     {"\\x7f", "U+007F"},   {"\\u0085", "U+0085"},
      {"\\u009b", "U+009B"}, {"\\n", "U+000A"},     {"\\t", "U+0009"},     {"\\u200f", "U+200F"}, {"\\u2028", "U+2028"},
      {"\\u202e", "U+202E"}, {"\\u2066", "U+2066"}, {"\\ufeff", "U+FEFF"}, {"\\uffff", "U+FFFF"}};
  for (const auto& [escape, point] : characters) {
    structure("name with " + point, "name: Small yard", "name: \"Small " + escape + "yard\"");
    structure("reason with " + point, "reason: radio beam", "reason: \"radio " + escape + " beam\"");
  }
  for (const auto& [bytes, point] : {std::pair{"\xe2\x80\xae", "U+202E"},
                                     {"\xc2\x9b", "U+009B"},
                                     {"\x1b", "U+001B"},
                                     {"\xff", "no UTF-8"},
                                     {"\xed\xa0\x80", "a surrogate"}}) {
    structure(std::string("raw name with ") + point, "Small yard", std::string("Small ") + bytes + "yard");
    structure(std::string("comment with ") + point, "name: Small", std::string("# ") + bytes + "\nname: Small");
    cases.push_back({std::string("kit with ") + point, {{"model/kit.yaml", sound_kit() + "# " + bytes + "\n"}}, check});
    cases.push_back({std::string("table with ") + point,
                     {{"model/rails.csv", replaced(table, "side-1", std::string("side") + bytes)}},
                     check});
  }
  structure("sound reason in a block", "reason: radio beam}", "reason: \"radio beam\"}");
  structure("id with NUL", "id: beam", "id: \"be\\0am\"");
  structure("id of 65 letters", "id: beam", "id: " + std::string(65, 'b'));
  structure("reference that begins as an id", "part: drum, points: [[0.5",
            "part: drum-" + std::string(60, 'd') + ", points: [[0.5");
  structure("reference cut at sixty", "{id: drum,",
            "{id: " + std::string(60, 'd') + "..., shape: {sphere: {center: [0, 0, 9], radius: 1}}}\n  - {id: drum,");
  cases.back().files["model/structure.yaml"] =
      replaced(cases.back().files["model/structure.yaml"], "part: drum, points: [[2.2",
               "part: " + std::string(62, 'd') + ", points: [[2.2");
  structure("repeat beyond 10 km", "[2, 0, -1.07]], for: [hands, tether, cable]}",
            "[2, 0, -1.07]], repeat: {count: 1000, step: [100, 0, 0]}}");
  structure("repeat 0", "for: [hands, tether, cable]}", "repeat: {count: 0, step: [1, 0, 0]}}");
  structure("repeat 1e9", "for: [hands, tether, cable]}", "repeat: {count: 1000000000, step: [1, 0, 0]}}");
  structure("point beyond 10 km", "[0.5, 0, -1.07]", "[50000, 0, -1.07]");
  structure("point of nan", "[0.5, 0, -1.07]", "[.nan, 0, -1.07]");
  structure("point of two", "[0.5, 0, -1.07]", "[0.5, 0]");
  structure("point of words", "[0.5, 0, -1.07]", "[left, 0, -1.07]");
  structure("same point twice", "[[0.5, 0, -1.07], [2, 0, -1.07]]", "[[2, 0, -1.07], [2, 0, -1.07]]");
  structure("duplicate id", "id: line-2", "id: line-1");
  structure("duplicate key", "name: Small yard", "name: Small yard\nname: again");
  structure("unknown key", "name: Small yard", "nmae: Small yard");
  structure("unknown format", "structure/1", "structure/9");
  structure("no format", "holdfast: structure/1\n", "");
  structure("alias", "name: Small yard", "name: &n Small yard\nother: *n");
  structure("merge key", "name: Small yard", "<<: {name: Small yard}");
  structure("two documents", "name: Small yard", "name: Small yard\n---\nname: other");
  structure("open bracket", "[parked, tracking]", "[parked, tracking");
  structure("open quote", "name: Small yard", "name: \"Small yard");
  structure("tab", "  dish:", "\tdish:");
  structure("deep brackets", "name: Small yard", "name: " + repeated("[", 5000));
  structure(
      "deep indents", "name: Small yard", "name:\n" + [] {
        std::string out;
        for (int i = 0; i < 600; ++i) out += std::string(static_cast<std::size_t>(i) + 1, ' ') + "a:\n";
        return out;
      }());
  structure("long line", "name: Small yard", "name: " + std::string(200'000, 'x'));
  structure("long word", "part: drum, points: [[0.5", "part: " + std::string(90'000, 'x') + ", points: [[0.5");
  structure("switch of 2000 positions", "[parked, tracking]", [] {
    std::string out = "[parked";
    for (int i = 1; i < 2000; ++i) out += ", p" + std::to_string(i);
    return out + "]";
  }());
  structure("position twice", "[parked, tracking]", "[parked, parked]");
  structure("default that is not there", "default: parked", "default: stowed");
  structure("zone with unknown effect", "effect: forbid", "effect: explode");
  structure("zone without reason", ", reason: radio beam", "");
  structure("zone of negative radius", "radius: 0.5}}, keeps", "radius: -0.5}}, keeps");
  structure("place within nothing", "within_m: 0.5}\n  - {id: bench", "within_m: 0}\n  - {id: bench");
  structure("part of two shapes", "{cylinder: {", "{sphere: {radius: 1}, cylinder: {");
  structure("part of no shape", "shape: {cylinder: {from: [0, 0, 0], to: [6, 0, 0], radius: 1}}", "name: d");
  structure("table outside", "[rails.csv]", "[../rails.csv]");
  structure("table absolute", "[rails.csv]", "[/etc/passwd]");
  structure("table with a NUL", "[rails.csv]", "[\"rails.csv\\0.txt\"]");
  structure("parts as text", "parts:\n", "parts: none\nothers:\n");
  structure("dish of 100000 m", "rails:\n",
            "  - {id: bowl, at: {position: [0, 0, 9000]}, shape: {dish: {radius: 9000, depth: 9000}}}\nrails:\n");
  structure("rail of 9 km in 1 mm", "[[2.2, 0, -1.07], [4, 0, -1.07]]", "[[2.2, 0, -1.07], [9000, 0, -1.07]]");
  cases.back().arguments = {"check", "model", "--set", "design.grip_spacing_m=0.002"};
  cases.push_back({"utf-16", {{"model/structure.yaml", std::string("\xff\xfe h\0o\0", 8)}}, check});
  cases.push_back({"empty structure", {{"model/structure.yaml", ""}}, check});
  cases.push_back({"empty kit", {{"model/kit.yaml", ""}}, check});
  std::string rails;
  for (int i = 0; i < 20'000; ++i) rails += "  - {id: q-" + std::to_string(i) + ", part: drmu, points: [[0, 0, 3]]}\n";
  cases.push_back({"20000 misspelt references",
                   {{"model/structure.yaml", replaced(sound_structure(), "rail_files:", rails + "rail_files:")}},
                   check});
  std::string parts = "holdfast: structure/1\nname: n\nparts:\n";
  for (int i = 0; i < 5000; ++i)
    parts +=
        "  - {id: part-of-the-long-row-" + std::to_string(i) + ", shape: {sphere: {center: [0, 0, 0], radius: 1}}}\n";
  parts += "rails:\n";
  for (int i = 0; i < 5000; ++i)
    parts += "  - {id: q-" + std::to_string(i) + ", part: prat-of-the-long-row-" + std::to_string(i) +
             ", points: [[0, 0, 3]]}\n";
  cases.push_back({"5000 misspelt references to 5000 parts", {{"model/structure.yaml", parts}}, check});

  const auto kit = [&](const std::string& name, const std::string& text) {
    cases.push_back({"kit " + name, {{"model/kit.yaml", text}}, check});
  };
  kit("of another format", "holdfast: structure/1\n");
  kit("with unknown key", sound_kit() + "rockets: []\n");
  kit("with negative reach", replaced(sound_kit(), "{id: plain}", "{id: plain, reach_m: -1}"));
  kit("with infinite reach", replaced(sound_kit(), "{id: plain}", "{id: plain, reach_m: .inf}"));
  kit("with reach in words", replaced(sound_kit(), "{id: plain}", "{id: plain, reach_m: far}"));
  kit("with 1e400", replaced(sound_kit(), "{id: plain}", "{id: plain, reach_m: 1e400}"));
  kit("with two suits of one id", replaced(sound_kit(), "- {id: plain}", "- {id: plain}\n  - {id: plain}"));
  kit("with a suit that is a list", replaced(sound_kit(), "{id: plain}", "[plain]"));
  kit("with a source that acts",
      replaced(sound_kit(), "{id: plain}", "{id: plain, reach_m: {value: 0.6, source: \"\\e[2J\"}}"));
  kit("with a cable to nowhere", sound_kit() + "cables:\n  - {id: c, connects: [[hatch, moon]]}\n");

  const auto rows = [&](const std::string& name, const std::string& text) {
    cases.push_back({"table " + name, {{"model/rails.csv", text}}, check});
  };
  rows("empty", "");
  rows("sound, of a header alone", "id,part,x1,y1,z1,x2,y2,z2\n");
  rows("with a missing column", replaced(table, "z2,", ""));
  rows("with a column twice", replaced(table, "x1,y1", "x1,x1"));
  rows("with an open quote", table + "\"side-3,drum,1,1,1,2,2,2,yes\n");
  rows("with a short row", table + "side-3,drum,1,1\n");
  rows("with a long row", table + "side-3,drum,1,1,1,2,2,2,yes,more,and,more\n");
  rows("with words for numbers", replaced(table, "0.5,1.07,0", "half,1.07,0"));
  rows("with a decimal comma among points", replaced(table, "0.5,1.07,0", "\"0,5\",1.07,0"));
  rows("with inf", replaced(table, "0.5,1.07,0", "inf,1.07,0"));
  rows("with 1e9", replaced(table, "0.5,1.07,0", "1e9,1.07,0"));
  rows("with an unknown part", replaced(table, "side-1,drum", "side-1,dram"));
  rows("with a bad id", replaced(table, "side-1", "side 1"));
  rows("with an id twice", replaced(table, "side-2", "side-1"));
  rows("with a formula for an id", replaced(table, "side-1", "=1+1"));
  rows("with maybe", replaced(table, ",yes\nside-2", ",maybe\nside-2"));
  rows("that is a picture", "\x89PNG\r\n\x1a\n");
  std::string bad_rows = table;
  for (int i = 0; i < 5000; ++i) bad_rows += "x-" + std::to_string(i) + ",durm,1,1,1,2,2,2,yes\n";
  rows("with 5000 misspelt parts", bad_rows);
}

// ---- what is no plain file, or too large ---------------------------------------------------------------------------

void add_files(std::vector<Case>& cases) {
  for (const char* file : {"structure.yaml", "kit.yaml", "rails.csv", "m.obj", "m.bin"}) {
    const std::string path = std::string("model/") + file;
    Case base = std::string(file) == "m.bin" ? with_mesh("", "m.gltf", gltf().dump()) : with_mesh("", "m.obj", obj);
    if (std::string(file) == "structure.yaml") base = {"", {}, check};
    base.files.erase(path);
    const auto add = [&](const std::string& name, const std::string& line) {
      Case one = base;
      one.name = std::string(file) + " " + name;
      one.before = {"rm -f " + path, line + " " + path};
      cases.push_back(std::move(one));
    };
    add("is a pipe", "mkfifo");
    add("is a folder", "mkdir");
    add("is a link to a device", "ln -s /dev/zero");
    add("is a link to the process", "ln -s /proc/self/mem");
    add("is a link to itself", "ln -s " + std::string(file));
    add("leads out", "ln -s /etc/passwd");
    add("is missing", "rm -f");
    add("is larger than 64 MiB", "truncate -s 70M");
  }
  for (const auto& [name, line] : {std::pair<std::string, std::string>{"is a pipe", "mkfifo r.json"},
                                   {"is a folder", "mkdir r.json"},
                                   {"is a device", "ln -s /dev/zero r.json"},
                                   {"is missing", "true"},
                                   {"is larger than 64 MiB", "truncate -s 70M r.json"}})
    cases.push_back({"result " + name, {}, {"draw", "model", "r.json", "--svg", "out.svg"}, {line}});
}

// ---- results -------------------------------------------------------------------------------------------------------

void add_results(std::vector<Case>& cases, const std::string& route) {
  const auto add = [&](const std::string& name, const std::string& text) {
    cases.push_back({"result " + name, {{"r.json", text}}, {"draw", "model", "r.json", "--svg", "out.svg"}});
  };
  add("sound", route);
  add("empty", "");
  add("of text", "hello");
  add("of a list", "[]");
  add("of null", "null");
  add("deep", repeated("[", 100'000));
  add("of commas", "[" + std::string(9'000'000, ',') + "]");
  for (const int percent : {10, 50, 99})
    add("cut at " + std::to_string(percent) + " %",
        route.substr(0, route.size() * static_cast<std::size_t>(percent) / 100));
  const auto document = json::parse(route);
  const auto change = [&](const std::string& name, const std::function<void(json&)>& edit) {
    json changed = document;
    edit(changed);
    add(name, changed.dump());
  };
  for (const auto& [key, value] : document.items()) {
    change("without " + key, [&, k = key](json& d) { d.erase(k); });
    change("with a number for " + key, [&, k = key](json& d) { d[k] = 7; });
    change("with null for " + key, [&, k = key](json& d) { d[k] = nullptr; });
  }
  change("of another structure", [](json& d) { d["model"]["structure_digest"] = std::string(64, '0'); });
  change("of another version", [](json& d) { d["holdfast"] = "result/99"; });
  change("that clears a terminal", [](json& d) { d["outcome"] = "\x1b[2J"; });
  change("that turns text round", [](json& d) { d["request"]["from"] = "\xe2\x80\xaetcennoc"; });
  add("not in UTF-8", replaced(route, "\"verb\"", "\"\xff\""));
}

// ---- excursions ----------------------------------------------------------------------------------------------------

const std::string excursion =
    "holdfast: excursion/1\n"
    "name: Out and back\n"
    "crew:\n"
    "  - {id: EV1, start: hatch, sequence: [{go: bench}, {do: look}, return]}\n"
    "tasks:\n"
    "  - {id: look, at: bench, duration: 5 min}\n"
    "task_files: [tasks.csv]\n"
    "events:\n"
    "  - {id: turn, throw: {dish: tracking}, at: 1:00:00}\n"
    "windows:\n"
    "  - {id: contact, from: 0:10:00, to: 0:40:00}\n"
    "orbit: {period: 92 min, night: 35 min, first_sunset: 20 min}\n";
const std::string task_table =
    "id,duration,at,after,priority,states,windows,day\nread,5 min,bench,look,1,dish=parked,contact,yes\n";

void add_excursions(std::vector<Case>& cases) {
  const auto add = [&](const std::string& name, const std::string& text, const std::string& tasks = task_table) {
    cases.push_back({"excursion " + name,
                     {{"model/excursion.yaml", text}, {"model/tasks.csv", tasks}},
                     {"plan", "model", "model/excursion.yaml"}});
  };
  const auto change = [&](const std::string& name, const std::string& from, const std::string& to) {
    add(name, replaced(excursion, from, to));
  };
  const auto rows = [&](const std::string& name, const std::string& text) {
    add("with a table " + name, excursion, text);
  };
  add("sound", excursion);
  cases.push_back(cases.back());
  cases.back().name = "excursion sound, to be put in order", cases.back().arguments[0] = "order";
  cases.back().files["model/excursion.yaml"] = replaced(excursion, ", sequence: [{go: bench}, {do: look}, return]", "");
  add("empty", "");
  add("of another format", replaced(excursion, "excursion/1", "structure/1"));
  add("without a format", replaced(excursion, "holdfast: excursion/1\n", ""));
  add("of brackets", std::string(5000, '['));
  add("that is a result", "{\"holdfast\": \"result/1\"}");
  add("not in UTF-8", excursion + "# \xff\n");
  for (const int percent : {30, 60, 85})
    add("cut at " + std::to_string(percent) + " %",
        excursion.substr(0, excursion.size() * static_cast<std::size_t>(percent) / 100) + "[");
  change("with an unknown key", "name:", "nmae:");
  change("with an alias", "name: Out and back", "name: &a Out\nlimit: *a");
  change("with a name that acts", "name: Out and back", "name: \"Out\\e[2J\"");
  change("with a name turned round", "name: Out", "name: \xe2\x80\xaeOut");
  change("without crew", "crew:", "crow:");
  change("with crew that is a word", "crew:\n  - {id: EV1, start: hatch, sequence: [{go: bench}, {do: look}, return]}",
         "crew: EV1");
  change("with three in the crew", "tasks:\n", "  - {id: EV2, start: hatch}\n  - {id: EV3, start: hatch}\ntasks:\n");
  change("with two of one name", "tasks:\n", "  - {id: EV1, start: hatch}\ntasks:\n");
  change("that starts nowhere", "start: hatch", "start: htach");
  change("that goes nowhere", "{go: bench}", "{go: moon}");
  change("that does what is no task", "{do: look}", "{do: lok}");
  change("with an unknown action", "{go: bench}", "{fly: bench}");
  change("with an action of two verbs", "{go: bench}", "{go: bench, do: look}");
  change("with an action that is a list", "{go: bench}", "[go, bench]");
  change("with an action after the return", "return]", "return, {go: bench}]");
  change("with an end after the return", "return]", "return], end: [return]");
  change("that does a task twice", "{do: look}", "{do: look}, {do: look}");
  for (const auto& [name, time] : {std::pair{"without a unit", "5"},
                                   {"of two parts", "12:30"},
                                   {"that is negative", "-5 min"},
                                   {"of words", "soon"},
                                   {"of 1e400 s", "1e400 s"},
                                   {"of nan", "nan s"},
                                   {"of a year", "9000 h"},
                                   {"of a list", "[5, min]"},
                                   {"of nothing", "\"\""}})
    change(std::string("with a time ") + name, "duration: 5 min", std::string("duration: ") + time);
  change("with a time in two keys", "duration: 5 min", "duration: 5 min, duration_s: 300");
  change("with a night longer than its orbit", "night: 35 min", "night: 93 min");
  change("with an orbit of nothing", "period: 92 min", "period: 0 s");
  change("with a window that ends before it begins", "to: 0:40:00", "to: 0:05:00");
  change("that throws an unknown switch", "{dish: tracking}", "{dihs: tracking}");
  change("that throws to an unknown position", "{dish: tracking}", "{dish: up}");
  change("with an event at no time", ", at: 1:00:00", "");
  change("with an event that throws and holds", "throw: {dish: tracking}", "throw: {dish: tracking}, hold: [EV1]");
  change("with two throws at once", "windows:\n", "  - {id: back, throw: {dish: parked}, at: 1:00:00}\nwindows:\n");
  change("with an item of no load", "events:\n", "items:\n  - {id: bag, load: bag, at: hatch}\nevents:\n");
  change("with a table outside", "[tasks.csv]", "[../tasks.csv]");
  change("with a table that is a device", "[tasks.csv]", "[/dev/zero]");
  change("with a table that is a word", "[tasks.csv]", "tasks.csv");
  change("with a table in a table", "[tasks.csv]", "[[tasks.csv]]");
  rows("sound, of a header alone", "id,duration\n");
  rows("that is empty", "");
  rows("with a missing column", replaced(task_table, "duration,", ""));
  rows("with a column twice", replaced(task_table, "at,after", "at,at"));
  rows("with an open quote", task_table + "\"x,5 min,bench,,,,,\n");
  rows("with a short row", task_table + "x,5 min\n");
  rows("with a bad id", replaced(task_table, "read,", "re ad,"));
  rows("with a formula for an id", replaced(task_table, "read,", "=1+1,"));
  rows("with an id of the file", replaced(task_table, "read,", "look,"));
  rows("with a time of words", replaced(task_table, "5 min", "five"));
  rows("with an unknown place", replaced(task_table, ",bench,", ",bnech,"));
  rows("with an unknown task before", replaced(task_table, ",look,", ",lok,"));
  rows("with half a priority", replaced(task_table, ",1,", ",0.5,"));
  rows("with a priority of nan", replaced(task_table, ",1,", ",nan,"));
  rows("with half a state", replaced(task_table, "dish=parked", "dish"));
  rows("with a state of no position", replaced(task_table, "dish=parked", "dish="));
  rows("with an unknown window", replaced(task_table, "contact", "contcat"));
  rows("with maybe", replaced(task_table, ",yes", ",maybe"));
  rows("with a direction mark", replaced(task_table, "read,",
                                         "re\xe2\x80\xae"
                                         "ad,"));
  rows("that is a picture", "\x89PNG\r\n\x1a\n");
  // Each names another that is not there: looked for once a fault that is listed, not once a fault.
  std::string tasks = "id,duration,at,after\n", items, events, actions;
  for (int i = 0; i < 20'000; ++i) {
    const std::string n = std::to_string(i);
    tasks += "task-of-the-long-row-" + n + ",1 min,bnech,tsak-of-the-long-row-" + n + "\n";
    items += "  - {id: t" + n + ", load: bgg, at: bnech, in: u" + n + "}\n";
    events += "  - {id: e" + n + ", throw: {dish: " + (i % 2 ? "parked" : "tracking") + "}, at: 1 min, takes: 1 h}\n";
    actions += "{go: bnech}, ";
  }
  rows("of 20000 misspelt references", tasks);
  rows(
      "of 40000 tasks", "id,duration\n" + [] {
        std::string out;
        for (int i = 0; i < 40'000; ++i) out += "t" + std::to_string(i) + ",1 min\n";
        return out;
      }());
  change("with 20000 misspelt items", "events:\n", "items:\n" + items + "events:\n");
  change("with 20000 throws at once", "windows:\n", events + "windows:\n");
  change("with 20000 misspelt actions", "{go: bench}, ", actions.substr(0, actions.size() - actions.size() / 10));
  for (const char* file : {"excursion.yaml", "tasks.csv"})
    for (const auto& [name, line] : {std::pair<std::string, std::string>{"is a pipe", "mkfifo"},
                                     {"is a folder", "mkdir"},
                                     {"is a device", "ln -s /dev/zero"},
                                     {"is missing", "rm -f"},
                                     {"is larger than 64 MiB", "truncate -s 70M"}}) {
      add(std::string("whose ") + file + " " + name, excursion);
      cases.back().files.erase("model/" + std::string(file));
      cases.back().before = {line + " model/" + file};
    }
}

// ---- what is kept --------------------------------------------------------------------------------------------------

/// Damage to what is kept never shows in an answer.
void add_kept(std::vector<Case>& cases, const std::string& command) {
  const std::string fill = "XDG_CACHE_HOME=$PWD/cache " + command + " route model --from hatch --to bench > /dev/null";
  for (const auto& [name, line] : {std::pair<std::string, std::string>{"empty", ": > $f"},
                                   {"cut short", "truncate -s 100 $f"},
                                   {"of noise", "head -c 5000 /dev/urandom > $f"},
                                   {"with its last byte gone", "truncate -s -1 $f"},
                                   {"that is a folder", "rm $f; mkdir $f"},
                                   {"that is a pipe", "rm $f; mkfifo $f"},
                                   {"that is a link to a device", "ln -sf /dev/zero $f"},
                                   {"that is a link to itself", "rm $f; ln -s $f $f"},
                                   {"that may not be read", "chmod 0 $f"},
                                   {"larger than all of the store", "truncate -s 2G $f"}})
    cases.push_back({"sound, with a kept file " + name,
                     {},
                     {"route", "model", "--from", "hatch", "--to", "bench"},
                     {fill, "cd cache/holdfast && for f in $(ls); do " + line + "; done"}});
  cases.push_back({"sound, with a file for the folder of what is kept",
                   {},
                   {"route", "model", "--from", "hatch", "--to", "bench"},
                   {"rm -rf cache; mkdir cache; : > cache/holdfast"}});
}

// ---- arguments -----------------------------------------------------------------------------------------------------

void add_arguments(std::vector<Case>& cases) {
  const auto add = [&](const std::string& name, std::vector<std::string> arguments) {
    cases.push_back({"arguments " + name, {}, std::move(arguments)});
  };
  const auto route = [](std::vector<std::string> more, const std::string& from = "hatch") {
    std::vector<std::string> out = {"route", "model", "--from", from, "--to", "bench"};
    out.insert(out.end(), more.begin(), more.end());
    return out;
  };
  add("sound", route({}));
  add("from beyond 10 km", route({}, "1e6,0,0"));
  add("from infinity", route({}, "inf,0,0"));
  add("from nan", route({}, "nan,0,0"));
  add("from a place with an escape", route({}, "ha\x1b[31mtch"));
  add("from a place turned round", route({}, "ha\xe2\x80\xaetch"));
  add("from a place not in UTF-8", route({}, "ha\xfftch"));
  add("from a place with a line end", route({}, "ha\ntch"));
  add("from nothing", route({}, ""));
  add("from a long word", route({}, std::string(100'000, 'x')));
  add("unsafe and as JSON", route({"--json"}, "ha\x1b[31mtch"));
  add("model with an escape", {"check", "mo\x1b[1mdel"});
  add("limit of nothing", route({"--size-limit", "grips"}));
  add("limit of what is not there", route({"--size-limit", "grasps=4"}));
  add("limit that is too low", route({"--size-limit", "grips=10"}));
  add("moves limited", route({"--size-limit", "moves=5"}));
  add("triangles limited", {"check", "model", "--size-limit", "triangles=1"});
  cases.back().files = with_mesh("", "m.obj", obj).files;
  add("sound triangles at the limit", {"check", "model", "--size-limit", "triangles=4"});
  cases.back().files = with_mesh("", "m.obj", obj).files;
  add("places limited", {"matrix", "model", "--size-limit", "places=1"});
  add("points limited", route({"--size-limit", "rail-points=1"}));
  add("csv over the structure", route({"--csv", "model/structure.yaml"}));
  add("csv over the kit by another way", route({"--csv", "model/../model/./kit.yaml"}));
  add("csv over the table", route({"--csv", "model/rails.csv"}));
  add("csv over a hard link of the table", route({"--csv", "twin.csv"}));
  cases.back().before = {"ln model/rails.csv twin.csv"};
  add("csv over a link to the kit", route({"--csv", "link.csv"}));
  cases.back().before = {"ln -s model/kit.yaml link.csv"};
  add("svg over the result", {"draw", "model", "route.json", "--svg", "route.json"});
  add("csv over the result", {"home", "model", "--to", "hatch", "--along", "route.json", "--csv", "route.json"});
  add("two of one name", {"draw", "model", "--svg", "a.x", "--html", "./a.x"});
  add("second target in no folder", {"draw", "model", "--svg", "first.svg", "--html", "no/such.html"});
  add("csv into a folder", route({"--csv", "model"}));
  add("csv into a device", route({"--csv", "/dev/full"}));
  add("csv under a file", route({"--csv", "model/kit.yaml/x.csv"}));
  add("csv in no folder", route({"--csv", "no/such.csv"}));
  add("csv of a name too long", route({"--csv", std::string(256, 'n')}));
  add("sound csv of the longest name", route({"--csv", std::string(255, 'n')}));
  add("csv of no name", route({"--csv", ""}));
}

}  // namespace

std::vector<Case> all_cases(const std::string& route) {
  std::vector<Case> cases;
  add_meshes(cases);
  add_texts(cases);
  add_files(cases);
  add_results(cases, route);
  add_arguments(cases);
  add_excursions(cases);
  add_kept(cases, HOLDFAST_COMMAND);
  for (auto& one : cases)
    if (!one.files.count("model/rails.csv") && one.name.rfind("rails.csv", 0) != 0)
      one.files["model/rails.csv"] = table;
  return cases;
}

}  // namespace holdfast::hostile
