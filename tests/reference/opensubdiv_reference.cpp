// Makes the OpenSubdiv reference: refined positions, limit positions and limit normals of every
// cage in a folder, in double precision.
//
//     opensubdiv_reference CAGES_FOLDER OUT_FOLDER [--every-row]
//
// Refined positions come straight from uniform refinement. Limit positions and normals come from
// the vertex's own one-ring of faces, cut out and refined again and again by OpenSubdiv (the ring
// of level L+1 depends on the ring of level L alone, so the cut changes nothing). How the limit is
// then taken depends on the kind of vertex, because OpenSubdiv's limit masks are not the limit of
// its own refinement everywhere:
//
//   smooth                  the ring is refined at least once (so that all faces are quads) and
//                           until all semi-sharpness on it has decayed; then OpenSubdiv's masks.
//   border, up to 2 faces   likewise, masks. With 1 face (`edge-only`) the normal is that of the
//                           osculating plane of the border curve, reached like 1/level.
//   border, 3 faces         position and normal by deep refinement: the masks assume that the
//                           across-tangent shrinks by 1/2 a level, which holds for 2 faces only.
//   border, 4 faces and on  position by mask; no normal: reached like 1/level (4) or dependent on
//                           the direction of approach (5 and more).
//   crease (interior)       position by mask; no normal: one for each side.
//   dart                    position and normal by deep refinement: the masks are the smooth ones,
//                           which ignore the sharp edge.
//   corner                  position by mask (the vertex itself, once sharpness is infinite); no
//                           normal: several sectors, or one of several faces.
//   border-corner           a corner in one face only; masks.
//   border-valence-corner   an infinitely sharp border vertex with 2 faces and more; no normal.
//   valence-2               interior vertex of two faces: position by deep refinement; no normal.
//   non-manifold            position by deep refinement; no normal.
//   unreferenced            stays where it is; no normal.
//
// Deep refinement moves the ring to the origin and scales it by a power of two after each step, so
// that nothing is lost to cancellation. A normal found so is written only if all faces of the ring
// agree on it.
#include "opensubdiv_mesh.h"

#include <functional>

constexpr int LAST_LEVEL = 4;
constexpr int LAST_UV_LEVEL = 3;
constexpr int MOST_DEEP_STEPS = 2000;
constexpr double DEEP_ENOUGH = 1e-24;   // size of the ring, beside its size at first
constexpr double NORMALS_AGREE = 1e-13; // largest difference between unit normals of the ring's faces

// ---------------------------------------------------------------- the ring of faces of one vertex

// Vertex 0 is the centre. True positions are origin + scale * points.
struct Ring {
    Topology topology;
    std::vector<Vec3> points;
    Vec3 origin;
    double scale = 1.0;
};

static Ring cut_ring(Far::TopologyLevel const &level, Vec3 const *positions, int v) {
    Ring ring;
    std::map<int, int> number{{v, 0}};
    ring.points.push_back(positions[v]);
    for (int f : level.GetVertexFaces(v)) {
        std::vector<int> face;
        for (int w : level.GetFaceVertices(f)) {
            auto const [at, added] = number.insert({w, int(number.size())});
            if (added) ring.points.push_back(positions[w]);
            face.push_back(at->second);
        }
        ring.topology.faces.push_back(face);
    }
    for (int e : level.GetVertexEdges(v)) {
        float const s = level.GetEdgeSharpness(e);
        auto const ends = level.GetEdgeVertices(e);
        if (s > 0.0f) ring.topology.creases.push_back({0, number.at(ends[0] == v ? ends[1] : ends[0]), s});
    }
    if (level.GetVertexSharpness(v) > 0.0f) ring.topology.creases.push_back({0, -1, level.GetVertexSharpness(v)});
    ring.topology.vertex_count = int(ring.points.size());
    return ring;
}

static void centre_and_scale(Ring &ring) {
    Vec3 const centre = ring.points[0];
    ring.origin.AddWithWeight(centre, ring.scale);
    double size = 0.0;
    for (auto &p : ring.points) {
        p = sub(p, centre);
        size = std::max(size, length(p));
    }
    double const factor = std::exp2(std::floor(std::log2(size)));
    for (auto &p : ring.points)
        for (auto &x : p.c) x /= factor;
    ring.scale *= factor;
}

static Ring refine_ring(Ring const &ring, Boundary boundary) {
    Refiner const refiner = make_refiner(ring.topology, boundary, 1);
    auto const &child = refiner->GetLevel(1);
    std::vector<Vec3> fine(child.GetNumVertices());
    Far::PrimvarRefinerReal<double> primvar(*refiner);
    Vec3 *to = fine.data();
    primvar.Interpolate(1, ring.points.data(), to);
    Ring next = cut_ring(child, fine.data(), refiner->GetLevel(0).GetVertexChildVertex(0));
    next.origin = ring.origin;
    next.scale = ring.scale;
    centre_and_scale(next);
    return next;
}

