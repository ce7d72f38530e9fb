// SPDX-License-Identifier: GPL-3.0-or-later
#include <cmath>

#include "holdfast/report/plan.h"
#include "json_impl.h"
#include "plan_cables_impl.h"
#include "plan_page_impl.h"
#include "plan_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

namespace {

/// Nothing for what is not known.
Json number(double value) { return std::isfinite(value) ? Json(rounded_up(value)) : Json(nullptr); }

Json box_json(const plan::PlacedBox& box) {
  return {{"size_m", point_json(box.size_m)},
          {"middle", point_json(box.middle)},
          {"forward", point_json(box.axes.col(0))},
          {"side", point_json(box.axes.col(1))},
          {"up", point_json(box.axes.col(2))}};
}

/// What the leg passes, and its waypoints in the times of the plan.
void add_leg(const Context& context, const plan::Row& row, const plan::DescribedLeg& leg, Json& out) {
  Json route = route_json(context, leg.has_loads ? row.carried : std::vector<std::string>(), leg.route);
  out["loads_followed"] = leg.has_loads;
  out["clearance"] = {{"m", route["clearance"]["m"]}, {"at_least", route["clearance"]["at_least"]}};
  out["caution_s"] = route["caution_s"];
  out["zones"] = route["zones"];
  out["kick_band"] = route["kick_band"];
  Json& told = route["legs"][0];
  for (std::size_t i = 0; i < leg.route.legs.front().rows.size(); ++i) {
    const auto& stop = row.path[leg.route.legs.front().rows[i].total_moves];
    told["rows"][i]["arrives_s"] = rounded(stop.arrives_s);
    told["rows"][i]["leaves_s"] = rounded(stop.leaves_s);
  }
  out["waypoints"] = std::move(told["rows"]);
  for (std::size_t i = 0; i < row.path.size(); ++i) {
    Json& pose = told["poses"][i];
    out["path"][i]["outward"] = std::move(pose["outward"]);
    out["path"][i]["stance"] = std::move(pose["stance"]);
    out["path"][i]["loads"] = std::move(pose["loads"]);
  }
}

Json stay_json(const plan::ItemStay& stay) {
  Json out = {{"from_s", rounded(stay.from_s)}, {"inside", stay.where.is_inside}};
  if (!stay.where.place.empty()) out["place"] = stay.where.place;
  if (!stay.where.container.empty()) out["container"] = stay.where.container;
  if (!stay.where.crew.empty()) out["crew"] = stay.where.crew;
  if (!stay.where.socket.empty()) out["socket"] = stay.where.socket;
  if (!stay.where.rails.empty()) out["rails"] = stay.where.rails;
  if (stay.box) out["box"] = box_json(*stay.box);
  return out;
}

Json row_json(const Context& context, const plan::Plan& plan, const plan::Row& row, std::size_t index) {
  Json out;
  out["row"] = index;
  out["crew"] = row.crew ? plan.excursion->crew[row.crew->index()].id : "inside";
  out["kind"] = kind_name(row.kind);
  out["act"] = kind_name(row.what);
  out["what"] = what_words(row);
  out["from_s"] = rounded(row.from_s);
  out["to_s"] = rounded(row.to_s);
  out["derived"] = row.is_derived;
  if (row.action) out["action"] = *row.action;
  if (row.crew && row.action)
    if (const auto& id = plan.excursion->crew[row.crew->index()].actions[*row.action].id; !id.empty()) out["id"] = id;
  out["subject"] = row.subject;
  if (!row.other.empty()) out["other"] = row.other;
  out["carried"] = row.carried;
  out["hand"] = point_json(row.hand);
  out["night_s"] = rounded_up(row.night_s);
  if (row.box) out["box"] = box_json(*row.box);
  if (row.what == plan::What::Throw)
    if (const auto event = plan.excursion->find_event(row.subject))
      out["throws"] = plan.excursion->events[event->index()].throws;
  if (row.what != plan::What::Go) return out;
  out["moves"] = row.moves;
  out["distance_m"] = rounded_up(row.distance_m);
  if (row.tether_out_m > 0) out["tether_out_m"] = rounded_up(row.tether_out_m);
  Json path = Json::array();
  for (const auto& stop : row.path)
    path.push_back({{"rail", context.structure.rails[stop.rail.index()].id},
                    {"hand", point_json(stop.hand)},
                    {"body", point_json(stop.body)},
                    {"arrives_s", rounded(stop.arrives_s)},
                    {"leaves_s", rounded(stop.leaves_s)}});
  out["path"] = path;
  if (const auto leg = plan.legs.find(index); leg != plan.legs.end()) add_leg(context, row, leg->second, out);
  return out;
}

}  // namespace

