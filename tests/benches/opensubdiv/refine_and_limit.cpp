// The yardstick for speed: OpenSubdiv refines an OBJ cage uniformly and evaluates limit position and
// unit limit normal of every vertex of the last level.
//
//     refine_and_limit MESH.obj LEVEL [--out FILE.obj]
//     refine_and_limit --make torus|sphere|mixed FILE.obj
//
// Prints one line of `name=value` pairs: seconds for reading, for each stage and for writing, and the
// peak of resident memory. The figure to compare is `refine_and_limit`: from face lists in memory to
// limit positions and normals in memory, so with OpenSubdiv's own build of base-level adjacency.
// Single precision and one thread, as in the library's usual classes: for one evaluation this is
// its fastest route (stencil tables only pay when the same topology is evaluated again and again).
#include <opensubdiv/far/primvarRefiner.h>
#include <opensubdiv/far/topologyDescriptor.h>

#include <sys/resource.h>

#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <map>
#include <memory>
#include <string>
#include <vector>

namespace Far = OpenSubdiv::Far;
namespace Sdc = OpenSubdiv::Sdc;

[[noreturn]] static void fail(std::string const &message) {
    std::fprintf(stderr, "error: %s\n", message.c_str());
    std::exit(1);
}

struct Point {
    float x = 0, y = 0, z = 0;
    void Clear(void * = nullptr) { x = y = z = 0; }
    void AddWithWeight(Point const &p, float w) {
        x += w * p.x;
        y += w * p.y;
        z += w * p.z;
    }
};

struct Mesh {
    std::vector<Point> points;
    std::vector<int> sizes, corners;
};

// ------------------------------------------------------------------------------------- OBJ text

static std::vector<char> read_file(char const *path) {
    FILE *file = std::fopen(path, "rb");
    if (!file) fail(std::string("cannot read ") + path);
    std::fseek(file, 0, SEEK_END);
    std::vector<char> text(size_t(std::ftell(file)) + 1, '\n');
    std::rewind(file);
    if (std::fread(text.data(), 1, text.size() - 1, file) != text.size() - 1) fail("short read");
    std::fclose(file);
    return text;
}

template <class T> static char const *number(char const *at, char const *end, T &value) {
    while (*at == ' ') ++at;
    auto const [next, error] = std::from_chars(at, end, value);
    if (error != std::errc()) fail("bad number in the OBJ file");
    return next;
}

// Takes `v x y z` and `f a b c ...`; passes over everything else, and over `/vt/vn` in faces.
static Mesh read_obj(char const *path) {
    std::vector<char> const text = read_file(path);
    char const *at = text.data(), *const end = at + text.size();
    Mesh mesh;
    while (at < end) {
        char const *const line_end = static_cast<char const *>(std::memchr(at, '\n', size_t(end - at)));
        if (at[0] == 'v' && at[1] == ' ') {
            Point p;
            number(number(number(at + 2, end, p.x), end, p.y), end, p.z);
            mesh.points.push_back(p);
        } else if (at[0] == 'f' && at[1] == ' ') {
            int size = 0;
            for (at += 1; at < line_end; ++size) {
                int v;
                at = number(at, end, v);
                mesh.corners.push_back(v - 1);
                while (at < line_end && *at != ' ') ++at;
                while (at < line_end && (*at == ' ' || *at == '\r')) ++at;
            }
            mesh.sizes.push_back(size);
        }
        at = line_end + 1;
    }
    return mesh;
}

static FILE *open_for_writing(char const *path, std::vector<char> &buffer) {
    FILE *file = std::fopen(path, "wb");
    if (!file) fail(std::string("cannot write ") + path);
    buffer.resize(1 << 20);
    std::setvbuf(file, buffer.data(), _IOFBF, buffer.size());
    return file;
}

static void write_points(FILE *file, std::vector<Point> const &points) {
    for (auto const &p : points) std::fprintf(file, "v %.9g %.9g %.9g\n", double(p.x), double(p.y), double(p.z));
}

static void write_quads(char const *path, std::vector<Point> const &points, Far::TopologyLevel const &level) {
    std::vector<char> buffer;
    FILE *file = open_for_writing(path, buffer);
    write_points(file, points);
    for (int f = 0; f < level.GetNumFaces(); ++f) {
        auto const q = level.GetFaceVertices(f);
        std::fprintf(file, "f %d %d %d %d\n", q[0] + 1, q[1] + 1, q[2] + 1, q[3] + 1);
    }
    if (std::fclose(file) != 0) fail(std::string("cannot write ") + path);
}

// ----------------------------------------------------------------------------- meshes to refine

