// SPDX-License-Identifier: GPL-3.0-or-later
#include <fcl/fcl.h>

#include "second_opinion.h"

namespace holdfast::support {

using Model = fcl::BVHModel<fcl::OBBRSSd>;

struct FclScene::Impl {
  std::shared_ptr<Model> model = std::make_shared<Model>();
  std::unique_ptr<fcl::CollisionObjectd> object;

  static fcl::CollisionObjectd box(const Eigen::Vector3d& center, const Eigen::Quaterniond& turn,
                                   const Eigen::Vector3d& half) {
    fcl::Transform3d pose = fcl::Transform3d::Identity();
    pose.translate(center).rotate(turn);
    return {std::make_shared<fcl::Boxd>(2 * half), pose};
  }
};

FclScene::FclScene(const geometry::TriangleMesh& mesh) : impl_(std::make_unique<Impl>()) {
  std::vector<fcl::Triangle> triangles;
  for (const auto& t : mesh.triangles) triangles.emplace_back(t[0], t[1], t[2]);
  impl_->model->beginModel();
  impl_->model->addSubModel(mesh.vertices, triangles);
  impl_->model->endModel();
  impl_->object = std::make_unique<fcl::CollisionObjectd>(impl_->model, fcl::Transform3d::Identity());
}
FclScene::~FclScene() = default;

double FclScene::box_distance(const Eigen::Vector3d& center, const Eigen::Quaterniond& turn,
                              const Eigen::Vector3d& half) const {
  const auto box = Impl::box(center, turn, half);
  fcl::DistanceRequestd request;
  fcl::DistanceResultd result;
  return fcl::distance(&box, impl_->object.get(), request, result);
}

bool FclScene::is_box_touching(const Eigen::Vector3d& center, const Eigen::Quaterniond& turn,
                               const Eigen::Vector3d& half) const {
  const auto box = Impl::box(center, turn, half);
  fcl::CollisionRequestd request;
  fcl::CollisionResultd result;
  return fcl::collide(&box, impl_->object.get(), request, result) > 0;
}

}  // namespace holdfast::support
