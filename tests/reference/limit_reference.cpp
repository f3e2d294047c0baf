// Makes the reference for the limit surface between vertices: position, first and second derivatives,
// normal and principal curvatures at fixed places on the faces of every cage in a folder.
//
//     limit_reference CAGES_FOLDER OUT_FOLDER
//     limit_reference CAGES_FOLDER --survey
//
// The values come from refining the neighbourhood of a place with OpenSubdiv until OpenSubdiv's `Bfr`
// says that the surface there is a single bicubic patch, and evaluating that: exact but for rounding,
// since refinement keeps the limit surface. Beside them, `Bfr` evaluates the cage's own face
// with its approximation levels raised to 8 (smooth) and 10 (sharp), which is another way to the same
// surface; a place is kept if both agree. A third way, OpenSubdiv's limit masks at vertices of level 4,
// checks positions and normals. The largest differences are printed; --survey prints them cage by
// cage, with the places left out, and writes nothing.
//
// Places: a low-discrepancy sequence over the faces, then edges and the lines on which a face's quarters
// meet, then places near poles and other irregular corners, at 2^-3, 2^-4 and 2^-5 of the face. All parameters
// are multiples of 2^-16, so that halving them is exact.
#include "limit_descent.h"

constexpr Levels FINE_LEVELS{8, 10}, DEFAULT_LEVELS{2, 6};
// Descent ends here. A place less than about 2^-7 of the face away from an irregular corner is left out by it.
constexpr int MOST_STEPS = 8;
constexpr int DYADIC_LEVEL = 4; // all semi-sharpness has decayed: the largest is 3
// Largest difference of the two ways at a place that is kept, relative: a hundredth of what a comparison with these
// values is to resolve. Only rounding separates them, which grows where the two tangents near each other:
// at border corners under `edge-only`.
constexpr double AGREEMENT = 1e-10;
// No rounding explains more: then one of the two is not the limit surface, and nothing may be kept.
constexpr double DISAGREEMENT = 1e-8;

// What is left out altogether, and why: see reference-data/README.md.
static char const *const LEFT_OUT[] = {"semi-sharp-decimals"};

struct Counts { // of places before those that cannot be evaluated are dropped
    int even, lines, poles;
};
constexpr Counts FULL{56, 24, 32}, EDGE_ONLY{28, 12, 16};
constexpr size_t MOST_EVEN = 120; // one per quad at least, up to this many

// ----------------------------------------------------------------------------------------- places

constexpr double UNIT = 1.0 / 65536;

// A point of the unit square: the additive recurrence with the powers of the plastic number, in
// multiples of 2^-16 (common practice, called R2; no published source of first rank).
class Sequence {
public:
    explicit Sequence(std::string const &name) {
        for (unsigned char c : name) n_ = (n_ ^ c) * 16777619u; // FNV-1a
    }
    std::array<double, 2> next() {
        ++n_;
        return {((n_ * 49471u) & 65535u) * UNIT, ((n_ * 37345u) & 65535u) * UNIT};
    }

private:
    unsigned n_ = 2166136261u;
};

static std::vector<Place> quads_of(Mesh const &mesh) {
    std::vector<Place> quads;
    for (size_t f = 0; f < mesh.topology.faces.size(); ++f)
        for (size_t c = 0; c < (mesh.is_quad(int(f)) ? 1 : mesh.topology.faces[f].size()); ++c)
            quads.push_back({int(f), int(c), 0.0, 0.0});
    return quads;
}

static Place at(Place quad, double u, double v) { return {quad.face, quad.corner, u, v}; }

static void add_even(std::vector<Place> const &quads, int count, Sequence &sequence, std::vector<Place> &places) {
    size_t const most = std::max(size_t(count), std::min(quads.size(), MOST_EVEN));
    for (size_t k = 0; k < most; ++k) {
        auto const [u, v] = sequence.next();
        places.push_back(at(quads[k * quads.size() / most], u, v));
    }
}

static void add_lines(std::vector<Place> const &quads, int count, Sequence &sequence, std::vector<Place> &places) {
    for (int k = 0; k < count; ++k) {
        auto const [t, s] = sequence.next();
        double const quarter = int(4 * s) / 4.0; // 0, 1/4, 1/2 or 3/4
        double const lines[8][2] = {{t, 0}, {0, t}, {1, t}, {t, 1}, {0.5, t}, {t, 0.5}, {quarter, t}, {quarter, int(4 * t) / 4.0}};
        auto const [u, v] = lines[k % 8];
        places.push_back(at(quads[size_t(k) * quads.size() / count], u, v));
    }
}