static Mesh make_torus(int around, int along) {
    Mesh mesh;
    for (int i = 0; i < around; ++i)
        for (int j = 0; j < along; ++j) {
            double const a = 2 * M_PI * i / around, b = 2 * M_PI * j / along, r = 1.0 + 0.4 * std::cos(b);
            mesh.points.push_back({float(r * std::cos(a)), float(r * std::sin(a)), float(0.4 * std::sin(b))});
        }
    for (int i = 0; i < around; ++i)
        for (int j = 0; j < along; ++j) {
            int const k = (i + 1) % around, l = (j + 1) % along;
            mesh.sizes.push_back(4);
            mesh.corners.insert(mesh.corners.end(), {i * along + j, k * along + j, k * along + l, i * along + l});
        }
    return mesh;
}

// A cube of n x n quads a side, blown up to a sphere of a slightly lumpy radius.
class CubeSphere {
public:
    CubeSphere(int n, double lumps) : n_(n), lumps_(lumps) {}
    int vertex(int side, int i, int j) {
        int const axis = side / 2, u = (axis + 1) % 3, v = (axis + 2) % 3;
        std::array<int, 3> cell{};
        cell[axis] = side % 2 ? n_ : 0;
        cell[u] = side % 2 ? i : j; // keeps faces counter-clockwise seen from outside
        cell[v] = side % 2 ? j : i;
        auto const [at, added] = numbers_.insert({cell, int(mesh.points.size())});
        if (added) mesh.points.push_back(on_sphere(cell));
        return at->second;
    }
    int midpoint(int a, int b) {
        Point m;
        m.AddWithWeight(mesh.points[a], 0.5f);
        m.AddWithWeight(mesh.points[b], 0.5f);
        mesh.points.push_back(m);
        return int(mesh.points.size()) - 1;
    }
    void face(std::initializer_list<int> corners) {
        mesh.sizes.push_back(int(corners.size()));
        mesh.corners.insert(mesh.corners.end(), corners);
    }
    Mesh mesh;

private:
    Point on_sphere(std::array<int, 3> const &cell) const {
        double p[3], r = 0;
        for (int k = 0; k < 3; ++k) {
            p[k] = std::tan(M_PI / 4 * (2.0 * cell[k] / n_ - 1));
            r += p[k] * p[k];
        }
        double const s = (1 + lumps_ * std::sin(5 * p[0]) * std::sin(4 * p[1] + p[2])) / std::sqrt(r);
        return {float(s * p[0]), float(s * p[1]), float(s * p[2])};
    }
    int n_;
    double lumps_;
    std::map<std::array<int, 3>, int> numbers_;
};

static Mesh make_sphere(int n) {
    CubeSphere sphere(n, 0.0);
    for (int side = 0; side < 6; ++side)
        for (int i = 0; i < n; ++i)
            for (int j = 0; j < n; ++j)
                sphere.face({sphere.vertex(side, i, j), sphere.vertex(side, i + 1, j),
                             sphere.vertex(side, i + 1, j + 1), sphere.vertex(side, i, j + 1)});
    return std::move(sphere.mesh);
}

// Every sixteenth quad is cut from a corner to the middle of the opposite edge, which leaves a
// triangle, a quad, a pentagon next door and poles of valence 3 and 5; every sixteenth is halved
// into triangles, which leaves poles of valence 5.
static Mesh make_mixed(int n) {
    CubeSphere sphere(n, 0.05);
    for (int side = 0; side < 6; ++side)
        for (int j = 0; j < n; ++j) {
            int cut = -1; // the middle of the edge shared with the quad before
            for (int i = 0; i < n; ++i) {
                int const a = sphere.vertex(side, i, j), b = sphere.vertex(side, i + 1, j);
                int const c = sphere.vertex(side, i + 1, j + 1), d = sphere.vertex(side, i, j + 1);
                if (cut >= 0) {
                    sphere.face({a, b, c, d, cut});
                    cut = -1;
                } else if (i % 4 == 1 && j % 4 == 1 && i + 1 < n) {
                    cut = sphere.midpoint(b, c);
                    sphere.face({a, b, cut});
                    sphere.face({a, cut, c, d});
                } else if (i % 4 == 3 && j % 4 == 3) {
                    sphere.face({a, b, c});
                    sphere.face({a, c, d});
                } else {
                    sphere.face({a, b, c, d});
                }
            }
        }
    return std::move(sphere.mesh);
}

