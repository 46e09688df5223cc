#!/usr/bin/env python3
"""Looks at garments in the round with a general-purpose mesh library (trimesh), which shares no code with us.

    pip install trimesh numpy scipy shapely networkx rtree
    python3 benches/reference_solid.py target/debug/oddments [--garments all] [--sizes m3-6,y7-8,women-m]
        [--fault scale|hole|flip]

Reads what the program writes (`pattern --format glb`, a point a stitch) and holds it against what it counted
(`grade --format json`, `pattern --format json`):

- surface: wound one way round, no edge of three faces, no face twice or without area; as many openings as the
  garment has, and as many holes as they make (Euler's characteristic);
- area: of the mesh and half a stitch along each open edge, over stitches times gauge;
- volume: with lids on the openings, right side out; the same by adding up what planes cut out of it; no more
  than a ball of that area holds;
- girth: of a cut behind each opening, along the cloth, over the girth that was counted there;
- worn: few points lie deep in the form;
- sizes: none has less cloth than the one before.

Prints a line for each; ends with 1 if any is out of bounds. `--fault` plants one first: a mesh 3 % too large,
without a face, with one face turned over.
"""
import argparse
import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import networkx
import numpy as np
import trimesh

# How many openings a piece of it has, as a knitter sees it, and the girths counted there, narrow ones first: `None`
# where a plane cuts no ring behind the opening, as of a neck, or a cap that has fallen together on the table.
GARMENTS = {
    "bootee": (1, ["cuff_girth"]),
    "cardigan": (3, []),
    "cuff": (2, ["girth", "girth"]),
    "hat": (1, [None]),
    "headband": (0, []),
    "helmet": (1, []),
    "leg-warmer": (2, ["ankle_band", "top_rib"]),
    "mitred-square": (1, []),
    "mitt": (3, ["thumb_girth", "cuff_girth", None]),
    "mitten": (1, ["cuff_girth"]),
    "neck-ring": (2, ["girth", "girth"]),
    "pullover": (4, ["cuff", "cuff", None, None]),
    "scarf": (1, []),
    "shawl": (1, []),
    "slipover": (4, []),
    "sock": (1, ["top_girth"]),
    "sock-flat": (1, ["top_girth"]),
    "tam": (1, [None]),
}
# Where cloth is shaped by short rows, a wrap and the loop it lies round take up one place.
SHORT_ROWS = {"bootee", "mitten", "sock", "sock-flat", "tam"}
# On nothing a ring that is closed all round is blown up a little, as its air can't get out.
CLOSED = {"headband"}
AREA = {"short rows": (0.94, 1.00), "closed": (0.99, 1.05), "other": (0.965, 1.015)}
GIRTH = (0.975, 1.025)
# How deep a point may lie in a form that is drawn 2.5 mm thinner than it is, and how many may lie deeper.
DEEP_MM, DEEP_SHARE = 3.0, 0.02


def told(program, *words):
    return subprocess.run([program, *words], capture_output=True, check=False).stdout


def meshes(program, garment, size, on, folder):
    """Name and mesh in millimetres of each node of the file."""
    file = Path(folder, f"{garment}.glb")
    file.unlink(missing_ok=True)
    told(program, "pattern", garment, "--sizes", size, "--format", "glb", "--on", on, "--detail", "full",
         "--output", str(file))
    if not file.exists():
        return []
    scene = trimesh.load(file, process=False)
    all_of = []
    for node in scene.graph.nodes_geometry:
        matrix, name = scene.graph[node]
        mesh = trimesh.Trimesh(scene.geometry[name].vertices, scene.geometry[name].faces, process=False)
        mesh.apply_transform(matrix)
        mesh.apply_scale(1000.0)
        all_of.append((node, mesh))
    return all_of


