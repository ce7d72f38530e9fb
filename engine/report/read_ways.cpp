#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "holdfast/report/report.h"

namespace holdfast::report {

using Json = nlohmann::json;

namespace {

class ResultReader {
 public:
  ResultReader(const std::string& file, const std::string& digest) : file_(file), digest_(digest) {}

  std::vector<search::GivenWay> read_ways(const std::string& contents) {
    return read(contents, "route", [&](const Json& document) { return ways(document); });
  }
  cable::LaidCable read_laid(const std::string& contents) {
    return read(contents, "cable", [&](const Json& document) { return laid(document); });
  }

 private:
  [[noreturn]] void refuse(std::string problem, std::string remedy) const {
    throw model::InputError({{{.file = file_}, "", "wrong-result", std::move(problem), "", std::move(remedy)}});
  }

  /// What `take` makes of a result of this verb and this model.
  template <class Take, class Taken = std::invoke_result_t<Take, const Json&>>
  Taken read(const std::string& contents, const std::string& verb, Take&& take) {
    const std::string wanted = fmt::format("give what `holdfast {} ... --json` printed", verb);
    const Json document = Json::parse(contents, nullptr, false);
    if (document.is_discarded()) refuse("this is not JSON", wanted);
    try {
      if (!document.is_object() || document.value("holdfast", "") != "result/1" || document.value("verb", "") != verb)
        refuse(fmt::format("this is not a result of `holdfast {}`", verb), wanted);
      if (const std::string digest = document.at("model").at("digest"); digest != digest_)
        refuse(fmt::format("it was computed from another model: its digest is {}, and this model's {}",
                           digest.substr(0, 12), digest_.substr(0, 12)),
               fmt::format("compute the {} again with this model", verb));
      return take(document);
    } catch (const Json::exception& error) {
      refuse(fmt::format("a field is missing or of the wrong kind ({})", error.what()), wanted + ", unchanged");
    }
  }

  cable::LaidCable laid(const Json& document) {
    if (!document.contains("line"))
      refuse("this result has no run of one cable", "give a result whose outcome is a run");
    cable::LaidCable cable;
    cable.name = document.at("cable").at("id");
    cable.radius_m = document.at("cable").at("diameter_m").get<double>() / 2;
    for (const auto& point : document.at("line")) cable.line.push_back(vec(point));
    if (cable.line.empty()) refuse("the line of this result has no points", "give it unchanged");
    return cable;
  }

  std::vector<search::GivenWay> ways(const Json& document) {
    if (document.value("outcome", "") == "no-route")
      refuse("this result has no route", "give a result whose outcome is a route");
    std::vector<search::GivenWay> found;
    if (document.contains("route")) {
      found.push_back(way(file_, document.at("route")));
    } else {
      for (const auto& entry : document.at("ways"))
        found.push_back(way(fmt::format("{}#{}", file_, found.size() + 1), entry.at("route")));
    }
    return found;
  }

  static model::Vec3 vec(const Json& list) {
    return {list.at(0).get<double>(), list.at(1).get<double>(), list.at(2).get<double>()};
  }

  static search::GivenWay way(std::string name, const Json& route) {
    search::GivenWay given;
    given.name = std::move(name);
    for (const auto& entry : route.at("legs")) {
      search::GivenWay::Leg leg;
      leg.from = entry.at("from"), leg.to = entry.at("to");
      for (const auto& pose : entry.at("poses"))
        leg.grips.push_back({pose.at("rail"), vec(pose.at("hand")), vec(pose.at("outward"))});
      given.legs.push_back(std::move(leg));
    }
    return given;
  }

  const std::string& file_;
  const std::string& digest_;
};

}  // namespace

std::vector<search::GivenWay> read_ways(const std::string& file, const std::string& contents,
                                        const std::string& digest) {
  return ResultReader(file, digest).read_ways(contents);
}

cable::LaidCable read_laid(const std::string& file, const std::string& contents, const std::string& digest) {
  return ResultReader(file, digest).read_laid(contents);
}

}  // namespace holdfast::report