// Corners at which descent never ends, in the order of the quads.
static std::vector<Place> irregular_corners(Mesh const &mesh, std::vector<Place> const &quads, Boundary boundary) {
    std::vector<Place> corners;
    for (auto const &q : quads)
        for (auto [u, v] : {std::pair(0.0, 0.0), {1.0, 0.0}, {1.0, 1.0}, {0.0, 1.0}})
            if (!descended_jet(mesh, at(q, u, v), boundary, MOST_STEPS)) corners.push_back(at(q, u, v));
    return corners;
}

static void add_poles(std::vector<Place> const &corners, int count, Sequence &sequence, std::vector<Place> &places) {
    if (corners.empty()) return;
    for (int k = 0; k < count; ++k) {
        Place const &c = corners[size_t(k) * corners.size() / count];
        auto const [t, s] = sequence.next();
        double const d = std::exp2(-3 - k % 3);
        double const along = s < 0.5 ? d : std::floor(d * t / UNIT) * UNIT;
        double const across = s < 0.5 ? std::floor(d * t / UNIT) * UNIT : d;
        places.push_back(at(c, std::abs(c.u - along), std::abs(c.v - across)));
    }
}

static std::vector<Place> places_on(Mesh const &mesh, std::string const &name, Boundary boundary, Counts counts) {
    auto const quads = quads_of(mesh);
    Sequence sequence(name);
    std::vector<Place> places;
    add_even(quads, counts.even, sequence, places);
    add_lines(quads, counts.lines, sequence, places);
    add_poles(irregular_corners(mesh, quads, boundary), counts.poles, sequence, places);
    auto const key = [](Place const &p) { return std::array<double, 4>{double(p.face), double(p.corner), p.u, p.v}; };
    std::sort(places.begin(), places.end(), [&](auto const &a, auto const &b) { return key(a) < key(b); });
    places.erase(std::unique(places.begin(), places.end(), [&](auto const &a, auto const &b) { return key(a) == key(b); }),
                 places.end());
    return places;
}

// -------------------------------------------------------------------------------------- curvature

struct Bend {
    Vec3 normal;
    double k1, k2;
};

static double dot(Vec3 const &a, Vec3 const &b) { return a.c[0] * b.c[0] + a.c[1] * b.c[1] + a.c[2] * b.c[2]; }

// Normal and principal curvatures by the two fundamental forms (do Carmo 1976, section 3-3), written in an
// orthonormal frame of the tangent plane, where the shape operator is symmetric. Positive where the
// surface falls away from the side that the normal points to.
static Bend bend_of(Jet const &j) {
    Vec3 const n = unit(cross(j.du, j.dv));
    double const e = length(j.du);
    Vec3 const x = times(j.du, 1 / e), y = cross(n, x);
    double const f = dot(j.dv, x), g = dot(j.dv, y); // du = e x, dv = f x + g y
    double const l = -dot(j.duu, n), m = -dot(j.duv, n), q = -dot(j.dvv, n);
    double const a = l / (e * e), b = (m / e - f * a) / g;
    double const c = (q - 2 * f * g * b - f * f * a) / (g * g);
    double const mean = (a + c) / 2, half = std::hypot((a - c) / 2, b);
    return {n, mean + half, mean - half};
}

// ----------------------------------------------------------------------------------------- checks

// Largest differences. Lengths and derivatives are relative to the cage's extent, curvatures to the
// larger of the place's own curvature and 1 / extent.
struct Difference {
    double position = 0, first = 0, second = 0, normal = 0, curvature = 0;
    void take(Difference const &o) {
        position = std::max(position, o.position);
        first = std::max(first, o.first);
        second = std::max(second, o.second);
        normal = std::max(normal, o.normal);
        curvature = std::max(curvature, o.curvature);
    }
    double largest() const { // infinite if anything is not a number
        bool const finite = std::isfinite(position + first + second + normal + curvature);
        return finite ? std::max({position, first, second, normal, curvature}) : INFINITY;
    }
    void print(char const *what) const {
        std::printf("%s: position %.2g, first %.2g, second %.2g, normal %.2g, curvature %.2g\n", what, position, first, second,
                    normal, curvature);
    }
};

