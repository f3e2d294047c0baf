#!/usr/bin/env bash
# Times evaluating the limit surface beside OpenSubdiv's Bfr, on the same machine in one run, and prints a
# table of ratios: samples per second of position, first and second derivatives, on one core.
#
#     tests/benches/limit_beside_opensubdiv.sh
#
# Needs (Debian 12): g++ libosd-dev python3, and cargo. Installs nothing; works in a temporary folder.
#
# Environment:
#   REPEATS        runs of each program, taken in turn; the table has the best, as other work only slows them (default 5)
#   LIMIT_BENCH    a command that is called with MESH and prints what tests/benches/opensubdiv/evaluate_limit.cpp
#                  prints, for cagewise (default: the example evaluate_limit)
#   SCRATCH        folder for meshes and results (default: a new one, removed at the end)
set -euo pipefail

repeats=${REPEATS:-5}
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
benches=$root/tests/benches/opensubdiv

if [[ ! -e /usr/include/opensubdiv/bfr/refinerSurfaceFactory.h ]]; then
    echo "missing /usr/include/opensubdiv/bfr: install the Debian package libosd-dev" >&2
    exit 1
fi
for program in g++ python3 cargo; do
    command -v "$program" >/dev/null || { echo "missing $program: install it first" >&2; exit 1; }
done

if [[ -n ${SCRATCH:-} ]]; then
    scratch=$SCRATCH
    mkdir -p "$scratch"
else
    scratch=$(mktemp -d)
    trap 'rm -rf "$scratch"' EXIT
fi

build() { # source, program, further options
    g++ -std=c++17 -O3 -DNDEBUG "${@:3}" -Wall -Wextra -isystem /usr/include/opensubdiv "$benches/$1" -o "$scratch/$2" -losdCPU
}
build refine_and_limit.cpp make_mesh
build evaluate_limit.cpp bfr
build evaluate_limit.cpp bfr_v3 -march=x86-64-v3

bench=${LIMIT_BENCH:-}
if [[ -z $bench ]]; then
    cargo build --release --quiet --example evaluate_limit --manifest-path "$root/Cargo.toml"
    bench=${CARGO_TARGET_DIR:-$root/target}/release/examples/evaluate_limit
fi
read -r -a bench <<<"$bench"

samples=$scratch/samples.txt # mesh, side, kind, value, what
: >"$samples"
run() { # mesh, side, command
    "${@:3}" | sed "s/^/$1 $2 /" >>"$samples"
}

meshes=(torus sphere mixed)
for mesh in "${meshes[@]}"; do
    echo "$mesh: $("$scratch/make_mesh" --make "$mesh" "$scratch/$mesh.obj")" >&2
done
for ((k = 1; k <= repeats; ++k)); do
    for mesh in "${meshes[@]}"; do
        echo "run $k of $repeats: $mesh" >&2
        obj=$scratch/$mesh.obj
        run "$mesh" opensubdiv "$scratch/bfr" "$obj"
        run "$mesh" cagewise env RAYON_NUM_THREADS=1 "${bench[@]}" "$obj"
        run "$mesh" opensubdiv-v3 "$scratch/bfr_v3" "$obj"
        run "$mesh" opensubdiv-default-levels "$scratch/bfr" "$obj" --default-levels
    done
done

echo "Date: $(date -u +%Y-%m-%d)"
echo "Machine: $(sed -n 's/^model name[[:space:]]*: //p' /proc/cpuinfo | head -n 1), $(nproc) cores, load $(cut -d ' ' -f 1 /proc/loadavg) at the end"
echo "Built with: $(g++ --version | head -n 1), -O3; $(rustc --version); cagewise $(git -C "$root" rev-parse --short HEAD 2>/dev/null || echo 'of no known revision')"
echo "OpenSubdiv: Bfr in double precision, approximation levels 8 and 10, the library as packaged."
echo
python3 - "$samples" "$repeats" <<'PYTHON'
import sys
from collections import defaultdict

SAME = 1e-9  # relative: the sums of the same squares over the same places

values = defaultdict(list)
for line in open(sys.argv[1]):
    mesh, side, kind, value, what = line.split()
    values[mesh, kind, what, side].append(float(value))

def millions(mesh, kind, what, side):
    found = values.get((mesh, kind, what, side))
    return max(found) / 1e6 if found else None

def shown(rate):
    return f"{rate:.2f}" if rate else ""

failures = 0
print(f"Million samples per second, best of {sys.argv[2]} runs; ratio = cagewise / OpenSubdiv; v3: compiled with -march=x86-64-v3;")
print("default levels: 2 and 6, where OpenSubdiv approximates near poles.\n")
print("| mesh | faces | surfaces | OpenSubdiv | cagewise | ratio | spread of OpenSubdiv | spread of cagewise | OpenSubdiv v3 | default levels |")
print("|---|---|---|---|---|---|---|---|---|---|")
for mesh, kind, what in dict.fromkeys(key[:3] for key in values):
    theirs, ours = (values.get((mesh, kind, what, side), []) for side in ("opensubdiv", "cagewise"))
    if not theirs or not ours:
        print(f"{mesh}, {kind}, {what}: only one side has it", file=sys.stderr)
        failures += 1
    elif what == "checksum":
        if abs(theirs[0] - ours[0]) > SAME * abs(theirs[0]):
            print(f"{mesh}, {kind}: checksums differ, {theirs[0]} and {ours[0]}", file=sys.stderr)
            failures += 1
    else:
        yard, own = max(theirs) / 1e6, max(ours) / 1e6
        spreads = " | ".join(f"{min(x) / 1e6:.2f} to {max(x) / 1e6:.2f}" for x in (theirs, ours))
        v3, coarse = (shown(millions(mesh, kind, what, f"opensubdiv-{x}")) for x in ("v3", "default-levels"))
        print(f"| {mesh} | {kind} | {what} | {yard:.2f} | {own:.2f} | {own / yard:.2f} | {spreads} | {v3} | {coarse} |")
sys.exit(1 if failures else 0)
PYTHON
