// Two ways to the limit surface of a cage with OpenSubdiv, for limit_reference.cpp: `Bfr` on the face
// of the cage, and descent by refinement to where the surface is one bicubic patch.
#pragma once

#include "opensubdiv_mesh.h"

#include <opensubdiv/bfr/refinerSurfaceFactory.h>

#include <optional>

namespace Bfr = OpenSubdiv::Bfr;

// Position and derivatives by a place's own (u, v).
struct Jet {
    Vec3 p, du, dv, duu, duv, dvv;
};

// A face of a mesh, and a place on it. A place on a face of four corners is by Bfr's (u, v): (0,0) is
// its first corner, u runs to the second. On any other face it is by the (u, v) of a corner's quad:
// (0,0) the corner, (1,0) the middle of the edge to the next corner, (1,1) the face's centre.
struct Place {
    int face = 0;
    int corner = 0; // of a face that is no quad
    double u = 0.0, v = 0.0;
};

struct Mesh {
    Topology topology;
    std::vector<Vec3> points;
    bool is_quad(int face) const { return topology.faces[face].size() == 4; }
};

inline Mesh mesh_of(Cage const &cage) {
    Mesh mesh;
    mesh.topology = {cage.vertex_count(), cage.faces, {}, 0, cage.creases};
    mesh.points.resize(cage.vertex_count());
    for (size_t i = 0; i < cage.positions.size(); ++i) mesh.points[i / 3].c[i % 3] = cage.positions[i];
    return mesh;
}

// ----------------------------------------------------------------------------------- Bfr by face

struct Levels { // of Bfr's approximation
    int smooth, sharp;
};

inline double *floats(Vec3 &p) { return p.c.data(); }

inline Vec3 times(Vec3 const &p, double s) { return {{s * p.c[0], s * p.c[1], s * p.c[2]}}; }

// What Bfr makes of a place on a mesh; nothing if Bfr has no surface there, or if it is to be a single
// regular patch and is not.
inline std::optional<Jet> bfr_jet(Far::TopologyRefiner const &refiner, Mesh const &mesh, Place const &at, Levels levels,
                                  bool only_regular) {
    Bfr::SurfaceFactory::Options options;
    options.SetApproxLevelSmooth(levels.smooth).SetApproxLevelSharp(levels.sharp);
    Bfr::RefinerSurfaceFactory<> const factory(refiner, options);
    Bfr::Surface<double> surface;
    if (!factory.InitVertexSurface(at.face, &surface)) return std::nullopt;
    if (only_regular && !surface.IsRegular()) return std::nullopt;
    std::vector<Vec3> patch(surface.GetNumPatchPoints());
    surface.PreparePatchPoints(mesh.points[0].c.data(), 3, floats(patch[0]), 3);

    double coordinate[2] = {at.u, at.v}, size = 1.0;
    auto const parameters = surface.GetParameterization();
    if (parameters.HasSubFaces()) { // a corner's quad is half a tile wide
        double const local[2] = {at.u, at.v};
        parameters.ConvertNormalizedSubFaceToCoord(at.corner, local, coordinate);
        size = 0.5;
    }
    Jet j;
    surface.Evaluate(coordinate, floats(patch[0]), 3, floats(j.p), floats(j.du), floats(j.dv), floats(j.duu),
                     floats(j.duv), floats(j.dvv));
    for (Vec3 *d : {&j.du, &j.dv}) *d = times(*d, size);
    for (Vec3 *d : {&j.duu, &j.duv, &j.dvv}) *d = times(*d, size * size);
    return j;
}

// ---------------------------------------------------------------------------------------- descent

// How a face's parameters follow from those of the place that the descent started with:
// its derivative matrix, d(s, t) / d(u, v). Entries are powers of two or 0.
struct Frame {
    double su = 1.0, sv = 0.0, tu = 0.0, tv = 1.0;
};

inline Vec3 combine(std::initializer_list<std::pair<double, Vec3>> terms) {
    Vec3 sum;
    for (auto const &[w, p] : terms) sum.AddWithWeight(p, w);
    return sum;
}

