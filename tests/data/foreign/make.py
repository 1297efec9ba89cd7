"""Writes vehicles with general-purpose libraries that know nothing of this project, as input that is not our own.

    python make.py DIR

DIR/hemisphere_glb   trimesh: one named node a tile, each moved to its place by its node; with tiles.csv
DIR/hemisphere_obj   trimesh: one object a tile; with the same tiles.csv
DIR/features.glb     pygltflib: feature ids with a stride, a property table with 32-bit floats, an enum, 8-bit text offsets, no data

The hemisphere has nose radius 1 m, its nose at the origin, x aft: a cap to 2 degrees, eleven rings of 8 degrees by 24 sectors of 15
degrees, then four rings of 0.25 m on a cylinder; gaps of 1.2 mm; its open end closed by a disc named `none`. Tile `R03S07` is ring 3,
sector 7; `C1S07` is cylinder ring 1. The column `part` holds the polar angle of the ring's middle, in degrees.
"""

import csv
import math
import struct
import sys
from pathlib import Path

import numpy as np
import pygltflib as g
import trimesh

GAP = 1.2e-3
RINGS = [(2 + 8 * i, 10 + 8 * i) for i in range(11)]
SECTORS = 24
CUTS = 3


def grid(place, low, high, sector):
    """A tile between two stations along the meridian and two azimuths, its corners on the surface, wound to face outward."""
    points = []
    for i in range(CUTS + 1):
        along = low + (high - low) * i / CUTS
        for j in range(CUTS + 1):
            width = 2 * math.pi / SECTORS
            x, r = place(along)
            half = GAP / 2 / r
            azimuth = sector * width + half + (width - 2 * half) * j / CUTS
            points.append((x, r * math.sin(azimuth), r * math.cos(azimuth)))
    faces = []
    for i in range(CUTS):
        for j in range(CUTS):
            a = i * (CUTS + 1) + j
            b, c, d = a + 1, a + CUTS + 2, a + CUTS + 1
            faces += [(a, c, b), (a, d, c)]
    return np.array(points), np.array(faces)


def sphere(theta):
    return 1 - math.cos(theta), math.sin(theta)


def cylinder(x):
    return x, 1.0


def disc(x, radius, facing):
    """A flat disc, or a fan that a caller bends, facing forward (-1) or aft (1)."""
    points = [(x, 0.0, 0.0)]
    points += [(x, radius * math.sin(2 * math.pi * i / 72), radius * math.cos(2 * math.pi * i / 72)) for i in range(72)]
    faces = []
    for i in range(72):
        a, b = 1 + i, 1 + (i + 1) % 72
        faces.append((0, a, b) if facing < 0 else (0, b, a))
    return np.array(points), np.array(faces)


def hemisphere():
    """Name, zone, polar angle in degrees, points and faces of every tile; the plain disc last."""
    half = GAP / 2
    theta = math.radians(2) - half
    points, faces = disc(0.0, math.sin(theta), -1)
    points[1:, 0] = 1 - math.cos(theta)
    tiles = [("CAP", "sphere", 0.0, points, faces)]
    for i, (low, high) in enumerate(RINGS):
        for s in range(SECTORS):
            tile = grid(sphere, math.radians(low) + half, math.radians(high) - half, s)
            tiles.append((f"R{i:02}S{s:02}", "sphere", (low + high) / 2, *tile))
    for i in range(4):
        for s in range(SECTORS):
            tile = grid(cylinder, 1 + 0.25 * i + half, 1.25 + 0.25 * i - half, s)
            tiles.append((f"C{i}S{s:02}", "cylinder", 90.0, *tile))
    return tiles, disc(2.0, 1.0, 1)


def write_hemisphere(out):
    tiles, plain = hemisphere()
    moved, placed = trimesh.Scene(), trimesh.Scene()
    for name, _, _, points, faces in [*tiles, ("none", "", 0.0, *plain)]:
        middle = points.mean(axis=0)
        mesh = trimesh.Trimesh(vertices=points - middle, faces=faces, process=False)
        matrix = np.eye(4)
        matrix[:3, 3] = middle
        moved.add_geometry(mesh, node_name=name, geom_name="shape " + name, transform=matrix)
        mesh = trimesh.Trimesh(vertices=points, faces=faces, process=False, metadata={"name": name})
        placed.add_geometry(mesh, node_name=name, geom_name=name)
    for folder, name, data in [
        ("hemisphere_glb", "vehicle.glb", moved.export(file_type="glb")),
        ("hemisphere_obj", "vehicle.obj", placed.export(file_type="obj", digits=7)),
    ]:
        (out / folder).mkdir(parents=True, exist_ok=True)
        (out / folder / name).write_bytes(data if isinstance(data, bytes) else data.encode())
        with open(out / folder / "tiles.csv", "w", newline="") as file:
            table = csv.writer(file, lineterminator="\n")
            table.writerow(["tile", "zone", "material", "thickness_mm", "part"])
            table.writerows([name, zone, "LI-900", 50, f"{angle:g}"] for name, zone, angle, _, _ in tiles)


