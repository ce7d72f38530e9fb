#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "holdfast/report/report.h"

namespace holdfast::report {

using Json = nlohmann::json;

namespace {

class WaysReader {
 public:
  WaysReader(const std::string& file, const std::string& digest) : file_(file), digest_(digest) {}

  std::vector<search::GivenWay> read(const std::string& contents) {
    const Json document = Json::parse(contents, nullptr, false);
    if (document.is_discarded()) refuse("this is not JSON", "give what `holdfast route ... --json` printed");
    try {
      return read(document);
    } catch (const Json::exception& error) {
      refuse(fmt::format("a field is missing or of the wrong kind ({})", error.what()),
             "give what `holdfast route ... --json` printed, unchanged");
    }
  }

 private:
  [[noreturn]] void refuse(std::string problem, std::string remedy) const {
    throw model::InputError({{{.file = file_}, "", "wrong-result", std::move(problem), "", std::move(remedy)}});
  }

  std::vector<search::GivenWay> read(const Json& document) {
    if (!document.is_object() || document.value("holdfast", "") != "result/1" || document.value("verb", "") != "route")
      refuse("this is not a result of `holdfast route`", "give what `holdfast route ... --json` printed");
    if (document.value("outcome", "") == "no-route")
      refuse("this result has no route", "give a result whose outcome is a route");
    if (const std::string digest = document.at("model").at("digest"); digest != digest_)
      refuse(fmt::format("it was computed from another model: its digest is {}, and this model's {}",
                         digest.substr(0, 12), digest_.substr(0, 12)),
             "compute the route again with this model");
    std::vector<search::GivenWay> ways;
    if (document.contains("route")) {
      ways.push_back(way(file_, document.at("route")));
    } else {
      for (const auto& entry : document.at("ways"))
        ways.push_back(way(fmt::format("{}#{}", file_, ways.size() + 1), entry.at("route")));
    }
    return ways;
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
        leg.grips.push_back({pose.at("rail"), vec(pose.at("hand")), vec(pose.at("outward")), pose.at("at_s")});
      given.legs.push_back(std::move(leg));
    }
    if (route.contains("tether"))
      for (const auto& swap : route.at("tether").at("swaps"))
        given.swaps.push_back({swap.at("leg"), swap.at("pose"), swap.at("hook")});
    return given;
  }

  const std::string& file_;
  const std::string& digest_;
};

}  // namespace

std::vector<search::GivenWay> read_ways(const std::string& file, const std::string& contents,
                                        const std::string& digest) {
  return WaysReader(file, digest).read(contents);
}

}  // namespace holdfast::report
