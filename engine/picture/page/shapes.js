// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes of the view: meshes from their packed form, the corridor, the figure with its loads.

function meshOf(mesh) {
  const Index = mesh.vertices < 65536 ? Uint16Array : Uint32Array;
  const steps = numbers(mesh.position, Uint16Array),
    position = new Float32Array(steps.length);
  for (let i = 0; i < steps.length; ++i) position[i] = mesh.min[i % 3] + (mesh.size[i % 3] * steps[i]) / 65535;
  return {
    position,
    normal: numbers(mesh.normal, Int8Array),
    triangle: numbers(mesh.triangle, Index),
    edge: numbers(mesh.edge, Index),
  };
}

// Places: dots; their labels stand in the page.
function disc() {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = 32;
  const pen = canvas.getContext('2d');
  pen.beginPath();
  pen.fillStyle = '#fff';
  pen.arc(16, 16, 14, 0, 7);
  pen.fill();
  return new THREE.CanvasTexture(canvas);
}

function corridorOf(way) {
  const p = way.body.point,
    n = way.body.at_s.length,
    sides = 20,
    position = [],
    index = [];
  const at = (k) => new THREE.Vector3(p[3 * k], p[3 * k + 1], p[3 * k + 2]);
  let side = null;
  for (let k = 0; k < n; ++k) {
    const along = at(Math.min(n - 1, k + 1)).sub(at(Math.max(0, k - 1)));
    if (along.length() < 1e-6) along.set(1, 0, 0);
    along.normalize();
    if (!side) side = Math.abs(along.z) < 0.9 ? new THREE.Vector3(0, 0, 1) : new THREE.Vector3(1, 0, 0);
    side = side
      .clone()
      .sub(along.clone().multiplyScalar(side.dot(along)))
      .normalize();
    const other = along.clone().cross(side);
    for (let s = 0; s < sides; ++s) {
      const angle = (2 * Math.PI * s) / sides;
      const v = at(k)
        .addScaledVector(side, way.radius * Math.cos(angle))
        .addScaledVector(other, way.radius * Math.sin(angle));
      position.push(v.x, v.y, v.z);
      if (k > 0) {
        const a = (k - 1) * sides + s,
          b = (k - 1) * sides + ((s + 1) % sides);
        index.push(a, b, a + sides, b, b + sides, a + sides);
      }
    }
  }
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(position), 3));
  geometry.setIndex(position.length / 3 < 65536 ? index : new THREE.BufferAttribute(Uint32Array.from(index), 1));
  geometry.computeVertexNormals();
  // First its depth alone, so that of a tube that crosses itself only the nearest face shows.
  const tube = new THREE.Mesh(
    geometry,
    new THREE.MeshBasicMaterial({ colorWrite: false, transparent: true, side: THREE.DoubleSide }),
  );
  const veil = new THREE.Mesh(
    geometry,
    new THREE.MeshLambertMaterial({
      color: way.colour,
      transparent: true,
      opacity: 0.3,
      depthWrite: false,
      side: THREE.DoubleSide,
    }),
  );
  tube.renderOrder = 6;
  veil.renderOrder = 7;
  tube.add(veil);
  return tube;
}

/// The box of an item of an excursion, as it is put down or carried.
function boxOfItem(item, scene) {
  const geometry = new THREE.BoxBufferGeometry(item.size[0], item.size[1], item.size[2]);
  const mesh = new THREE.Mesh(
    geometry,
    new THREE.MeshLambertMaterial({ color: 0xe8dcc4, transparent: true, opacity: 0.9 }),
  );
  mesh.add(new THREE.LineSegments(new THREE.EdgesGeometry(geometry), new THREE.LineBasicMaterial({ color: 0x1c2733 })));
  mesh.visible = false;
  scene.add(mesh);
  return mesh;
}

// The figure: a suited person, chest to the rail, head in the direction of travel; the corridor as a ring.
function figureOf(way, scene) {
  const figure = new THREE.Group();
  const suit = new THREE.MeshLambertMaterial({ color: 0xf7f9fb }),
    dark = new THREE.MeshLambertMaterial({ color: 0x33414f }),
    tint = new THREE.MeshLambertMaterial({ color: way.colour });
  const add = (geometry, material, x, y, z, parent) => {
    const mesh = new THREE.Mesh(geometry, material);
    mesh.position.set(x, y, z);
    (parent || figure).add(mesh);
    return mesh;
  };
  // x: head, z: away from the rail
  add(new THREE.BoxBufferGeometry(0.62, 0.48, 0.3), suit, 0, 0, 0);
  add(new THREE.BoxBufferGeometry(0.6, 0.44, 0.2), tint, 0.02, 0, 0.24);
  add(new THREE.SphereBufferGeometry(0.18, 20, 14), suit, 0.45, 0, 0);
  add(new THREE.SphereBufferGeometry(0.14, 20, 14), dark, 0.5, 0, -0.07);
  for (const y of [-0.13, 0.13]) {
    const leg = add(new THREE.CylinderBufferGeometry(0.1, 0.085, 0.8, 12), suit, -0.7, y, 0.02);
    leg.rotation.z = Math.PI / 2;
    add(new THREE.BoxBufferGeometry(0.12, 0.14, 0.26), dark, -1.1, y, -0.03);
  }
  figure.arms = [-1, 1].map((y) => {
    const arm = add(new THREE.CylinderBufferGeometry(0.07, 0.06, 1, 10), suit, 0, 0, 0);
    arm.shoulder = new THREE.Vector3(0.24, y * 0.27, -0.03);
    return arm;
  });
  const ring = new THREE.Mesh(new THREE.TorusBufferGeometry(way.radius, 0.012, 8, 64), tint);
  ring.rotation.y = Math.PI / 2;
  figure.add(ring);
  const disk = new THREE.Mesh(
    new THREE.CylinderBufferGeometry(way.radius, way.radius, 0.5, 48, 1, true),
    new THREE.MeshLambertMaterial({
      color: way.colour,
      transparent: true,
      opacity: 0.2,
      depthWrite: false,
      side: THREE.DoubleSide,
    }),
  );
  disk.rotation.z = Math.PI / 2;
  disk.renderOrder = 4;
  figure.add(disk);
  figure.boxes = way.loads.map((box) => {
    const size = data.boxes[box].size;
    const geometry = new THREE.BoxBufferGeometry(size[0], size[1], size[2]);
    const mesh = new THREE.Mesh(
      geometry,
      new THREE.MeshLambertMaterial({ color: 0xe8dcc4, transparent: true, opacity: 0.9 }),
    );
    mesh.add(
      new THREE.LineSegments(new THREE.EdgesGeometry(geometry), new THREE.LineBasicMaterial({ color: 0x1c2733 })),
    );
    scene.add(mesh);
    return mesh;
  });
  scene.add(figure);
  return figure;
}
