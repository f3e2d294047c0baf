#!/usr/bin/env bash
# Times cagewise beside OpenSubdiv on the same machine in one run, and prints a table of ratios.
#
#     tests/benches/beside_opensubdiv.sh
#
# Needs (Debian 12): g++ libosd-dev python3, and cargo. Installs nothing; works in a temporary folder.
#
# Environment:
#   REPEATS        runs of each command, taken in turn; the table has their medians (default 5)
#   REFINE_BENCH   a command that is called with MESH LEVEL and prints the seconds that cagewise takes,
#                  in process, from a cage in memory to limit positions and normals in memory
#                  (default: the example refine_seconds)
#   SCRATCH        folder for meshes and results (default: a new one, removed at the end)
set -euo pipefail

repeats=${REPEATS:-5}
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)

need() { # file, package
    if [[ ! -e $1 ]]; then
        echo "missing $1: install the Debian package $2" >&2
        exit 1
    fi
}
need /usr/include/opensubdiv/far/primvarRefiner.h libosd-dev
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

yardstick=$scratch/refine_and_limit
g++ -std=c++17 -O3 -DNDEBUG -march=native -Wall -Wextra -isystem /usr/include/opensubdiv \
    "$root/tests/benches/opensubdiv/refine_and_limit.cpp" -o "$yardstick" -losdCPU
cargo build --release --quiet --bins --examples --manifest-path "$root/Cargo.toml"
built=${CARGO_TARGET_DIR:-$root/target}/release
cagewise=$built/cagewise
read -r -a refine_bench <<<"${REFINE_BENCH:-$built/examples/refine_seconds}"

# Runs a command, and prints wall-clock seconds and peak resident memory (MiB) of that process.
# Memory under about 15 MiB is the launcher's own, which a child starts from.
# Its output goes to $scratch/stdout and $scratch/stderr.
measure() {
    python3 - "$scratch" "$@" <<'PYTHON'
import os, sys, time

scratch, command = sys.argv[1], sys.argv[2:]
flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC
actions = [
    (os.POSIX_SPAWN_OPEN, 1, scratch + "/stdout", flags, 0o644),
    (os.POSIX_SPAWN_OPEN, 2, scratch + "/stderr", flags, 0o644),
]
start = time.perf_counter()
child = os.posix_spawnp(command[0], command, os.environ, file_actions=actions)
_, status, usage = os.wait4(child, 0)
seconds = time.perf_counter() - start
code = os.waitstatus_to_exitcode(status)
if code != 0:
    sys.exit(f"{' '.join(command)}: exit code {code}: " + open(scratch + "/stderr").read()[:500].strip())
print(f"{seconds:.4f} {usage.ru_maxrss / 1024:.1f}")
PYTHON
}

field() { # name: its value in the yardstick's line
    sed -n "s/.*\b$1=\([^ ]*\).*/\1/p" "$scratch/stdout"
}

vertices_in() { # OBJ file
    [[ -e $1 ]] && grep -c "^v " "$1" || true
}

failures=0
note_failure() { # what
    echo "failed: $1" >&2
    failures=$((failures + 1))
}

samples=$scratch/samples.txt # mesh, row, side, seconds, MiB
: >"$samples"
: >"$scratch/meshes.txt"

time_opensubdiv() { # mesh, level
    local took
    took=$(measure "$yardstick" "$scratch/$1.obj" "$2")
    echo "$1 refine-and-limit opensubdiv $(field refine_and_limit) ${took#* }" >>"$samples"
    rm -f "$scratch/$1.opensubdiv.obj"
    took=$(measure "$yardstick" "$scratch/$1.obj" "$2" --out "$scratch/$1.opensubdiv.obj")
    echo "$1 whole opensubdiv $took" >>"$samples"
}