std::string json(const Context& context, const plan::Plan& plan) { return json(context, plan, PlanPage{}); }

std::string json(const Context& context, const plan::Plan& plan, const PlanPage& page) {
  const auto& e = *plan.excursion;
  Json out = document_json(context, "plan", plan.is_clean() ? "plan" : "plan-with-violations");
  out["excursion"] = {{"name", e.name}, {"file", e.file}, {"sha256", e.sha256}};
  out["configuration"] = configuration_json(plan.configuration);
  Json right_of_way = Json::array();
  for (const auto crew : plan.right_of_way) right_of_way.push_back(e.crew[crew.index()].id);
  out["right_of_way"] = right_of_way;
  if (plan.other_right_of_way_s) out["other_right_of_way_s"] = rounded_up(*plan.other_right_of_way_s);
  out["limit_s"] = rounded_down(e.limit_s);
  out["finish_s"] = rounded_up(plan.finish_s);
  out["margin_s"] = rounded_down(e.limit_s - plan.finish_s);
  Json what_if = Json::object();
  Json closed = Json::array();
  for (const auto rail : plan.options.closed) closed.push_back(context.structure.rails[rail.index()].id);
  what_if["closed_rails"] = closed;
  what_if["loads"] = plan.options.load_of;
  what_if["slower"] = plan.options.slower;
  what_if["longer_s"] = plan.options.longer_s;
  out["what_if"] = what_if;
  Json crew = Json::array();
  for (std::size_t c = 0; c < e.crew.size(); ++c) {
    const auto& total = plan.totals[c];
    Json by_kind = Json::object();
    for (std::size_t k = 0; k < plan::row_kind_count; ++k)
      if (static_cast<plan::RowKind>(k) != plan::RowKind::Throw)
        by_kind[kind_name(static_cast<plan::RowKind>(k))] = rounded_up(total.by_kind_s[k]);
    crew.push_back(
        {{"id", e.crew[c].id},
         {"name", e.crew[c].name},
         {"suit", e.crew[c].suit},
         {"start", context.structure.places[e.crew[c].start.index()].id},
         {"tethers", e.crew[c].tethers},
         {"anchor", e.crew[c].anchor ? Json(context.structure.anchors[e.crew[c].anchor->index()].id) : Json(nullptr)},
         {"inside_at_s", rounded_up(total.inside_at_s)},
         {"margin_s", rounded_down(e.limit_s - total.inside_at_s)},
         {"moves", total.moves},
         {"distance_m", rounded_up(total.distance_m)},
         {"energy_j", rounded_up(total.energy_j)},
         {"energy_margin_j", rounded_down(e.values.energy_j - total.energy_j)},
         {"by_kind_s", by_kind}});
  }
  out["crew"] = crew;
  Json rows = Json::array();
  for (std::size_t r = 0; r < plan.rows.size(); ++r) rows.push_back(row_json(context, plan, plan.rows[r], r));
  out["rows"] = rows;
  Json violations = Json::array();
  for (const auto& v : plan.violations) {
    Json entry;
    entry["kind"] = kind_name(v.kind);
    entry["at_s"] = rounded(v.at_s);
    entry["to_s"] = rounded(v.to_s);
    entry["crew"] = v.crew ? Json(e.crew[v.crew->index()].id) : Json(nullptr);
    entry["subject"] = v.subject;
    entry["other"] = v.other;
    entry["names"] = v.names;
    entry["value"] = number(v.value);
    entry["limit"] = std::isfinite(v.limit) ? Json(rounded(v.limit)) : Json(nullptr);
    if (v.has_at) entry["at"] = point_json(v.at);
    entry["incapacitated"] = v.is_incapacitated;
    if (v.follows) entry["follows"] = *v.follows;
    entry["sentence"] = sentence(context, plan, v);
    entry["remedy"] = remedy(plan, v);
    entry["assumption"] = assumption(v);
    violations.push_back(std::move(entry));
  }
  out["violations"] = violations;
  Json items = Json::array();
  for (const auto& w : plan.items) {
    const auto& item = e.items[w.item.index()];
    Json stays = Json::array();
    for (const auto& stay : plan.stays)
      if (stay.where.item == w.item) stays.push_back(stay_json(stay));
    const auto other = plan.options.load_of.find(item.id);
    items.push_back({{"id", item.id},
                     {"name", item.name},
                     {"load", other == plan.options.load_of.end() ? item.load : other->second},
                     {"inside", w.is_inside},
                     {"place", w.place},
                     {"container", w.container},
                     {"crew", w.crew},
                     {"socket", w.socket},
                     {"rails", w.rails},
                     {"must_be_inside", w.must_be_inside},
                     {"must_be_at", w.must_be_at},
                     {"stays", stays}});
  }
  out["items"] = items;
  out["cables"] = cables_json(plan);
  Json tasks = Json::array();
  for (const auto& task : e.tasks) tasks.push_back({{"id", task.id}, {"name", task.name}});
  out["tasks"] = tasks;
  Json done = Json::array(), dropped = Json::array();
  for (const auto task : plan.done) done.push_back(e.tasks[task.index()].id);
  for (const auto task : plan.dropped) dropped.push_back(e.tasks[task.index()].id);
  out["done"] = done;
  out["dropped"] = dropped;
  out["choice_exact"] = plan.is_choice_exact;
  if (plan.sets_tried > 0) out["sets_tried"] = plan.sets_tried;
  if (plan.score) out["score"] = rounded_down(*plan.score);
  if (plan.score_bound) out["score_bound"] = rounded_up(*plan.score_bound);
  if (plan.open_priority) out["open_priority"] = *plan.open_priority;
  Json nights = Json::array();
  for (const auto& [from_s, to_s] : plan.nights) nights.push_back({rounded(from_s), rounded(to_s)});
  out["nights"] = nights;
  Json back = Json::array();
  for (const auto& b : plan.back) {
    Json entry = {
        {"at_s", rounded(b.at_s)}, {"crew", e.crew[b.crew.index()].id}, {"row", b.row}, {"alone_s", number(b.alone_s)}};
    if (b.incapacitated_s) entry["incapacitated_s"] = number(*b.incapacitated_s);
    if (!b.is_incapacitated_proven) entry["incapacitated_s"] = nullptr;
    back.push_back(std::move(entry));
  }
  out["back"] = {
      {"limit_s", rounded_down(context.kit.design.emergency_return_s)}, {"bound", "upper"}, {"moments", back}};
  if (plan.worst_back) out["back"]["worst"] = *plan.worst_back;
  if (plan.worst_limit) out["back"]["latest"] = *plan.worst_limit;
  Json not_assessed = Json::array();
  for (const auto kind : plan.not_assessed)
    not_assessed.push_back({{"kind", kind_name(kind)}, {"sentence", not_assessed_words(kind)}});
  out["not_assessed"] = not_assessed;
  Json buried = Json::array();
  for (const auto& rail : plan.buried)
    buried.push_back({{"rail", context.structure.rails[rail.rail.index()].id},
                      {"part", context.structure.parts[rail.part.index()].id},
                      {"at", point_json(rail.at)},
                      {"configuration", configuration_json(rail.configuration)},
                      {"sentence", set_aside_words(context, {rail.rail, rail.part, rail.at})}});
  out["buried"] = buried;
  add_worksites(context, plan, out);
  Json used = Json::array();
  const auto use = [&](const std::string& name, const std::string& unit, const model::Quantity& q) {
    Json entry = {{"name", name}, {"unit", unit}};
    entry.update(quantity_json(q));
    used.push_back(entry);
  };
  const auto& values = e.values;
  use("restraint_set", "s", values.restraint_set_s);
  use("restraint_enter", "s", values.restraint_enter_s);
  use("restraint_leave", "s", values.restraint_leave_s);
  use("handling_reach", "m", values.handling_reach_m);
  use("active", "W", values.active_w);
  use("idle", "W", values.idle_w);
  use("energy", "J", values.energy_j);
  for (const auto& value : used_on_legs(context, plan)) use(value.name, value.unit, value.quantity);
  out["used"] = used;
  if (page.changes) out["compared"] = changes_json(*page.changes);
  out["caution"] = std::string(caution);
  return dump_json(out);
}

}  // namespace holdfast::report