static Difference difference(Jet const &a, Jet const &b, double extent) {
    Bend const x = bend_of(a), y = bend_of(b);
    double const scale = std::max({std::abs(x.k1), std::abs(x.k2), 1 / extent});
    auto const apart = [](Vec3 const &p, Vec3 const &q) { return length(sub(p, q)); };
    return {apart(a.p, b.p) / extent, std::max(apart(a.du, b.du), apart(a.dv, b.dv)) / extent,
            std::max({apart(a.duu, b.duu), apart(a.duv, b.duv), apart(a.dvv, b.dvv)}) / extent, apart(x.normal, y.normal),
            std::max(std::abs(x.k1 - y.k1), std::abs(x.k2 - y.k2)) / scale};
}

static double extent_of(Mesh const &mesh) {
    double extent = 0;
    for (int k = 0; k < 3; ++k) {
        auto const [low, high] = std::minmax_element(mesh.points.begin(), mesh.points.end(),
                                                     [k](Vec3 const &a, Vec3 const &b) { return a.c[k] < b.c[k]; });
        extent = std::max(extent, high->c[k] - low->c[k]);
    }
    return extent;
}

// Positions, and normals where the surface is smooth, against OpenSubdiv's limit masks at vertices of
// level 4. Children of the cage's vertices are passed over: the masks are wrong at some of them.
static int compare_with_masks(Mesh const &mesh, Boundary boundary, double extent, Difference &worst) {
    Refiner const refiner = make_refiner(mesh.topology, boundary, DYADIC_LEVEL);
    Far::PrimvarRefinerReal<double> primvar(*refiner);
    std::vector<Vec3> points = mesh.points;
    for (int l = 1; l <= DYADIC_LEVEL; ++l) {
        std::vector<Vec3> finer(refiner->GetLevel(l).GetNumVertices());
        Vec3 *to = finer.data();
        primvar.Interpolate(l, points.data(), to);
        points.swap(finer);
    }
    std::vector<Vec3> limits(points.size()), along(points.size()), across(points.size());
    Vec3 *p = limits.data(), *s = along.data(), *t = across.data();
    primvar.Limit(points.data(), p, s, t);

    auto const &level = refiner->GetLevel(DYADIC_LEVEL);
    int compared = 0;
    for (auto const &quad : quads_of(mesh))
        for (int k = 0; k < 81; ++k) {
            Place const place = at(quad, k % 9 / 8.0, k / 9 / 8.0);
            Place fine = place;
            Frame frame;
            Mesh quads = mesh; // topology of each level, as far as descent asks: which faces are quads
            for (int l = 0; l < DYADIC_LEVEL; ++l) {
                fine = on_child(*refiner, l, quads, fine, frame);
                quads.topology.faces.assign(refiner->GetLevel(l + 1).GetNumFaces(), std::vector<int>(4));
            }
            int const corner = fine.v == 0 ? (fine.u == 0 ? 0 : 1) : (fine.u == 0 ? 3 : 2);
            int const v = level.GetFaceVertices(fine.face)[corner];
            if (v < int(mesh.points.size()) || level.IsVertexNonManifold(v)) continue;
            auto const jet = descended_jet(mesh, place, boundary, MOST_STEPS);
            if (!jet) continue;
            ++compared;
            worst.position = std::max(worst.position, length(sub(jet->p, limits[v])) / extent);
            bool sharp = level.GetVertexSharpness(v) > 0 || level.IsVertexBoundary(v);
            for (int e : level.GetVertexEdges(v)) sharp |= level.GetEdgeSharpness(e) > 0;
            if (!sharp)
                worst.normal = std::max(worst.normal, length(sub(bend_of(*jet).normal, unit(cross(along[v], across[v])))));
        }
    return compared;
}

// ---------------------------------------------------------------------------------------- writing

static void write_vec(FILE *file, Vec3 const &p) {
    for (double x : p.c) std::fprintf(file, ",%.17g", x == 0.0 ? 0.0 : x);
}

static void write_row(FILE *file, Mesh const &mesh, Place const &place, Jet const &j) {
    std::fprintf(file, "%d,", place.face + 1);
    if (!mesh.is_quad(place.face)) std::fprintf(file, "%d", place.corner + 1);
    std::fprintf(file, ",%.17g,%.17g", place.u, place.v);
    Bend const bend = bend_of(j);
    for (Vec3 const &p : {j.p, j.du, j.dv, j.duu, j.duv, j.dvv, bend.normal}) write_vec(file, p);
    std::fprintf(file, ",%.17g,%.17g\n", bend.k1, bend.k2);
}