time_refine_bench() { # mesh, level
    local took
    if [[ ${#refine_bench[@]} -eq 0 ]]; then return; fi
    if took=$(measure "${refine_bench[@]}" "$scratch/$1.obj" "$2"); then
        echo "$1 refine-and-limit cagewise $(tail -n 1 "$scratch/stdout") ${took#* }" >>"$samples"
    else
        note_failure "refine and limit, $1"
    fi
}

time_smooth() { # mesh, level
    local took out=$scratch/$1.smooth.obj
    rm -f "$out"
    if took=$(measure "$cagewise" smooth "$scratch/$1.obj" --level "$2" --onto-limit --out "$out") &&
        [[ $(vertices_in "$out") == $(vertices_in "$scratch/$1.opensubdiv.obj") ]]; then
        echo "$1 smooth cagewise $took" >>"$samples"
    else
        note_failure "cagewise smooth, $1 (no result, or not as many vertices as OpenSubdiv's)"
    fi
}

time_assess() { # mesh, level
    local took out=$scratch/$1.assessment
    rm -rf "$out"
    if took=$(measure "$cagewise" assess "$scratch/$1.obj" --level "$2" --out "$out") &&
        [[ -s $out/risk.csv && -s $out/preview.obj && -s $out/summary.json ]]; then
        echo "$1 assess cagewise $took" >>"$samples"
    else
        note_failure "cagewise assess, $1 (a result is missing)"
    fi
}

meshes=(torus:3 sphere:2 mixed:3)
for mesh in "${meshes[@]}"; do
    echo "${mesh%:*} to level ${mesh#*:}: $("$yardstick" --make "${mesh%:*}" "$scratch/${mesh%:*}.obj")" >>"$scratch/meshes.txt"
done
for ((run = 1; run <= repeats; ++run)); do
    for mesh in "${meshes[@]}"; do
        name=${mesh%:*} level=${mesh#*:}
        echo "run $run of $repeats: $name" >&2
        time_opensubdiv "$name" "$level"
        time_refine_bench "$name" "$level"
        time_smooth "$name" "$level"
        time_assess "$name" "$level"
    done
done

echo "Date: $(date -u +%Y-%m-%d)"
echo "Machine: $(sed -n 's/^model name[[:space:]]*: //p' /proc/cpuinfo | head -n 1), $(nproc) cores, load $(cut -d ' ' -f 1 /proc/loadavg) at the end"
echo "Built with: $(g++ --version | head -n 1), -O3 -march=native; $(rustc --version); cagewise $(git -C "$root" rev-parse --short HEAD 2>/dev/null || echo 'of no known revision')"
echo "OpenSubdiv works in single precision on one thread."
cat "$scratch/meshes.txt"
echo
python3 - "$samples" "$repeats" <<'PYTHON'
import sys
from collections import defaultdict
from statistics import median

samples = defaultdict(list)
for line in open(sys.argv[1]):
    mesh, row, side, seconds, mib = line.split()
    samples[mesh, row, side].append((float(seconds), float(mib)))

ROWS = [  # title, cagewise's row, OpenSubdiv's row
    ("refine and limit", "refine-and-limit", "refine-and-limit"),
    ("`smooth --onto-limit`, whole process", "smooth", "whole"),
    ("`assess`, whole process", "assess", "whole"),
]
print(f"Medians of {sys.argv[2]} runs; ratio = cagewise / OpenSubdiv.\n")
print("| mesh | what | OpenSubdiv s | cagewise s | ratio | spread of cagewise | OpenSubdiv MiB | cagewise MiB |")
print("|---|---|---|---|---|---|---|---|")
for mesh in dict.fromkeys(key[0] for key in samples):
    for title, ours, theirs in ROWS:
        yard = samples[mesh, theirs, "opensubdiv"]
        own = samples.get((mesh, ours, "cagewise"))
        s, m = (median(x[k] for x in yard) for k in (0, 1))
        if own:
            t, n = (median(x[k] for x in own) for k in (0, 1))
            low, high = min(own)[0], max(own)[0]
            print(f"| {mesh} | {title} | {s:.3f} | {t:.3f} | {t / s:.3f} | {low:.3f} to {high:.3f} | {m:.0f} | {n:.0f} |")
        else:
            print(f"| {mesh} | {title} | {s:.3f} | not measured | | | {m:.0f} | |")
PYTHON

if [[ $failures -gt 0 ]]; then
    echo "$failures runs of cagewise failed; see above" >&2
    exit 1
fi