def faulty(mesh, fault):
    faces = np.array(mesh.faces)
    if fault == "hole":
        faces = np.delete(faces, len(faces) // 2, axis=0)
    elif fault == "flip":
        faces[len(faces) // 2] = faces[len(faces) // 2][::-1]
    scale = 1.03 if fault == "scale" else 1.0
    return trimesh.Trimesh(mesh.vertices * scale, faces, process=False)


def open_edges(mesh):
    edges, count = np.unique(mesh.edges_sorted, axis=0, return_counts=True)
    return edges[count == 1], int((count > 2).sum())


def openings(mesh):
    """Points of each open edge in their order."""
    graph = networkx.Graph()
    graph.add_edges_from(map(tuple, open_edges(mesh)[0]))
    loops = []
    for part in networkx.connected_components(graph):
        start = min(part)
        loops.append(list(networkx.dfs_preorder_nodes(graph.subgraph(part), start)))
    return loops


def lidded(mesh, loops):
    """With a lid of triangles about the middle of each opening."""
    directed = {tuple(edge) for edge in mesh.edges}
    points, faces = [*mesh.vertices], [*mesh.faces]
    for loop in loops:
        points.append(mesh.vertices[loop].mean(axis=0))
        for a, b in zip(loop, [*loop[1:], loop[0]]):
            a, b = (a, b) if (b, a) in directed else (b, a)
            faces.append([a, b, len(points) - 1])
    return trimesh.Trimesh(points, faces, process=False)


def cut_volume(mesh):
    """What planes across it cut out, added up: by turns of the cut about each place, so that folds count right."""
    low, high = mesh.bounds[:, 1]
    heights = np.linspace(low, high, 402)[1:-1:2]
    total = 0.0
    for height in heights:
        lines, of = trimesh.intersections.mesh_plane(
            mesh, [0.0, 1.0, 0.0], [0.0, height, 0.0], return_faces=True)
        if len(lines) == 0:
            continue
        # Each piece of a cut runs so that the outside of its face lies to one side.
        x, z = lines[:, :, 0], lines[:, :, 2]
        out = mesh.face_normals[of]
        across = (z[:, 1] - z[:, 0]) * out[:, 0] - (x[:, 1] - x[:, 0]) * out[:, 2]
        area = 0.5 * (x[:, 0] * z[:, 1] - x[:, 1] * z[:, 0])
        total += float((np.sign(across) * area).sum())
    return total * (high - low) / len(heights)


def girth_behind(mesh, loop, deep):
    """How long the cut is that runs so far behind an opening, and in its plane."""
    rim = mesh.vertices[loop]
    middle = rim.mean(axis=0)
    normal = np.linalg.svd(rim - middle)[2][2]
    near = mesh.vertices[np.linalg.norm(mesh.vertices - middle, axis=1) < 4 * deep + np.ptp(rim, axis=0).max()]
    if ((near - middle) @ normal).mean() < 0:
        normal = -normal
    cut = mesh.section(plane_origin=middle + normal * deep, plane_normal=normal)
    if cut is None:
        return math.nan
    lengths = [(np.linalg.norm(line.mean(axis=0) - middle), np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
               for line in cut.discrete if np.allclose(line[0], line[-1])]
    return min(lengths)[1] if lengths else math.nan


def look(program, garment, size, fault, folder):
    graded = json.loads(told(program, "grade", garment, "--sizes", size, "--format", "json") or "{}")
    sizes = graded.get("sizes") or []
    if not sizes or not sizes[0]["knittable"]:
        return None
    counted = {own["name"]: own["mm"] for own in sizes[0]["finished"]}
    gauges = graded["swatches"]
    pattern = json.loads(told(program, "pattern", garment, "--sizes", size, "--format", "json"))[0]
    cloth_mm2 = 0.0
    for section in pattern["knitting"][0]["found"]["sections"]:
        for structure, stitches in section["stitches"].items():
            gauge = gauges.get(structure, gauges["plain"])
            cloth_mm2 += stitches * 1e4 / (gauge["stitches_per_10_cm"] * gauge["rows_per_10_cm"])
    plain = gauges["plain"]
    half = 25.0 * (1 / plain["stitches_per_10_cm"] + 1 / plain["rows_per_10_cm"])

    wrong, words = [], []
    parts = [faulty(mesh, fault) if n == 0 else mesh
             for n, (_, mesh) in enumerate(meshes(program, garment, size, "nothing", folder))]
    wanted, girths = GARMENTS[garment]
    area, volume = 0.0, 0.0
    for mesh in parts:
        edges, crossed = open_edges(mesh)
        twice = len(mesh.faces) - len(np.unique(np.sort(mesh.faces, axis=1), axis=0))
        flat = int((mesh.area_faces < 1e-6).sum())
        if not mesh.is_winding_consistent or crossed or twice or flat:
            wrong.append(f"surface: wound {mesh.is_winding_consistent}, {crossed} edges of three faces, "
                         f"{twice} faces twice, {flat} without area")
        ends = mesh.vertices[edges]
        area += mesh.area + half * np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).sum()
        loops = openings(mesh)
        # Left as they are: by itself the library closes small holes.
        bodies = mesh.split(only_watertight=False, repair=False)
        body = max(bodies, key=lambda body: len(body.faces))
        own = len(openings(body))
        # A sphere with holes; what is closed all round is a ring.
        holes = 2 - own if own else 0
        if own != wanted or body.euler_number != holes:
            wrong.append(f"openings: {own} of {wanted}, characteristic {body.euler_number} of {holes}")
        if own == 1 and not girths:
            continue
        solid = lidded(mesh, loops)
        by_faces, by_cuts = solid.volume, cut_volume(solid)
        ball = solid.area ** 1.5 / (6 * math.sqrt(math.pi))
        if not 0 < by_faces < ball or abs(by_cuts / by_faces - 1) > 0.02 or not solid.is_watertight:
            wrong.append(f"volume: {by_faces:.0f} by faces, {by_cuts:.0f} by cuts, {ball:.0f} in a ball")
        volume += by_faces
        found = []
        by_width = sorted(loops, key=len)
        for name, loop in zip(girths, by_width):
            if name is None:
                continue
            cuts = [girth_behind(mesh, loop, deep) for deep in (4.0, 7.0, 10.0, 13.0)]
            met = [cut for cut in cuts if cut == cut]
            share = float(np.median(met)) / counted[name] if met else math.nan
            found.append(f"{name} {share:.3f}")
            if not GIRTH[0] < share < GIRTH[1]:
                wrong.append(f"girth: {name} {share:.3f} of what was counted")
        words += found if mesh is parts[0] else []
    share = area / cloth_mm2
    kind = "short rows" if garment in SHORT_ROWS else "closed" if garment in CLOSED else "other"
    if not AREA[kind][0] < share < AREA[kind][1]:
        wrong.append(f"area: {share:.3f} of stitches times gauge")

    worn = meshes(program, garment, size, "worn", folder)
    forms = {name.split(": ")[0]: mesh for name, mesh in worn if "lies on" in name}
    for name, mesh in worn:
        form = forms.get(name)
        if form is None:
            continue
        some = mesh.vertices[::7]
        inside = trimesh.proximity.signed_distance(form, some) if form.is_watertight else deep_in(form, some)
        share_deep = float((inside > DEEP_MM).mean())
        if share_deep > DEEP_SHARE:
            wrong.append(f"worn: {share_deep:.3f} of it lies in the form")
    words = [f"area {share:.3f}", f"volume {volume / 1e3:.0f} cm3" if volume else "flat", *words]
    return words, wrong, area


def deep_in(form, points):
    """How deep points lie in a form drawn as several shells: by the shell that holds them."""
    far = trimesh.proximity.closest_point(form, points)[1]
    return np.where(form.contains(points), far, -far)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--garments", default="all")
    parser.add_argument("--sizes", default="m3-6,y7-8,women-m")
    parser.add_argument("--fault", choices=["scale", "hole", "flip"])
    args = parser.parse_args()
    garments = list(GARMENTS) if args.garments == "all" else args.garments.split(",")
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for garment in garments:
            before = None
            for size in args.sizes.split(","):
                found = look(args.program, garment, size, args.fault, folder)
                if found is None:
                    continue
                words, wrong, large = found
                if before and large < before:
                    wrong.append("it is no larger than the size before")
                before = large
                bad += len(wrong)
                print(f"{garment:14} {size:9} {', '.join(words)}", *wrong, sep="\n    WRONG ", flush=True)
    print(f"{bad} out of bounds")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
