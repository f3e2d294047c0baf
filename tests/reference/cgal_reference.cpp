// Makes the CGAL reference: positions of levels 1 to 3 of every cage that CGAL can take, in double
// precision. CGAL has no creases and moves border vertices by (1, 6, 1)/8 throughout, so it stands
// for the boundary rule `edge-only`. Left out are cages with creases, non-manifold cages (CGAL
// refuses the face and would leave a hole) and unreferenced vertices (they come out as NaN).
//
//     cgal_reference CAGES_FOLDER OUT_FOLDER [--every-row]
#include "cage_file.h"

#include <CGAL/Simple_cartesian.h>
#include <CGAL/Surface_mesh.h>
#include <CGAL/subdivision_method_3.h>
#include <CGAL/version.h>

using Kernel = CGAL::Simple_cartesian<double>;
using Mesh = CGAL::Surface_mesh<Kernel::Point_3>;

constexpr int LAST_LEVEL = 3;

// Builds the mesh; false if CGAL cannot hold the cage.
static bool build(Cage const &cage, Mesh &mesh) {
    std::vector<bool> used(cage.vertex_count(), false);
    for (auto const &f : cage.faces)
        for (int v : f) used[v] = true;
    if (std::find(used.begin(), used.end(), false) != used.end()) return false;
    for (int v = 0; v < cage.vertex_count(); ++v)
        mesh.add_vertex({cage.positions[3 * v], cage.positions[3 * v + 1], cage.positions[3 * v + 2]});
    for (auto const &f : cage.faces) {
        std::vector<Mesh::Vertex_index> corners;
        for (int v : f) corners.emplace_back(v);
        if (mesh.add_face(corners) == Mesh::null_face()) return false;
    }
    // A bow tie: more than one border turn around a vertex.
    std::vector<int> turns(cage.vertex_count(), 0);
    for (auto h : mesh.halfedges())
        if (mesh.is_border(h) && ++turns[mesh.target(h)] > 1) return false;
    return true;
}

int main(int argc, char **argv) {
    read_arguments(argc, argv);
    std::filesystem::path const out = argv[2];
    int written = 0;
    for (Cage const &cage : read_cages(argv[1])) {
        Mesh mesh;
        if (!cage.creases.empty() || !build(cage, mesh)) {
            std::printf("left out: %s\n", cage.name.c_str());
            continue;
        }
        std::filesystem::path const path = out / (cage.name + ".csv");
        FILE *file = std::fopen(path.c_str(), "w");
        if (!file) fail("cannot write " + path.string());
        std::fprintf(file, "level,x,y,z\n");
        for (int level = 1; level <= LAST_LEVEL; ++level) {
            CGAL::Subdivision_method_3::CatmullClark_subdivision(mesh, CGAL::parameters::number_of_iterations(1));
            for (auto v : mesh.vertices()) {
                if (!row_is_kept(int(v.idx()), level, cage)) continue;
                auto const &p = mesh.point(v);
                std::fprintf(file, "%d,%.17g,%.17g,%.17g\n", level, p.x(), p.y(), p.z());
            }
        }
        std::fclose(file);
        ++written;
    }
    std::printf("CGAL %s: %d cages written\n", CGAL_VERSION_STR, written);
}