static bool is_semi_sharp(Ring const &ring) {
    return std::any_of(ring.topology.creases.begin(), ring.topology.creases.end(),
                       [](Crease const &c) { return c.sharpness < INFINITE; });
}

static Vec3 mask_limit(Ring const &ring, Boundary boundary, Vec3 &normal) {
    Refiner const refiner = make_refiner(ring.topology, boundary, 0);
    size_t const n = ring.points.size();
    std::vector<Vec3> limit(n), t1(n), t2(n);
    Far::PrimvarRefinerReal<double> primvar(*refiner);
    Vec3 *l = limit.data(), *a = t1.data(), *b = t2.data();
    primvar.Limit(ring.points.data(), l, a, b);
    normal = unit(cross(t1[0], t2[0]));
    Vec3 p = ring.origin;
    p.AddWithWeight(limit[0], ring.scale);
    return p;
}

// Refines until the ring is nothing to the size it had.
static Vec3 deep_position(Ring ring, Boundary boundary) {
    double const size = ring.scale;
    while (ring.scale > DEEP_ENOUGH * size) ring = refine_ring(ring, boundary);
    return ring.origin;
}

// A map that keeps lengths along a unit vector and stretches everything across it.
struct Stretch {
    Vec3 along;
    double factor;
    Vec3 operator()(Vec3 const &p) const {
        double const dot = p.c[0] * along.c[0] + p.c[1] * along.c[1] + p.c[2] * along.c[2];
        Vec3 q = along;
        for (int i = 0; i < 3; ++i) q.c[i] = dot * along.c[i] + factor * (p.c[i] - dot * along.c[i]);
        return q;
    }
};

// The stretch that makes the ring as wide as it is long.
static Stretch widening(Ring const &ring) {
    Vec3 along{{1.0, 0.7, 0.3}};
    for (int i = 0; i < 60; ++i) { // power iteration on the sum of p p^T
        Vec3 next;
        for (auto const &p : ring.points)
            next.AddWithWeight(p, p.c[0] * along.c[0] + p.c[1] * along.c[1] + p.c[2] * along.c[2]);
        along = unit(next);
    }
    double longest = 0.0, widest = 0.0;
    for (auto const &p : ring.points) {
        double const across = length(cross(p, along));
        widest = std::max(widest, across);
        longest = std::max(longest, std::sqrt(std::max(0.0, length(p) * length(p) - across * across)));
    }
    return {along, longest / widest};
}

// Mean of the unit normals of the ring's faces at the centre; `apart` is how far they differ from it.
static Vec3 mean_normal(Ring const &ring, double &apart) {
    std::vector<Vec3> normals;
    Vec3 sum;
    for (auto const &f : ring.topology.faces) {
        size_t const at = std::find(f.begin(), f.end(), 0) - f.begin();
        normals.push_back(unit(cross(ring.points[f[(at + 1) % 4]], ring.points[f[(at + 3) % 4]])));
        sum.AddWithWeight(normals.back(), 1.0);
    }
    Vec3 const mean = unit(sum);
    apart = 0.0;
    for (auto const &n : normals) apart = std::max(apart, length(sub(n, mean)));
    return mean;
}

// Refines until the faces of the ring agree on a normal and it stands still (two faces may agree
// by symmetry long before); false if that never happens. Where the ring shrinks faster in one
// direction than in the other it becomes a sliver, so it is stretched wide again after each step.
// That is allowed, as refinement commutes with affine maps; the normal is carried back through the
// (symmetric) stretches.
static bool deep_normal(Ring ring, Boundary boundary, Vec3 &normal) {
    std::vector<Stretch> stretches;
    for (int step = 0; step < MOST_DEEP_STEPS; ++step) {
        ring = refine_ring(ring, boundary);
        stretches.push_back(widening(ring));
        for (auto &p : ring.points) p = stretches.back()(p);
        double apart;
        Vec3 const last = normal;
        normal = mean_normal(ring, apart);
        for (size_t i = stretches.size(); i-- > 0;) normal = unit(stretches[i](normal));
        if (step > 0 && apart < NORMALS_AGREE && length(sub(normal, last)) < NORMALS_AGREE) return true;
    }
    return false;
}

// ------------------------------------------------------------------------ limit of one vertex

struct Limit {
    Vec3 position, normal;
    bool has_normal = false, semi_sharp = false, by_mask = false;
    std::string kind;
    int sector = 0; // faces around the vertex; of a crease, those of its larger side
};

