// What the OpenSubdiv reference programs share: points in double precision and the way from a cage
// to a topology refiner.
#pragma once

#include "cage_file.h"

#include <opensubdiv/far/primvarRefiner.h>
#include <opensubdiv/far/topologyDescriptor.h>
#include <opensubdiv/version.h>

#include <array>
#include <cmath>
#include <memory>

namespace Far = OpenSubdiv::Far;
namespace Sdc = OpenSubdiv::Sdc;

constexpr float INFINITE = 10.0f; // Sdc::Crease::SHARPNESS_INFINITE

template <int N> struct Value {
    std::array<double, N> c{};
    void Clear(void * = nullptr) { c.fill(0.0); }
    void AddWithWeight(Value const &o, double w) {
        for (int i = 0; i < N; ++i) c[i] += w * o.c[i];
    }
};
using Vec3 = Value<3>;
using Vec2 = Value<2>;

inline Vec3 sub(Vec3 const &a, Vec3 const &b) { return {{a.c[0] - b.c[0], a.c[1] - b.c[1], a.c[2] - b.c[2]}}; }
inline Vec3 cross(Vec3 const &a, Vec3 const &b) {
    return {{a.c[1] * b.c[2] - a.c[2] * b.c[1], a.c[2] * b.c[0] - a.c[0] * b.c[2], a.c[0] * b.c[1] - a.c[1] * b.c[0]}};
}
inline double length(Vec3 const &a) { return std::sqrt(a.c[0] * a.c[0] + a.c[1] * a.c[1] + a.c[2] * a.c[2]); }
inline Vec3 unit(Vec3 const &a) {
    double const l = length(a);
    return {{a.c[0] / l, a.c[1] / l, a.c[2] / l}};
}

using Refiner = std::unique_ptr<Far::TopologyRefiner>;
using Boundary = Sdc::Options::VtxBoundaryInterpolation;

struct Topology {
    int vertex_count = 0;
    std::vector<std::vector<int>> faces;
    std::vector<std::vector<int>> face_uvs;
    int uv_count = 0;
    std::vector<Crease> creases;
};

inline Refiner make_refiner(Topology const &t, Boundary boundary, int levels) {
    std::vector<int> sizes, corners, uv_corners, crease_pairs, corner_vertices;
    std::vector<float> crease_weights, corner_weights;
    for (auto const &f : t.faces) {
        sizes.push_back(int(f.size()));
        corners.insert(corners.end(), f.begin(), f.end());
    }
    for (auto const &f : t.face_uvs) uv_corners.insert(uv_corners.end(), f.begin(), f.end());
    for (auto const &c : t.creases) {
        if (c.v1 < 0) {
            corner_vertices.push_back(c.v0);
            corner_weights.push_back(c.sharpness);
        } else {
            crease_pairs.insert(crease_pairs.end(), {c.v0, c.v1});
            crease_weights.push_back(c.sharpness);
        }
    }
    Far::TopologyDescriptor d;
    d.numVertices = t.vertex_count;
    d.numFaces = int(sizes.size());
    d.numVertsPerFace = sizes.data();
    d.vertIndicesPerFace = corners.data();
    d.numCreases = int(crease_weights.size());
    d.creaseVertexIndexPairs = crease_pairs.data();
    d.creaseWeights = crease_weights.data();
    d.numCorners = int(corner_weights.size());
    d.cornerVertexIndices = corner_vertices.data();
    d.cornerWeights = corner_weights.data();
    Far::TopologyDescriptor::FVarChannel channel;
    if (!t.face_uvs.empty()) {
        channel.numValues = t.uv_count;
        channel.valueIndices = uv_corners.data();
        d.numFVarChannels = 1;
        d.fvarChannels = &channel;
    }
    Sdc::Options options;
    options.SetVtxBoundaryInterpolation(boundary);
    options.SetFVarLinearInterpolation(Sdc::Options::FVAR_LINEAR_BOUNDARIES);
    options.SetCreasingMethod(Sdc::Options::CREASE_UNIFORM);
    using Factory = Far::TopologyRefinerFactory<Far::TopologyDescriptor>;
    Refiner refiner(Factory::Create(d, Factory::Options(Sdc::SCHEME_CATMARK, options)));
    if (!refiner) fail("OpenSubdiv refuses the topology");
    if (levels > 0) {
        Far::TopologyRefiner::UniformOptions uniform(levels);
        uniform.fullTopologyInLastLevel = true;
        refiner->RefineUniform(uniform);
    }
    return refiner;
}