// The chain rule for s, t linear in u, v.
inline Jet by_parent_parameters(Jet const &j, Frame const &f) {
    auto const second = [&](double sa, double ta, double sb, double tb) {
        return combine({{sa * sb, j.duu}, {sa * tb + ta * sb, j.duv}, {ta * tb, j.dvv}});
    };
    return {j.p,
            combine({{f.su, j.du}, {f.tu, j.dv}}),
            combine({{f.sv, j.du}, {f.tv, j.dv}}),
            second(f.su, f.tu, f.su, f.tu),
            second(f.su, f.tu, f.sv, f.tv),
            second(f.sv, f.tv, f.sv, f.tv)};
}

// The corner of the face whose quarter the place is in.
inline int corner_of(Mesh const &mesh, Place const &at) {
    if (!mesh.is_quad(at.face)) return at.corner;
    return at.v <= 0.5 ? (at.u <= 0.5 ? 0 : 1) : (at.u <= 0.5 ? 3 : 2);
}

// Moves a place to the child face that it lies in, on level `l` + 1 of a refined mesh; the frame follows.
inline Place on_child(Far::TopologyRefiner const &refiner, int l, Mesh const &mesh, Place const &at, Frame &frame) {
    auto const &parent = refiner.GetLevel(l);
    auto const &child = refiner.GetLevel(l + 1);
    int const corner = corner_of(mesh, at), size = int(parent.GetFaceVertices(at.face).size());
    int const next = parent.GetEdgeChildVertex(parent.GetFaceEdges(at.face)[corner]);
    int const vertex = parent.GetVertexChildVertex(parent.GetFaceVertices(at.face)[corner]);
    int const centre = parent.GetFaceChildVertex(at.face);
    int const last = parent.GetEdgeChildVertex(parent.GetFaceEdges(at.face)[(corner + size - 1) % size]);

    // Where those four are in the place's parameters.
    using Uv = std::array<double, 2>;
    std::map<int, Uv> where{{vertex, {0, 0}}, {next, {1, 0}}, {centre, {1, 1}}, {last, {0, 1}}};
    if (size == 4) {
        Uv const corners[4] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}};
        auto const middle = [](Uv a, Uv b) { return Uv{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}; };
        Uv const here = corners[corner];
        where = {{vertex, here},
                 {next, middle(here, corners[(corner + 1) % 4])},
                 {centre, {0.5, 0.5}},
                 {last, middle(here, corners[(corner + 3) % 4])}};
    }
    for (int f : parent.GetFaceChildFaces(at.face)) {
        auto const around = child.GetFaceVertices(f);
        if (std::count(around.begin(), around.end(), vertex) == 0) continue;
        Uv const o = where.at(around[0]), a = where.at(around[1]), b = where.at(around[3]);
        double const scale = size == 4 ? 4.0 : 1.0; // 1 / length squared of the child's sides
        Frame const step{scale * (a[0] - o[0]), scale * (a[1] - o[1]), scale * (b[0] - o[0]), scale * (b[1] - o[1])};
        Frame const old = frame;
        frame = {step.su * old.su + step.sv * old.tu, step.su * old.sv + step.sv * old.tv,
                 step.tu * old.su + step.tv * old.tu, step.tu * old.sv + step.tv * old.tv};
        double const u = at.u - o[0], v = at.v - o[1];
        return {f, 0, step.su * u + step.sv * v, step.tu * u + step.tv * v};
    }
    fail("a face without a child at its corner");
}

// The faces at a vertex that are reached from `face` without crossing an infinitely sharp edge.
inline std::set<int> sector_of(Far::TopologyLevel const &level, int face, int vertex) {
    std::set<int> sector{face};
    std::vector<int> open{face};
    while (!open.empty()) {
        auto const edges = level.GetFaceEdges(open.back());
        open.pop_back();
        for (int e : edges) {
            auto const ends = level.GetEdgeVertices(e);
            if ((ends[0] != vertex && ends[1] != vertex) || level.GetEdgeSharpness(e) >= INFINITE) continue;
            for (int f : level.GetEdgeFaces(e))
                if (sector.insert(f).second) open.push_back(f);
        }
    }
    return sector;
}