static void make(std::string const &what, char const *path) {
    Mesh mesh;
    if (what == "torus") mesh = make_torus(100, 100);
    else if (what == "sphere") mesh = make_sphere(129);
    else if (what == "mixed") mesh = make_mixed(55);
    else fail("--make takes torus, sphere or mixed");
    std::vector<char> buffer;
    FILE *file = open_for_writing(path, buffer);
    write_points(file, mesh.points);
    size_t at = 0;
    for (int size : mesh.sizes) {
        std::fputc('f', file);
        for (int k = 0; k < size; ++k) std::fprintf(file, " %d", mesh.corners[at++] + 1);
        std::fputc('\n', file);
    }
    if (std::fclose(file) != 0) fail(std::string("cannot write ") + path);
    std::printf("faces=%zu vertices=%zu\n", mesh.sizes.size(), mesh.points.size());
}

// ------------------------------------------------------------------------- refinement and limit

using Refiner = std::unique_ptr<Far::TopologyRefiner>;

static Refiner build(Mesh const &mesh) {
    Far::TopologyDescriptor d;
    d.numVertices = int(mesh.points.size());
    d.numFaces = int(mesh.sizes.size());
    d.numVertsPerFace = mesh.sizes.data();
    d.vertIndicesPerFace = mesh.corners.data();
    Sdc::Options options;
    options.SetVtxBoundaryInterpolation(Sdc::Options::VTX_BOUNDARY_EDGE_AND_CORNER);
    using Factory = Far::TopologyRefinerFactory<Far::TopologyDescriptor>;
    Refiner refiner(Factory::Create(d, Factory::Options(Sdc::SCHEME_CATMARK, options)));
    if (!refiner) fail("OpenSubdiv refuses the mesh");
    return refiner;
}

static std::vector<Point> refine(Far::TopologyRefiner &refiner, std::vector<Point> const &cage, int levels) {
    Far::TopologyRefiner::UniformOptions uniform(levels);
    uniform.fullTopologyInLastLevel = true; // the limit needs it
    refiner.RefineUniform(uniform);
    Far::PrimvarRefiner const primvar(refiner);
    std::vector<Point> coarse = cage;
    for (int l = 1; l <= levels; ++l) {
        std::vector<Point> fine(size_t(refiner.GetLevel(l).GetNumVertices()));
        Point *to = fine.data();
        primvar.Interpolate(l, coarse.data(), to);
        coarse.swap(fine);
    }
    return coarse;
}

static void limit(Far::TopologyRefiner const &refiner, std::vector<Point> const &points,
                  std::vector<Point> &positions, std::vector<Point> &normals) {
    std::vector<Point> across(points.size());
    positions.resize(points.size());
    normals.resize(points.size());
    Point *p = positions.data(), *n = normals.data(), *a = across.data();
    Far::PrimvarRefiner(refiner).Limit(points.data(), p, n, a);
    for (size_t i = 0; i < points.size(); ++i) {
        Point const s = normals[i], t = across[i];
        float const x = s.y * t.z - s.z * t.y, y = s.z * t.x - s.x * t.z, z = s.x * t.y - s.y * t.x;
        float const scale = 1 / std::sqrt(x * x + y * y + z * z);
        normals[i] = {x * scale, y * scale, z * scale};
    }
}

int main(int argc, char **argv) {
    if (argc == 4 && std::string(argv[1]) == "--make") {
        make(argv[2], argv[3]);
        return 0;
    }
    bool const writes = argc == 5 && std::string(argv[3]) == "--out";
    if (argc != 3 && !writes) fail("usage: refine_and_limit MESH.obj LEVEL [--out FILE.obj]");
    int const levels = std::atoi(argv[2]);
    if (levels < 1 || levels > 10) fail("LEVEL must be 1 to 10");

    using Clock = std::chrono::steady_clock;
    auto const seconds = [](Clock::time_point a, Clock::time_point b) { return std::chrono::duration<double>(b - a).count(); };
    auto const start = Clock::now();
    Mesh const mesh = read_obj(argv[1]);
    auto const was_read = Clock::now();
    Refiner const refiner = build(mesh);
    auto const built = Clock::now();
    std::vector<Point> const points = refine(*refiner, mesh.points, levels);
    auto const refined = Clock::now();
    std::vector<Point> positions, normals;
    limit(*refiner, points, positions, normals);
    auto const evaluated = Clock::now();
    if (writes) write_quads(argv[4], positions, refiner->GetLevel(levels));
    auto const written = Clock::now();

    double checksum = 0; // keeps the results alive
    for (size_t i = 0; i < positions.size(); ++i) checksum += double(positions[i].x) * double(normals[i].x);
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    std::printf("read=%.4f build=%.4f refine=%.4f limit=%.4f refine_and_limit=%.4f write=%.4f peak_mib=%ld vertices=%zu checksum=%.6g\n",
                seconds(start, was_read), seconds(was_read, built), seconds(built, refined), seconds(refined, evaluated),
                seconds(was_read, evaluated), seconds(evaluated, written), usage.ru_maxrss / 1024, positions.size(), checksum);
}
