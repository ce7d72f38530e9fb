// SPDX-License-Identifier: GPL-3.0-or-later
// One table of a run of benchmarks: case, ours, peer, ratio, target, met or not.
//
//   bench_table targets.csv RESULT.json ...          prints the table
//   bench_table --filter targets.csv                 prints a regular expression of the benchmarks of the short form

#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace {

/// Fields of a line, those in quotes without them.
std::vector<std::string> fields_of(const std::string& line) {
  std::vector<std::string> fields(1);
  bool is_quoted = false;
  for (const char c : line) {
    if (c == '"')
      is_quoted = !is_quoted;
    else if (c == ',' && !is_quoted)
      fields.emplace_back();
    else
      fields.back() += c;
  }
  return fields;
}

struct Target {
  std::string name, ours, peer, target;
  bool is_short = false;
};

std::vector<Target> read_targets(const char* file) {
  std::ifstream in(file);
  std::vector<Target> targets;
  std::string line;
  std::getline(in, line);  // the header
  while (std::getline(in, line)) {
    const auto fields = fields_of(line);
    if (fields.size() != 5) {
      fmt::print(stderr, "{}: this line has {} fields, not 5: {}\n", file, fields.size(), line);
      std::exit(2);
    }
    targets.push_back({fields[0], fields[1], fields[2], fields[3], fields[4] == "yes"});
  }
  return targets;
}

/// `BM_Home/iterations:1/real_time` is `BM_Home`.
std::string plain_name(std::string name) {
  for (const char* mark : {"/iterations:", "/real_time", "/min_time:"})
    if (const auto at = name.find(mark); at != std::string::npos) {
      const auto end = name.find('/', at + 1);
      name.erase(at, end == std::string::npos ? std::string::npos : end - at);
    }
  return name;
}

void read_times(const char* file, std::map<std::string, double>& seconds) {
  std::ifstream in(file);
  const auto document = nlohmann::json::parse(in, nullptr, false);
  if (!document.is_object() || !document.contains("benchmarks")) return;
  const std::map<std::string, double> units = {{"ns", 1e-9}, {"us", 1e-6}, {"ms", 1e-3}, {"s", 1}};
  for (const auto& one : document["benchmarks"]) {
    if (one.value("error_occurred", false) || one.value("run_type", "iteration") != "iteration") continue;
    seconds[plain_name(one["name"])] = one["real_time"].get<double>() * units.at(one["time_unit"]);
  }
}

std::string time_words(std::optional<double> seconds) {
  if (!seconds) return "-";
  if (*seconds < 1e-3) return fmt::format("{:.3g} us", *seconds * 1e6);
  if (*seconds < 1) return fmt::format("{:.3g} ms", *seconds * 1e3);
  return fmt::format("{:.3g} s", *seconds);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 3 && std::string(argv[1]) == "--filter") {
    std::string all;
    for (const auto& target : read_targets(argv[2])) {
      if (!target.is_short) continue;
      for (const auto& name : {target.ours, target.peer})
        if (!name.empty()) all += (all.empty() ? "^" : "|^") + name + "(/iterations.*|/real_time.*|/min_time.*)?$";
    }
    fmt::print("{}\n", all);
    return 0;
  }
  if (argc < 3) {
    fmt::print(stderr, "bench_table targets.csv RESULT.json ...\n");
    return 2;
  }
  std::map<std::string, double> seconds;
  for (int i = 2; i < argc; ++i) read_times(argv[i], seconds);
  const auto time_of = [&](const std::string& name) {
    const auto found = seconds.find(name);
    return found == seconds.end() ? std::nullopt : std::optional(found->second);
  };
  fmt::print("{:<68} {:>10} {:>10} {:>8}  {:<24} {}\n", "case", "ours", "peer", "ratio", "target", "met");
  for (const auto& target : read_targets(argv[1])) {
    const auto ours = time_of(target.ours);
    const auto peer = target.peer.empty() ? std::nullopt : time_of(target.peer);
    if (!ours || (!target.peer.empty() && !peer)) continue;  // not of this run
    const bool is_least = target.target.starts_with("at least");
    const double limit = std::stod(target.target.substr(target.target.find_first_of("0123456789")));
    const double ratio = !peer ? *ours : is_least ? *peer / *ours : *ours / *peer;
    const bool is_met = is_least ? ratio >= limit : ratio <= limit;
    fmt::print("{:<68} {:>10} {:>10} {:>8}  {:<24} {}\n", target.name, time_words(ours), time_words(peer),
               peer ? fmt::format("{:.3g}", ratio) : "-", target.target, is_met ? "met" : "not met");
  }
  return 0;
}
