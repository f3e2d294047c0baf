// Reads the reference cages: `v`, `vt` and `f` lines of an OBJ file, and the crease table beside it.
// Shared by the two reference programs. The files are our own, so the reader is strict and small:
// anything unexpected ends the program with a message.
#pragma once

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

struct Crease {
    int v0;          // 0-based
    int v1;          // 0-based; -1 for a sharp corner vertex
    float sharpness; // 10 and more: infinitely sharp
};

struct Cage {
    std::string name;
    std::vector<double> positions;            // x, y, z per vertex
    std::vector<double> uvs;                  // u, v per UV value
    std::vector<std::vector<int>> faces;      // 0-based vertex numbers
    std::vector<std::vector<int>> face_uvs;   // 0-based UV numbers; empty if the file has none
    std::vector<Crease> creases;

    int vertex_count() const { return int(positions.size() / 3); }

    // Faces on each edge, keyed by its two vertices in ascending order.
    std::map<std::pair<int, int>, int> edge_face_counts() const {
        std::map<std::pair<int, int>, int> counts;
        for (auto const &f : faces)
            for (size_t i = 0; i < f.size(); ++i)
                ++counts[std::minmax(f[i], f[(i + 1) % f.size()])];
        return counts;
    }
    // Whether the two boundary rules differ on this cage: only at border vertices of one face.
    bool has_border_corner() const {
        std::vector<int> faces_at(vertex_count(), 0);
        for (auto const &f : faces)
            for (int v : f) ++faces_at[v];
        for (auto const &[edge, count] : edge_face_counts())
            if (count == 1 && (faces_at[edge.first] == 1 || faces_at[edge.second] == 1)) return true;
        return false;
    }
};

[[noreturn]] inline void fail(std::string const &message) {
    std::fprintf(stderr, "error: %s\n", message.c_str());
    std::exit(1);
}

inline Cage read_cage(std::filesystem::path const &obj) {
    Cage cage;
    cage.name = obj.stem().string();
    std::ifstream in(obj);
    if (!in) fail("cannot read " + obj.string());
    std::string line, word;
    while (std::getline(in, line)) {
        std::istringstream s(line);
        if (!(s >> word) || word[0] == '#') continue;
        if (word == "v") {
            double x, y, z;
            if (!(s >> x >> y >> z)) fail(obj.string() + ": bad vertex: " + line);
            cage.positions.insert(cage.positions.end(), {x, y, z});
        } else if (word == "vt") {
            double u, v;
            if (!(s >> u >> v)) fail(obj.string() + ": bad UV: " + line);
            cage.uvs.insert(cage.uvs.end(), {u, v});
        } else if (word == "f") {
            std::vector<int> corners, uvs;
            while (s >> word) {
                int v = 0, t = 0;
                int const got = std::sscanf(word.c_str(), "%d/%d", &v, &t);
                if (got < 1 || v < 1) fail(obj.string() + ": bad face: " + line);
                corners.push_back(v - 1);
                if (got == 2) uvs.push_back(t - 1);
            }
            cage.faces.push_back(corners);
            if (!uvs.empty()) cage.face_uvs.push_back(uvs);
        } else {
            fail(obj.string() + ": unexpected line: " + line);
        }
    }
    if (!cage.face_uvs.empty() && cage.face_uvs.size() != cage.faces.size())
        fail(obj.string() + ": some faces have UVs and some have none");

    std::ifstream table(std::filesystem::path(obj).replace_extension(".creases.csv"));
    if (!table) return cage;
    std::getline(table, line);
    if (line != "v0,v1,sharpness") fail(cage.name + ".creases.csv: bad header");
    while (std::getline(table, line)) {
        std::istringstream s(line);
        std::string a, b, w;
        std::getline(s, a, ',');
        std::getline(s, b, ',');
        std::getline(s, w);
        float const sharpness = (w == "inf") ? 10.0f : std::min(std::strtof(w.c_str(), nullptr), 10.0f);
        cage.creases.push_back({std::atoi(a.c_str()) - 1, b.empty() ? -1 : std::atoi(b.c_str()) - 1, sharpness});
    }
    return cage;
}

// All cages of a folder, by name.
inline std::vector<Cage> read_cages(std::filesystem::path const &folder) {
    std::vector<std::filesystem::path> paths;
    for (auto const &entry : std::filesystem::directory_iterator(folder))
        if (entry.path().extension() == ".obj") paths.push_back(entry.path());
    std::sort(paths.begin(), paths.end());
    std::vector<Cage> cages;
    for (auto const &p : paths) cages.push_back(read_cage(p));
    return cages;
}

// Which rows of the last two levels are written, to keep the files small: the children of cage
// vertices (OpenSubdiv and CGAL both number them first) and every `stride`-th other vertex.
// The strides are odd, so every kind of child is sampled.
inline bool every_row = false; // set by the option --every-row
inline int row_stride(int level, size_t cage_faces) {
    if (every_row || (cage_faces <= 6 && level <= 3)) return 1;
    return level <= 2 ? 1 : level == 3 ? 5 : 21;
}
inline bool row_is_kept(int vertex, int level, Cage const &cage) {
    return vertex < cage.vertex_count() || vertex % row_stride(level, cage.faces.size()) == 0;
}

// Command line of both programs: CAGES_FOLDER OUT_FOLDER [--every-row].
inline void read_arguments(int argc, char **argv) {
    if (argc == 4 && std::string(argv[3]) == "--every-row") every_row = true;
    else if (argc != 3) fail("usage: " + std::string(argv[0]) + " CAGES_FOLDER OUT_FOLDER [--every-row]");
    std::filesystem::create_directories(argv[2]);
}
