// The yardstick for the speed of evaluating the limit surface: OpenSubdiv's `Bfr` evaluates position,
// first and second derivatives at 64 places of each of up to 256 faces of an OBJ cage, in double
// precision, on one thread.
//
//     evaluate_limit MESH.obj [--default-levels]
//
// Approximation levels are 8 (smooth) and 10 (sharp), where Bfr is exact but very near a pole (see
// reference-data/README.md); with --default-levels they are Bfr's own, 2 and 6, where it approximates.
//
// Prints, for each kind of face that the mesh has:
//
//     regular SAMPLES_PER_SECOND prepared         surfaces and patch points made beforehand
//     regular SAMPLES_PER_SECOND from-scratch     made anew for each face, then 64 places
//     regular MEAN checksum                       mean of x^2 + 2 y^2 + 3 z^2 over the samples of the kind
//     pole ...                                    likewise
//
// A face is `regular` if it is a quad whose surface is one bicubic patch (in a closed mesh without creases: all
// corners of valence 4, all faces around them quads), else `pole`. Of n faces of a kind every (n / 256)-th is
// taken. Place k, from 1 to 64, is ((49471 k) mod 65536, (37345 k) mod 65536) / 65536; on a
// face of n corners other than 4 it lies in the quad of corner (k - 1) mod n. A rate is the best of fifty
// runs of at least 0.02 s, since others may use the machine. From scratch means: from the mesh's
// adjacency in memory, with Bfr's cache of topology on, as it is by default, and filled by an earlier run.
#include "../../reference/opensubdiv_mesh.h"

#include <opensubdiv/bfr/refinerSurfaceFactory.h>

#include <chrono>

namespace Bfr = OpenSubdiv::Bfr;

constexpr int PLACES = 64;
constexpr size_t MOST_FACES = 256;
constexpr int RUNS = 50;
constexpr double LEAST_SECONDS = 0.02;

using Factory = Bfr::RefinerSurfaceFactory<>;
using Surface = Bfr::Surface<double>;

struct Place {
    double uv[2];
};

// A face's surface, its patch points and the places in Bfr's parameters.
struct Prepared {
    Surface surface;
    std::vector<double> patch;
    std::vector<Place> places;
};

struct Scene {
    Factory const &factory;
    std::vector<double> const &points; // x, y, z per vertex
    double sum = 0.0;                  // keeps results alive
    size_t samples = 0;
};

static std::vector<Place> places_of(Bfr::Parameterization const &parameters) {
    std::vector<Place> places;
    for (unsigned k = 1; k <= PLACES; ++k) {
        Place place{{((k * 49471u) & 65535u) / 65536.0, ((k * 37345u) & 65535u) / 65536.0}};
        if (parameters.HasSubFaces()) {
            double const local[2] = {place.uv[0], place.uv[1]};
            parameters.ConvertNormalizedSubFaceToCoord(int(k - 1) % parameters.GetFaceSize(), local, place.uv);
        }
        places.push_back(place);
    }
    return places;
}

static void prepare(Scene const &scene, int face, Surface &surface, std::vector<double> &patch) {
    if (!scene.factory.InitVertexSurface(face, &surface)) fail("Bfr has no surface on a face");
    patch.resize(size_t(3 * surface.GetNumPatchPoints()));
    surface.PreparePatchPoints(scene.points.data(), 3, patch.data(), 3);
}

static void evaluate(Scene &scene, Surface const &surface, std::vector<double> const &patch, std::vector<Place> const &places) {
    double jet[6][3];
    for (auto const &place : places) {
        surface.Evaluate(place.uv, patch.data(), 3, jet[0], jet[1], jet[2], jet[3], jet[4], jet[5]);
        auto const [x, y, z] = jet[0];
        scene.sum += x * x + 2 * y * y + 3 * z * z;
    }
    scene.samples += places.size();
}

template <class Pass> static double rate(Scene &scene, Pass const &pass) {
    using Clock = std::chrono::steady_clock;
    pass(); // fills caches
    double best = 0;
    for (int run = 0; run < RUNS; ++run) {
        size_t const before = scene.samples;
        auto const start = Clock::now();
        double seconds = 0;
        do {
            pass();
            seconds = std::chrono::duration<double>(Clock::now() - start).count();
        } while (seconds < LEAST_SECONDS);
        best = std::max(best, double(scene.samples - before) / seconds);
    }
    return best;
}

static void time_kind(char const *kind, std::vector<int> const &all, Scene &scene) {
    if (all.empty()) return;
    std::vector<int> faces;
    size_t const count = std::min(all.size(), MOST_FACES);
    for (size_t k = 0; k < count; ++k) faces.push_back(all[k * all.size() / count]);

    std::vector<Prepared> prepared(count);
    for (size_t k = 0; k < count; ++k) {
        prepare(scene, faces[k], prepared[k].surface, prepared[k].patch);
        prepared[k].places = places_of(prepared[k].surface.GetParameterization());
    }
    scene.sum = 0.0;
    scene.samples = 0;
    double const fast = rate(scene, [&] {
        for (auto const &p : prepared) evaluate(scene, p.surface, p.patch, p.places);
    });
    std::printf("%s %.0f prepared\n", kind, fast);

    Surface surface;
    std::vector<double> patch;
    double const slow = rate(scene, [&] {
        for (size_t k = 0; k < count; ++k) {
            prepare(scene, faces[k], surface, patch);
            evaluate(scene, surface, patch, prepared[k].places);
        }
    });
    std::printf("%s %.0f from-scratch\n", kind, slow);
    std::printf("%s %.12g checksum\n", kind, scene.sum / double(scene.samples));
}

int main(int argc, char **argv) {
    bool const default_levels = argc == 3 && std::string(argv[2]) == "--default-levels";
    if (argc != 2 && !default_levels) fail("usage: evaluate_limit MESH.obj [--default-levels]");
    Cage const cage = read_cage(argv[1]);
    Topology const topology{cage.vertex_count(), cage.faces, {}, 0, cage.creases};
    Refiner const refiner = make_refiner(topology, Sdc::Options::VTX_BOUNDARY_EDGE_AND_CORNER, 0);
    Bfr::SurfaceFactory::Options options;
    if (!default_levels) options.SetApproxLevelSmooth(8).SetApproxLevelSharp(10);
    Factory const factory(*refiner, options);

    std::vector<int> regular, pole;
    for (int face = 0; face < int(cage.faces.size()); ++face) {
        Surface surface;
        if (!factory.InitVertexSurface(face, &surface)) fail("Bfr has no surface on a face");
        (surface.IsRegular() ? regular : pole).push_back(face);
    }
    Scene scene{factory, cage.positions};
    time_kind("regular", regular, scene);
    time_kind("pole", pole, scene);
}
