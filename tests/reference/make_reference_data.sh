#!/usr/bin/env bash
# Builds the reference programs in a temporary folder and makes reference-data/ anew from
# reference-data/cages/. Installs nothing.
#
# Needs (Debian 12): g++ libosd-dev libcgal-dev libgmp-dev libmpfr-dev python3, and numpy for the
# table of eigenvalues.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
data=$(cd "$here/../../reference-data" && pwd)

need() { # file, package
    if [[ ! -e $1 ]]; then
        echo "missing $1: install the Debian package $2" >&2
        exit 1
    fi
}
need /usr/include/opensubdiv/far/primvarRefiner.h libosd-dev
need /usr/include/opensubdiv/bfr/refinerSurfaceFactory.h libosd-dev
need /usr/include/CGAL/Surface_mesh.h libcgal-dev
for program in g++ python3; do
    command -v "$program" >/dev/null || { echo "missing $program: install it first" >&2; exit 1; }
done
python3 -c 'import numpy' 2>/dev/null || { echo "missing numpy: pip install numpy" >&2; exit 1; }

build=$(mktemp -d)
trap 'rm -rf "$build"' EXIT

# -isystem keeps warnings to our own files.
g++ -std=c++17 -O2 -Wall -Wextra -isystem /usr/include/opensubdiv \
    "$here/opensubdiv_reference.cpp" -o "$build/opensubdiv_reference" -losdCPU
g++ -std=c++17 -O2 -Wall -Wextra -isystem /usr/include/opensubdiv \
    "$here/limit_reference.cpp" -o "$build/limit_reference" -losdCPU
g++ -std=c++17 -O2 -DNDEBUG -Wall -Wextra "$here/cgal_reference.cpp" -o "$build/cgal_reference" -lgmp -lmpfr

echo "The two libraries against each other, on every vertex:"
"$build/opensubdiv_reference" "$data/cages" "$build/opensubdiv" --every-row
"$build/cgal_reference" "$data/cages" "$build/cgal" --every-row | tail -n 1
python3 "$here/compare_references.py" "$build/opensubdiv" "$build/cgal"

echo "Writing $data:"
rm -rf "$data/opensubdiv" "$data/limit" "$data/cgal"
"$build/opensubdiv_reference" "$data/cages" "$data/opensubdiv" >/dev/null
"$build/limit_reference" "$data/cages" "$data/limit"
"$build/cgal_reference" "$data/cages" "$data/cgal"
python3 "$here/eigenvalues.py" >"$build/eigenvalues.csv"
mv "$build/eigenvalues.csv" "$data/eigenvalues.csv"
du -sh "$data"