static FILE *open_csv(std::filesystem::path const &path) {
    FILE *file = std::fopen(path.c_str(), "w");
    if (!file) fail("cannot write " + path.string());
    std::fprintf(file, "face,corner,u,v");
    for (char const *name : {"", "du_", "dv_", "duu_", "duv_", "dvv_", "normal_"})
        std::fprintf(file, ",%sx,%sy,%sz", name, name, name);
    std::fprintf(file, ",k1,k2\n");
    return file;
}

struct Total {
    int places = 0, at_poles = 0, ill_conditioned = 0, at_masks = 0;
    Difference direct, coarse, masks; // Bfr on the cage; likewise at its default levels; limit masks
    void take(Total const &o) {
        places += o.places;
        at_poles += o.at_poles;
        ill_conditioned += o.ill_conditioned;
        at_masks += o.at_masks;
        direct.take(o.direct);
        coarse.take(o.coarse);
        masks.take(o.masks);
    }
    void print(std::string const &what) const {
        std::printf("%s: %d places kept; left out: %d at poles, %d where rounding exceeds %g\n", what.c_str(), places,
                    at_poles, ill_conditioned, AGREEMENT);
        direct.print("    Bfr on the cage's faces, off by");
        coarse.print("    likewise at default levels");
        std::printf("    %d limit masks, off by: position %.2g, normal %.2g\n", at_masks, masks.position, masks.normal);
    }
};

static void print_left_out(Place const &place, char const *why) {
    std::printf("left out, %s: face %d, corner %d, (%g, %g)\n", why, place.face + 1, place.corner + 1, place.u, place.v);
}

static Total write_cage(Cage const &cage, bool edge_only, std::filesystem::path const &out, bool survey) {
    Boundary const boundary =
        edge_only ? Sdc::Options::VTX_BOUNDARY_EDGE_ONLY : Sdc::Options::VTX_BOUNDARY_EDGE_AND_CORNER;
    std::string const stem = cage.name + (edge_only ? ".edge-only" : "");
    Mesh const mesh = mesh_of(cage);
    double const extent = extent_of(mesh);
    Refiner const refiner = make_refiner(mesh.topology, boundary, 0);
    FILE *file = survey ? nullptr : open_csv(out / (stem + ".csv"));
    Total total;
    for (Place const &place : places_on(mesh, stem, boundary, edge_only ? EDGE_ONLY : FULL)) {
        auto const jet = descended_jet(mesh, place, boundary, MOST_STEPS);
        if (!jet) {
            ++total.at_poles;
            if (survey) print_left_out(place, "pole");
            continue;
        }
        auto const direct = bfr_jet(*refiner, mesh, place, FINE_LEVELS, false);
        auto const coarse = bfr_jet(*refiner, mesh, place, DEFAULT_LEVELS, false);
        if (!direct || !coarse) fail(stem + ": Bfr has no surface on face " + std::to_string(place.face + 1));
        Difference const off = difference(*jet, *direct, extent);
        if (!(off.largest() < DISAGREEMENT)) fail(stem + ": the two ways to the limit surface disagree");
        if (off.largest() > AGREEMENT) {
            ++total.ill_conditioned;
            if (survey) print_left_out(place, "rounding");
            continue;
        }
        ++total.places;
        total.direct.take(off);
        total.coarse.take(difference(*jet, *coarse, extent));
        if (file) write_row(file, mesh, place, *jet);
    }
    if (file && std::fclose(file) != 0) fail("cannot write " + stem);
    total.at_masks = compare_with_masks(mesh, boundary, extent, total.masks);
    if (survey) total.print(stem);
    return total;
}

int main(int argc, char **argv) {
    if (argc != 3) fail("usage: limit_reference CAGES_FOLDER OUT_FOLDER|--survey");
    bool const survey = std::string(argv[2]) == "--survey";
    std::filesystem::path const out = argv[2];
    if (!survey) std::filesystem::create_directories(out);
    Total total;
    for (Cage const &cage : read_cages(argv[1])) {
        if (std::count(std::begin(LEFT_OUT), std::end(LEFT_OUT), cage.name)) continue;
        total.take(write_cage(cage, false, out, survey));
        if (cage.has_border_corner()) total.take(write_cage(cage, true, out, survey));
    }
    total.print("OpenSubdiv " + std::to_string(OPENSUBDIV_VERSION_MAJOR) + "." + std::to_string(OPENSUBDIV_VERSION_MINOR) +
                "." + std::to_string(OPENSUBDIV_VERSION_PATCH) + ", all cages");
}
