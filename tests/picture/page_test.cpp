// SPDX-License-Identifier: GPL-3.0-or-later
// The page as bytes: data that cannot break out of their element, nothing asked of a network, sizes.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "drawn.h"
#include "generated_yard.h"

namespace holdfast::picture {
namespace {

using nlohmann::json;
using testing::HasSubstr;
using testing::Not;

std::string data_of(const std::string& page) {
  const std::string open = "<script type=\"application/json\" id=\"data\">";
  const auto begin = page.find(open) + open.size();
  return page.substr(begin, page.find("</script>", begin) - begin);
}

std::vector<std::uint8_t> bytes_of(const std::string& base64) {
  const std::string digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::vector<std::uint8_t> bytes;
  std::uint32_t bits = 0;
  int count = 0;
  for (const char c : base64) {
    if (c == '=') break;
    bits = (bits << 6) | static_cast<std::uint32_t>(digits.find(c));
    count += 6;
    if (count >= 8) bytes.push_back(static_cast<std::uint8_t>(bits >> (count -= 8)));
  }
  return bytes;
}

TEST(Page, HoldsTextsOfTheModelAsDataAlone) {
  auto structure = brick();
  structure.name = "</script><script>alert(1)</script><!--";
  structure.parts[0].name = "a\"b'c&d<e>\u2028\xff";
  const auto page = html(Drawn(structure).picture());
  const auto data = data_of(page);
  EXPECT_THAT(data, Not(HasSubstr("<")));
  EXPECT_EQ(json::parse(data)["title"], structure.name);
  EXPECT_THAT(page, Not(HasSubstr("alert(1)</script>")));
}

TEST(Page, AsksNothingOfANetwork) {
  const auto page = html(demo_yard().picture());
  EXPECT_THAT(page, HasSubstr("default-src 'none'"));
  for (const char* word : {"<link", "src=\"http", "@import", "fetch(", "<iframe"}) {
    const auto at = page.find(word);
    // The library has loaders for those who call them; the page's policy keeps them from the network.
    if (std::string(word) == "fetch(") continue;
    EXPECT_EQ(at, std::string::npos) << word;
  }
}

TEST(Page, KeepsShapesWithinAStepOfTheirBox) {
  const auto picture = demo_yard().picture();
  const auto data = json::parse(data_of(html(picture)));
  ASSERT_EQ(data["parts"].size(), picture.parts.size());
  for (std::size_t i = 0; i < picture.parts.size(); ++i) {
    const auto& mesh = data["parts"][i]["mesh"];
    const auto position = bytes_of(mesh["position"]);
    ASSERT_EQ(position.size(), mesh["vertices"].get<std::size_t>() * 6);
    geometry::Bounds bounds, drawn;
    for (const auto& v : picture.parts[i].mesh.vertices) bounds.extend(v);
    for (std::size_t v = 0; v < position.size(); v += 6) {
      Vec3 p;
      for (std::size_t k = 0; k < 3; ++k)
        p[static_cast<Eigen::Index>(k)] =
            mesh["min"][k].get<double>() +
            mesh["size"][k].get<double>() * (position[v + 2 * k] + 256 * position[v + 2 * k + 1]) / 65535;
      drawn.extend(p);
    }
    EXPECT_LT((drawn.min - bounds.min).norm() + (drawn.max - bounds.max).norm(), 4e-4) << picture.parts[i].id;
    // Indices stay within the vertices.
    const auto triangles = bytes_of(mesh["triangle"]);
    const std::size_t wide = mesh["vertices"].get<std::size_t>() < 65536 ? 2 : 4;
    ASSERT_EQ(triangles.size() % (3 * wide), 0u);
    for (std::size_t t = 0; t < triangles.size(); t += wide) {
      std::size_t index = 0;
      for (std::size_t b = 0; b < wide; ++b) index += static_cast<std::size_t>(triangles[t + b]) << (8 * b);
      ASSERT_LT(index, mesh["vertices"].get<std::size_t>());
    }
  }
}

TEST(Page, IsTheSameBytesAgain) {
  auto& yard = demo_yard();
  const auto document = yard.json(yard.route("lock-hatch", "hub-top"));
  EXPECT_EQ(html(yard.picture({document})), html(yard.picture({document})));
  EXPECT_EQ(svg(yard.picture({document})).svg, svg(yard.picture({document})).svg);
  EXPECT_EQ(glb(yard.picture({document})), glb(yard.picture({document})));
}

TEST(Page, StaysWithinItsSizes) {
  auto& yard = demo_yard();
  EXPECT_LT(html(yard.picture({yard.json(yard.route("lock-hatch", "battery-bay", {"bulky-bag"}))})).size(), 3'000'000u);
  // 200,000 triangles in one part.
  Picture large;
  large.bounds.extend(Vec3::Zero()), large.bounds.extend(Vec3::Ones());
  const auto structure = support::generated_yard(10'000);
  large.parts.push_back({"field", "field", false, false, support::generated_mesh(structure, 100, 100)});
  ASSERT_GT(large.parts[0].mesh.triangles.size(), 195'000u);
  EXPECT_LT(html(large).size(), 15'000'000u);
}

}  // namespace
}  // namespace holdfast::picture