// How many infinitely sharp edges meet at a vertex, borders included.
inline int infinite_edges(Far::TopologyLevel const &level, int vertex) {
    int count = 0;
    for (int e : level.GetVertexEdges(vertex)) count += level.GetEdgeSharpness(e) >= INFINITE;
    return count;
}

// Whether the surface on one side of the infinitely sharp edges at a vertex is independent of what
// lies beyond: not where such an edge ends, nor while semi-sharp edges from beyond still count.
inline bool sides_are_apart(Far::TopologyLevel const &level, int vertex) {
    auto const decays = [](float s) { return s > 0.0f && s < INFINITE; };
    for (int e : level.GetVertexEdges(vertex))
        if (decays(level.GetEdgeSharpness(e))) return false;
    return !decays(level.GetVertexSharpness(vertex)) && !level.IsVertexNonManifold(vertex) &&
           infinite_edges(level, vertex) != 1;
}

// A face of a level with the faces that its limit surface depends on: those that touch it, and once the
// sides of infinitely sharp edges are apart only those on its side, so that the crease becomes a
// border (the rules are the same). The face becomes face 0. Sharp corners, those of the border included,
// become explicit, so that the cut is right under the rule `edge-only`.
inline Mesh cut(Far::TopologyLevel const &level, std::vector<Vec3> const &points, int face) {
    Mesh mesh;
    std::map<int, int> number;
    std::set<int> faces{face}, edges;
    auto const corners = level.GetFaceVertices(face);
    auto const add = [&](int f) {
        std::vector<int> around;
        for (int v : level.GetFaceVertices(f)) {
            auto const [at, added] = number.insert({v, int(number.size())});
            if (added) mesh.points.push_back(points[v]);
            around.push_back(at->second);
        }
        mesh.topology.faces.push_back(around);
    };
    add(face);
    bool const apart = std::all_of(corners.begin(), corners.end(), [&](int v) { return sides_are_apart(level, v); });
    for (int v : corners) {
        auto const touching = level.GetVertexFaces(v);
        for (int f : apart ? sector_of(level, face, v) : std::set<int>(touching.begin(), touching.end()))
            if (faces.insert(f).second) add(f);
        for (int e : level.GetVertexEdges(v)) edges.insert(e);
        bool const corner = apart && infinite_edges(level, v) > 2;
        float const sharpness = corner ? INFINITE : level.GetVertexSharpness(v);
        if (sharpness > 0.0f) mesh.topology.creases.push_back({number.at(v), -1, sharpness});
    }
    for (int e : edges) {
        auto const ends = level.GetEdgeVertices(e);
        bool const inside = number.count(ends[0]) && number.count(ends[1]);
        if (inside && level.GetEdgeSharpness(e) > 0.0f)
            mesh.topology.creases.push_back({number.at(ends[0]), number.at(ends[1]), level.GetEdgeSharpness(e)});
    }
    mesh.topology.vertex_count = int(mesh.points.size());
    return mesh;
}

// Refines the neighbourhood of the place until the surface there is a single bicubic patch; nothing if it
// isn't after `most_steps`. Exact but for rounding: refinement keeps the limit surface.
inline std::optional<Jet> descended_jet(Mesh mesh, Place at, Boundary boundary, int most_steps) {
    Frame frame;
    for (int step = 0;; ++step) {
        Refiner const refiner = make_refiner(mesh.topology, boundary, step < most_steps ? 1 : 0);
        if (auto const jet = bfr_jet(*refiner, mesh, at, {2, 6}, true)) return by_parent_parameters(*jet, frame);
        if (step == most_steps) return std::nullopt;
        std::vector<Vec3> fine(refiner->GetLevel(1).GetNumVertices());
        Vec3 *to = fine.data();
        Far::PrimvarRefinerReal<double>(*refiner).Interpolate(1, mesh.points.data(), to);
        at = on_child(*refiner, 0, mesh, at, frame);
        mesh = cut(refiner->GetLevel(1), fine, at.face);
        at.face = 0;
        boundary = Sdc::Options::VTX_BOUNDARY_EDGE_ONLY; // corners are explicit from here on
    }
}