static bool edge_is_sharp(Topology const &t, int v) {
    return std::any_of(t.creases.begin(), t.creases.end(),
                       [v](Crease const &c) { return c.v1 == v && c.sharpness >= INFINITE; });
}

// Faces of the larger of the two sides of an interior crease: walks from face to face over the
// spokes that are not sharp.
static int larger_side(Ring const &ring) {
    std::map<int, std::vector<int>> faces_of_spoke;
    auto const &faces = ring.topology.faces;
    for (size_t f = 0; f < faces.size(); ++f) {
        size_t const n = faces[f].size(), at = std::find(faces[f].begin(), faces[f].end(), 0) - faces[f].begin();
        for (size_t k : {(at + 1) % n, (at + n - 1) % n}) faces_of_spoke[faces[f][k]].push_back(int(f));
    }
    std::vector<int> side(faces.size());
    for (size_t f = 0; f < side.size(); ++f) side[f] = int(f);
    std::function<int(int)> root = [&](int f) { return side[f] == f ? f : root(side[f]); };
    for (auto const &[spoke, fs] : faces_of_spoke)
        if (fs.size() == 2 && !edge_is_sharp(ring.topology, spoke)) side[root(fs[0])] = root(fs[1]);
    std::map<int, int> counts;
    int most = 0;
    for (size_t f = 0; f < side.size(); ++f) most = std::max(most, ++counts[root(int(f))]);
    return most;
}

static Limit limit_of(Far::TopologyLevel const &level, Vec3 const *positions, int v, Boundary boundary) {
    Limit out;
    out.sector = level.GetVertexFaces(v).size();
    if (out.sector == 0) {
        out.kind = "unreferenced";
        out.position = positions[v];
        return out;
    }
    Ring ring = cut_ring(level, positions, v);
    out.semi_sharp = is_semi_sharp(ring);
    do ring = refine_ring(ring, boundary);
    while (is_semi_sharp(ring));

    int sharp_edges = 0;
    bool sharp_vertex = false;
    for (auto const &c : ring.topology.creases) {
        if (c.v1 < 0) sharp_vertex = true;
        else ++sharp_edges;
    }
    bool const border = level.IsVertexBoundary(v);
    bool deep = false; // whether the masks are no use
    if (level.IsVertexNonManifold(v)) {
        out.kind = "non-manifold";
        deep = true;
    } else if (sharp_vertex || sharp_edges > 2) {
        out.kind = !border ? "corner" : out.sector == 1 ? "border-corner" : "border-valence-corner";
        out.has_normal = border && out.sector == 1;
    } else if (sharp_edges == 2) {
        out.kind = border ? "border" : "crease";
        if (!border) out.sector = larger_side(ring);
        out.has_normal = border && out.sector <= 3;
        deep = border && out.sector == 3; // for the normal
    } else if (sharp_edges == 1) {
        out.kind = "dart";
        out.has_normal = deep = true;
    } else if (out.sector == 2) {
        out.kind = "valence-2";
        deep = true;
    } else {
        out.kind = "smooth";
        out.has_normal = true;
    }
    out.by_mask = !deep;
    if (!deep) {
        out.position = mask_limit(ring, boundary, out.normal);
    } else {
        out.position = deep_position(ring, boundary);
        if (out.has_normal) out.has_normal = deep_normal(ring, boundary, out.normal);
    }
    return out;
}

// ------------------------------------------------------------------------------------ writing

static FILE *open_for_writing(std::filesystem::path const &path, char const *header) {
    FILE *file = std::fopen(path.c_str(), "w");
    if (!file) fail("cannot write " + path.string());
    std::fprintf(file, "%s\n", header);
    return file;
}

static void write_vec(FILE *file, Vec3 const &p) {
    for (double x : p.c) std::fprintf(file, ",%.17g", x == 0.0 ? 0.0 : x);
}

// Largest differences between the two ways to the limit, where both hold: a check of this program.
struct Worst {
    double position = 0.0, normal = 0.0;
};

static void compare_with_deep(Far::TopologyLevel const &level, Vec3 const *positions, int v, Boundary boundary,
                              Limit const &limit, Worst &worst) {
    Ring const ring = refine_ring(cut_ring(level, positions, v), boundary);
    worst.position = std::max(worst.position, length(sub(deep_position(ring, boundary), limit.position)));
    Vec3 normal;
    bool const reached_slowly = limit.kind == "border" && limit.sector == 1;
    if (limit.has_normal && !reached_slowly && deep_normal(ring, boundary, normal))
        worst.normal = std::max(worst.normal, length(sub(normal, limit.normal)));
}