def write_features(out):
    """Five by four tiles of 0.15 m facing down (-z), two of them stated without data; a plain strip beside them."""
    blob = bytearray()
    views, accessors = [], []

    def view(data, **more):
        while len(blob) % 8:
            blob.append(0)
        views.append(g.BufferView(buffer=0, byteOffset=len(blob), byteLength=len(data), **more))
        blob.extend(data)
        return len(views) - 1

    positions, ids, indices, names = [], [], [], []
    for row in range(4):
        for column in range(6):
            x, y = column * 0.1512, row * 0.1512
            first = len(positions)
            positions += [(x, y, 0), (x, y + 0.15, 0), (x + 0.15, y + 0.15, 0), (x + 0.15, y, 0)]
            ids += [row * 5 + column if column < 5 else 200] * 4
            indices += [first, first + 1, first + 2, first, first + 2, first + 3]
            if column < 5:
                names.append(f"{'ABCD'[row]}{column}")
    place = view(b"".join(struct.pack("<3f", *p) for p in positions), byteStride=12, target=g.ARRAY_BUFFER)
    features = view(b"".join(struct.pack("<Bxxx", i) for i in ids), byteStride=4, target=g.ARRAY_BUFFER)
    corners = view(struct.pack(f"<{len(indices)}H", *indices), target=g.ELEMENT_ARRAY_BUFFER)
    low, high = np.min(positions, axis=0).tolist(), np.max(positions, axis=0).tolist()
    accessors = [
        g.Accessor(bufferView=place, componentType=g.FLOAT, count=len(positions), type=g.VEC3, min=low, max=high),
        g.Accessor(bufferView=features, componentType=g.UNSIGNED_BYTE, count=len(ids), type=g.SCALAR),
        g.Accessor(bufferView=corners, componentType=g.UNSIGNED_SHORT, count=len(indices), type=g.SCALAR),
    ]
    n = len(names)
    text = view("".join(names).encode())
    offsets = view(bytes(np.cumsum([0] + [len(name) for name in names]).astype(np.uint8)))
    thickness = view(struct.pack(f"<{n}f", *[25.4 + 0.1 * i for i in range(n)]))
    material = view(bytes(i % 2 for i in range(n)))
    flights = view(struct.pack(f"<{n}h", *[-1 if i in (3, 7) else i for i in range(n)]))
    schema = {
        "id": "tiles",
        "enums": {"m": {"valueType": "UINT8", "values": [{"name": "LI-900", "value": 0}, {"name": "LI-2200", "value": 1}]}},
        "classes": {"tile": {"properties": {
            "tile": {"type": "STRING"},
            "thickness_mm": {"type": "SCALAR", "componentType": "FLOAT32"},
            "material": {"type": "ENUM", "enumType": "m"},
            "installed_flight": {"type": "SCALAR", "componentType": "INT16", "noData": -1},
            "colour": {"type": "STRING"},
        }}},
    }
    table = {"class": "tile", "count": n, "properties": {
        "tile": {"values": text, "stringOffsets": offsets, "stringOffsetType": "UINT8"},
        "thickness_mm": {"values": thickness},
        "material": {"values": material},
        "installed_flight": {"values": flights},
    }}
    feature = {"featureCount": n, "attribute": 0, "nullFeatureId": 200, "propertyTable": 0}
    primitive = g.Primitive(
        attributes=g.Attributes(POSITION=0, _FEATURE_ID_0=1), indices=2, extensions={"EXT_mesh_features": {"featureIds": [feature]}}
    )
    document = g.GLTF2(
        scene=0,
        scenes=[g.Scene(nodes=[0])],
        nodes=[g.Node(name="belly", mesh=0)],
        meshes=[g.Mesh(primitives=[primitive])],
        accessors=accessors,
        bufferViews=views,
        buffers=[g.Buffer(byteLength=len(blob))],
        extensionsUsed=["EXT_mesh_features", "EXT_structural_metadata"],
        extensions={"EXT_structural_metadata": {"schema": schema, "propertyTables": [table]}},
    )
    document.set_binary_blob(bytes(blob))
    (out / "features.glb").write_bytes(b"".join(document.save_to_bytes()))


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    write_hemisphere(target)
    write_features(target)