static void write_cage(Cage const &cage, bool edge_only, std::filesystem::path const &out, FILE *counts, Worst &worst) {
    Boundary const boundary =
        edge_only ? Sdc::Options::VTX_BOUNDARY_EDGE_ONLY : Sdc::Options::VTX_BOUNDARY_EDGE_AND_CORNER;
    Topology topology{cage.vertex_count(), cage.faces, cage.face_uvs, int(cage.uvs.size() / 2), cage.creases};
    Refiner const refiner = make_refiner(topology, boundary, LAST_LEVEL);
    Far::PrimvarRefinerReal<double> primvar(*refiner);

    std::string const stem = cage.name + (edge_only ? ".edge-only" : "");
    FILE *file = open_for_writing(out / (stem + ".csv"),
                                  "level,x,y,z,limit_x,limit_y,limit_z,normal_x,normal_y,normal_z,kind,sector,semi_sharp");
    std::vector<Vec3> level_points(cage.vertex_count());
    for (int v = 0; v < cage.vertex_count(); ++v)
        for (int k = 0; k < 3; ++k) level_points[v].c[k] = cage.positions[3 * v + k];
    std::vector<Vec2> level_uvs(cage.uvs.size() / 2);
    for (size_t i = 0; i < cage.uvs.size(); ++i) level_uvs[i / 2].c[i % 2] = cage.uvs[i];
    FILE *uv_file = nullptr;
    if (!cage.uvs.empty() && !edge_only) uv_file = open_for_writing(out / (stem + ".uv.csv"), "level,x,y,z,u,v");

    for (int l = 0; l <= LAST_LEVEL; ++l) {
        auto const &level = refiner->GetLevel(l);
        if (l > 0) {
            std::vector<Vec3> finer(level.GetNumVertices());
            Vec3 *to = finer.data();
            primvar.Interpolate(l, level_points.data(), to);
            level_points = finer;
            if (!cage.uvs.empty()) {
                std::vector<Vec2> finer_uvs(level.GetNumFVarValues());
                Vec2 *uv_to = finer_uvs.data();
                primvar.InterpolateFaceVarying(l, level_uvs.data(), uv_to);
                level_uvs = finer_uvs;
            }
        }
        std::fprintf(counts, "%s,%s,%d,%d,%d\n", cage.name.c_str(), edge_only ? "edge-only" : "edge-and-corner", l,
                     level.GetNumVertices(), level.GetNumFaces());
        for (int v = 0; v < level.GetNumVertices(); ++v) {
            if (!row_is_kept(v, l, cage)) continue;
            if (l > 0 && level.GetVertexFaces(v).size() == 0) continue;
            std::fprintf(file, "%d", l);
            write_vec(file, level_points[v]);
            if (l == 0 || l == 2) {
                Limit const limit = limit_of(level, level_points.data(), v, boundary);
                if (limit.by_mask && l == 0 && limit.kind != "unreferenced")
                    compare_with_deep(level, level_points.data(), v, boundary, limit, worst);
                write_vec(file, limit.position);
                if (limit.has_normal) write_vec(file, limit.normal);
                else std::fprintf(file, ",,,");
                std::fprintf(file, ",%s,%d,%d", limit.kind.c_str(), limit.sector, int(limit.semi_sharp));
            }
            std::fprintf(file, "\n");
        }
        if (!uv_file || l == 0 || l > LAST_UV_LEVEL) continue;
        // One row per distinct (vertex, UV value) pair.
        std::set<std::pair<int, int>> pairs;
        for (int f = 0; f < level.GetNumFaces(); ++f)
            for (int k = 0; k < 4; ++k) pairs.insert({level.GetFaceVertices(f)[k], level.GetFaceFVarValues(f)[k]});
        for (auto const &[v, t] : pairs) {
            if (!row_is_kept(v, l, cage)) continue;
            std::fprintf(uv_file, "%d", l);
            write_vec(uv_file, level_points[v]);
            std::fprintf(uv_file, ",%.17g,%.17g\n", level_uvs[t].c[0], level_uvs[t].c[1]);
        }
    }
    std::fclose(file);
    if (uv_file) std::fclose(uv_file);
}

int main(int argc, char **argv) {
    read_arguments(argc, argv);
    std::filesystem::path const out = argv[2];
    FILE *counts = open_for_writing(out / "counts.csv", "name,boundary,level,vertices,faces");
    Worst worst;
    for (Cage const &cage : read_cages(argv[1])) {
        write_cage(cage, false, out, counts, worst);
        if (cage.has_border_corner()) write_cage(cage, true, out, counts, worst);
    }
    std::fclose(counts);
    std::printf("OpenSubdiv %d.%d.%d: masks against deep refinement, largest difference: position %.3g, normal %.3g\n",
                OPENSUBDIV_VERSION_MAJOR, OPENSUBDIV_VERSION_MINOR, OPENSUBDIV_VERSION_PATCH, worst.position, worst.normal);
}
